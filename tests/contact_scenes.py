"""The find of 20 June: an olive on a clean bench, who stood with it, who moved on, who came later."""

import datetime as dt
from dataclasses import dataclass

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.places import leave_place, move_tree
from boarding.models import Look, Stay
from care.actions.contacts import fix_list, open_case
from care.models import ContactCase, ContactTree
from nursery.models import Bench, Organism, Person, Tree
from tests.factories import (
    BenchFactory,
    NurseryFactory,
    OrganismFactory,
    OwnershipFactory,
    PartyFactory,
    PersonFactory,
    TagFactory,
    TreeFactory,
)
from tests.factories_care import clocked, scrub
from tests.scenes import at

FOUND = at(20, 9)


@dataclass
class Outbreak:
    """S is the source. With it on bench 1: A (collected on the 12th), B (moved to bench 5 on the 8th), C, and own O.

    Y stood on bench 5 with B; D came on the 21st; E stood elsewhere and was scrubbed right after S.
    """

    grower: Person
    office: Person
    proprietor: Person
    bench: Bench
    bench5: Bench
    isolation: Bench
    scale: Organism
    trees: dict[str, Tree]
    stays: dict[str, Stay]

    def look(self, name: str, when: dt.datetime, live: int = 0, **more: object) -> Look:
        """A look written down by boarding alone."""
        found = [FindingInput(organism=self.scale, live=live)] if live else []
        return record_look(
            tree=self.trees[name],
            at=when,
            by=self.grower,
            twigs=30,
            findings=found,
            **more,  # type: ignore[arg-type]
        )

    def opened(self) -> ContactCase:
        return open_case(tree=self.trees["S"], at=FOUND + dt.timedelta(minutes=5), by=self.grower)

    def fixed(self) -> ContactCase:
        return fix_list(case=self.opened(), at=FOUND + dt.timedelta(minutes=10), by=self.grower)

    def row(self, name: str) -> ContactTree:
        return ContactTree.objects.select_related("case", "tree").get(tree=self.trees[name])

    def gone(self, name: str, when: dt.datetime) -> None:
        """Collected, in the shortest way."""
        Stay.objects.filter(tree=self.trees[name]).update(state="handed_back", left_at=when)
        leave_place(tree=self.trees[name], at=when, by=self.grower)


def in_care(name: str, bench: Bench, when: dt.datetime, by: Person) -> tuple[Tree, Stay]:
    """A customer's tree in care, clean, on the bench."""
    owner = PartyFactory(name=f"Customer of {name}")
    tree = TreeFactory(described_as=f"Tree {name}", owner=None, tag=None)
    OwnershipFactory(tree=tree, party=owner)
    TagFactory(code=f"DN{4000 + ord(name):04d}", tree=tree)
    stay = Stay.objects.create(
        tree=tree, owner=owner, payer=owner, state="in_care", size_class=2, received_at=when
    )
    record_look(tree=tree, at=when, by=by, twigs=30)
    move_tree(tree=tree, to=bench, at=when, by=by)
    return tree, stay


def own_tree(bench: Bench, when: dt.datetime, by: Person) -> Tree:
    tree = TreeFactory(described_as="Tree O", owner__party=None)
    record_look(tree=tree, at=when, by=by, twigs=30)
    move_tree(tree=tree, to=bench, at=when, by=by)
    return tree


def outbreak() -> Outbreak:
    """Everything until the find, the case not opened."""
    NurseryFactory(phone="0404 555 01")
    grower, bench = PersonFactory(first_name="Aoife"), BenchFactory(name="Bench 1", zone="clean")
    bench5, far = BenchFactory(name="Bench 5", zone="clean"), BenchFactory(name="Bench 9", zone="clean")
    kept = {name: in_care(name, bench, at(3), grower) for name in "SABC"}
    kept |= {"Y": in_care("Y", bench5, at(3), grower), "E": in_care("E", far, at(3), grower)}
    trees = {name: tree for name, (tree, _) in kept.items()} | {"O": own_tree(bench, at(3), grower)}
    found = Outbreak(
        grower=grower,
        office=PersonFactory(office=True),
        proprietor=PersonFactory(proprietor=True),
        bench=bench,
        bench5=bench5,
        isolation=BenchFactory(name="Isolation 1", zone="isolation"),
        scale=OrganismFactory(common_name="Oystershell scale"),
        trees=trees,
        stays={name: stay for name, (_, stay) in kept.items()},
    )
    found.look("S", at(6))
    move_tree(tree=trees["B"], to=bench5, at=at(8), by=grower)
    found.gone("A", at(12))
    clocked(grower, trees["S"], scrub(), at(15, 8), 30)
    clocked(grower, trees["E"], scrub(), at(15, 9), 30)
    found.look("S", FOUND, live=5)
    trees["D"], found.stays["D"] = in_care("D", bench, at(21), grower)
    return found
