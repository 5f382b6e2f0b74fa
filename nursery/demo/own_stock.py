"""The nursery's own trees: eighty on the benches, looked over, worked on, and one of them infested."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from boarding.actions.looks import FindingInput
from boarding.actions.places import move_tree, room_left
from care.actions.looks import look_and_plan
from nursery.actions.trees import add_tree
from nursery.demo.gate import pest_of
from nursery.demo.house import House, book, weekday
from nursery.demo.work import clock, plan
from nursery.models import Bench, Tree

FIRST_NUMBER = 101
AREAS = {1: Decimal("0.06"), 2: Decimal("0.15"), 3: Decimal("0.35"), 4: Decimal("0.80")}
CLASSES = (1, 1, 2, 1, 1, 2, 1, 3, 1, 2)
CLEAN_BENCHES = ("Bench 1", "Bench 2", "Bench 3", "Bench 4")
WORKS = ("wire", "needles", "repot", "wire", "inspect")


@dataclass
class OwnTree:
    """One of the nursery's own."""

    taxon: str
    described_as: str
    size_class: int
    number: int
    tree: Tree | None = None

    @property
    def here(self) -> Tree:
        assert self.tree is not None
        return self.tree


def own_trees(house: House, number: int) -> list[OwnTree]:
    """Written down when the ledger was opened, and put on the clean benches after a first look."""
    taxa, trees = book()["taxa"], []
    for count in range(number):
        taxon = taxa[count * 5 % len(taxa)]
        named = f"{taxon['common']}, {book()['styles'][count % len(book()['styles'])]}"
        trees.append(OwnTree(taxon["name"], named, CLASSES[count % len(CLASSES)], FIRST_NUMBER + count))
    for count, tree in enumerate(trees):
        house.agenda.add(
            house.at(house.days(-389), "08:00") + dt.timedelta(minutes=4 * count),
            f"own tree {tree.number}",
            partial(_plant, house, tree, count),
        )
    return trees


def work_on(house: House, trees: list[OwnTree]) -> None:
    """Always pushed back by customers' trees: an hour here and there over the year."""
    for count in range(0, min(len(trees), 70), 2):
        own = trees[count]
        day = weekday(house.days(-350 + 5 * count))
        clock(house, own, WORKS[count % len(WORKS)], day, 20 + count % 50, earliest="14:30")


def one_infested(house: House, own: OwnTree) -> None:
    """Found a week ago, isolated the same day, scrubbed once; the next round is due tomorrow."""

    def found(at: dt.datetime) -> None:
        look_at(house, own, at, live=9)
        isolation = house.benches["Isolation 2"]
        move_tree(tree=own.here, to=isolation, at=at + dt.timedelta(minutes=10), by=house.people["Tadhg"])

    def planned(at: dt.datetime) -> None:
        plan(house, own, "Scale, by hand and soap", pest_of(house, own.taxon), at)

    house.then(house.days(-7), "06:40", f"find on own tree {own.number}", found)
    clock(house, own, "scrub", house.days(-6), 34, who="Saoirse")
    house.then(house.days(-6), "16:50", f"plan for own tree {own.number}", planned)


def found_on_the_walk(house: House, own: OwnTree) -> None:
    """Seen on this morning's walk and not yet moved: it stands in the wrong zone."""
    at = max(house.at(house.day, "00:05"), house.now - dt.timedelta(hours=3))
    house.agenda.add(at, f"walk past own tree {own.number}", lambda at: look_at(house, own, at, live=4))


def look_over_all(house: House, trees: list[OwnTree], day: dt.date) -> None:
    """A round with the lens past some of the own trees."""
    for count, own in enumerate(trees):
        house.agenda.add(
            house.at(day, "13:00") + dt.timedelta(minutes=3 * count),
            f"look at own tree {own.number}",
            partial(look_at, house, own),
        )


def _plant(house: House, own: OwnTree, count: int, at: dt.datetime) -> None:
    by = house.people["Orla"]
    own.tree = add_tree(
        described_as=own.described_as,
        size_class=own.size_class,
        owner=None,
        taxon=house.taxa[own.taxon],
        on=at.astimezone(house.zone).date(),
        at=at,
        by=by,
        code=f"DN{own.number:04d}",
        area_m2=AREAS[own.size_class],
        pot=book()["pots"][count % len(book()["pots"])],
    )
    look_at(house, own, at + dt.timedelta(minutes=1))
    move_tree(tree=own.here, to=_bench(house, own, count), at=at + dt.timedelta(minutes=2), by=by)


def _bench(house: House, own: OwnTree, count: int) -> Bench:
    """Spread over the benches, leaving most of the room to the boarders."""
    names = CLEAN_BENCHES[count % 4 :] + CLEAN_BENCHES[: count % 4]
    return next(
        house.benches[name] for name in names if room_left(house.benches[name]) >= AREAS[own.size_class]
    )


def look_at(house: House, own: OwnTree, at: dt.datetime, live: int = 0) -> None:
    """The proprietor looks at it with the lens."""
    findings = [FindingInput(live=live, organism=pest_of(house, own.taxon))] if live else []
    look_and_plan(tree=own.here, at=at, by=house.people["Orla"], twigs=20, findings=findings, ants=live > 0)
