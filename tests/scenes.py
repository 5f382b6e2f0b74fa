"""Scenes that several tests begin with: a tree in care, with its people and benches. Later states by the real actions."""

import datetime as dt
from dataclasses import dataclass

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.places import move_tree
from boarding.actions.reports import begin_report, finish_report, write_report
from boarding.models import Look, PartGrade, Stay
from boarding.states import StayState
from nursery.models import Bench, Organism, Party, Person, Tree
from tests.factories import (
    BareTreeFactory,
    BenchFactory,
    NurseryFactory,
    OrganismFactory,
    OwnershipFactory,
    PartyFactory,
    PersonFactory,
    TagFactory,
)


def at(day: int, hour: int = 9, minute: int = 0, month: int = 6) -> dt.datetime:
    """An instant of the summer of 2026; the nursery's clock shows one hour more."""
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC)


@dataclass
class Scene:
    """A tree in care since 3 June 2026 and whoever is around it."""

    owner: Party
    tree: Tree
    stay: Stay
    grower: Person
    proprietor: Person
    entrance: Bench
    isolation: Bench
    observation: Bench
    scale: Organism

    def look(self, when: dt.datetime, live: int = 0, dead: int = 0, twigs: int = 60, **more: object) -> Look:
        """A look at the tree that counted so much of the scale insect."""
        findings = [FindingInput(organism=self.scale, live=live, dead=dead)] if live or dead else []
        return record_look(
            tree=self.tree, at=when, by=self.grower, twigs=twigs, findings=findings, **more  # type: ignore[arg-type]
        )


def in_care(code: str = "DN0412", name: str = "Olive, twisted trunk") -> Scene:
    """DN-0412 in care since 3 June 2026, 10:30 at the nursery, standing at the entrance, its arrival graded."""
    NurseryFactory()
    owner = PartyFactory(name="Nuala Brackenridge")
    tree = BareTreeFactory(described_as=name)
    OwnershipFactory(tree=tree, party=owner)
    TagFactory(code=code, tree=tree)
    grower, proprietor = PersonFactory(first_name="Aoife"), PersonFactory(first_name="Maeve", proprietor=True)
    stay = Stay.objects.create(
        tree=tree,
        owner=owner,
        payer=owner,
        state=StayState.BEING_RECEIVED,
        size_class=2,
        received_at=at(3, 9, 30),
    )
    scene = Scene(
        owner=owner,
        tree=tree,
        stay=stay,
        grower=grower,
        proprietor=proprietor,
        entrance=BenchFactory(zone="entrance"),
        isolation=BenchFactory(zone="isolation"),
        observation=BenchFactory(zone="observation"),
        scale=OrganismFactory(common_name="Oystershell scale"),
    )
    grade_all(stay, "check_in", at(3, 9, 35), grower)
    stay.state = StayState.IN_CARE
    stay.save(update_fields=["state"])
    move_tree(tree=tree, to=scene.entrance, at=at(3, 9, 40), by=grower)
    return scene


def grade_all(stay: Stay, kind: str, when: dt.datetime, by: Person, grade: int = 0, **parts: tuple[int | None, str]) -> None:
    """A finished report with every part at one grade, save those named."""
    report = begin_report(stay=stay, kind=kind, at=when, by=by)
    graded = {part.value: (grade, "") for part in PartGrade.Part} | parts
    write_report(report=report, fields={}, parts=graded, at=when, by=by)
    finish_report(report=report, at=when, by=by)
