"""Scenes that several tests begin with: a tree in care, its people and benches. Later states by the real actions."""

import datetime as dt
import io
import uuid
from dataclasses import dataclass
from typing import Any

from PIL import Image, ImageDraw

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.places import move_tree
from boarding.actions.reports import add_photo, begin_report, finish_report, write_report
from boarding.actions.stays import make_ready
from boarding.models import Look, PartGrade, Stay
from boarding.states import StayState
from care.actions.clocks import start_clock, stop_clock
from care.models import Activity
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
            tree=self.tree,
            at=when,
            by=self.grower,
            twigs=twigs,
            findings=findings,
            **more,  # type: ignore[arg-type]
        )


def in_care(code: str = "DN0412", name: str = "Olive, twisted trunk", with_photos: bool = False) -> Scene:
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
    if with_photos:
        photographed(stay, "check_in", at(3, 9, 34), grower)
    grade_all(stay, "check_in", at(3, 9, 35), grower, twigs=(1, "two snapped"))
    stay.state = StayState.IN_CARE
    stay.save(update_fields=["state"])
    move_tree(tree=tree, to=scene.entrance, at=at(3, 9, 40), by=grower)
    return scene


def grade_all(
    stay: Stay, kind: str, when: dt.datetime, by: Person, grade: int = 0, **parts: tuple[int | None, str]
) -> None:
    """A finished report with every part at one grade, save those named."""
    report = begin_report(stay=stay, kind=kind, at=when, by=by)
    graded = {part.value: (grade, "") for part in PartGrade.Part} | parts
    write_report(report=report, fields={}, parts=graded, at=when, by=by)
    finish_report(report=report, at=when, by=by)


def photographed(stay: Stay, kind: str, when: dt.datetime, by: Person, angles: str = "front trunk") -> None:
    """Drawn pictures on the report of this kind, which must not be finished yet."""
    report = begin_report(stay=stay, kind=kind, at=when, by=by)
    for number, angle in enumerate(angles.split()):
        add_photo(report=report, angle=angle, data=drawn_tree(60 + 40 * number, kind), at=when, by=by)


def drawn_tree(shade: int, kind: str) -> bytes:
    """A PNG of a drawn tree in a pot; different for every shade and kind."""
    leaves = (shade, 110 if kind == "check_in" else 140, 70)
    picture = Image.new("RGB", (480, 600), "#F3EEDF")
    pen = ImageDraw.Draw(picture)
    pen.rectangle((222, 280, 258, 480), fill="#6B4E35")
    for left, top in ((90, 140), (200, 60), (280, 160)):
        pen.ellipse((left, top, left + 150, top + 150), fill=leaves)
    pen.polygon([(150, 470), (330, 470), (305, 570), (175, 570)], fill="#A3431F")
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


@dataclass
class Worked(Scene):
    """DN-0412 through its whole June: treated, looked at twice with none alive, ready to go home on the 29th."""

    activities: dict[str, Activity]
    neighbour: Party

    def make_ready(self, when: dt.datetime) -> None:
        make_ready(stay=self.stay, at=when, by=self.grower)

    def handing(self, **changes: Any) -> dict[str, Any]:
        """Arguments of a handback that works, changed as a test wishes."""
        usual = {
            "stay": self.stay,
            "collector": self.owner,
            "identity_noted": "Known to us",
            "tag_typed": "dn-0412-p",
            "photos_compared": True,
            "signer": "Nuala Brackenridge",
            "drawing": drawn_tree(10, "signature"),
            "at": at(29, 15),
            "by": self.proprietor,
        }
        return usual | changes


def activities() -> dict[str, Activity]:
    """The kinds of work of the story."""
    rows = [
        ("scrub", "Scrubbing", "scrub", True, "brush"),
        ("jet", "Jetting", "scrub", True, "jet"),
        ("inspect", "Inspection", "scrub", False, ""),
        ("move", "Moving", "", False, ""),
    ]
    return {
        code: Activity.objects.create(
            code=code,
            name=name,
            rate_group=group,
            chargeable=bool(group),
            is_treatment=treatment,
            means=means,
        )
        for code, name, group, treatment, means in rows
    }


def worked(ready: bool = True) -> Worked:
    """The month of DN-0412: found on 3 June, scrubbed on 4, 11 and 18 June, none alive on 18 and 26 June."""
    scene = in_care(with_photos=True)
    story = Worked(**vars(scene), activities=activities(), neighbour=PartyFactory(name="Fergal Toomey"))
    story.look(at(3, 10), live=14, dead=2)
    move_tree(tree=story.tree, to=story.isolation, at=at(3, 10, 30), by=story.grower)
    do_work(story, "scrub", 4, 97)
    do_work(story, "jet", 4, 12, hour=11)
    do_work(story, "scrub", 11, 63)
    do_work(story, "jet", 11, 8, hour=11)
    do_work(story, "scrub", 18, 28)
    story.look(at(18, 8, 20), dead=9)
    move_tree(tree=story.tree, to=story.observation, at=at(24, 9), by=story.grower)
    story.look(at(26, 9), dead=4, purpose="final")
    do_work(story, "inspect", 26, 16, hour=9)
    story.stay.refresh_from_db()
    return made_ready(story) if ready else story


def made_ready(story: Worked) -> Worked:
    """With the handback's report and photos, and ready for collection on 26 June."""
    write_handback_report(story)
    make_ready(stay=story.stay, at=at(26, 16), by=story.grower)
    story.stay.refresh_from_db()
    return story


def at_work() -> Worked:
    """The same month before anything was made ready."""
    return worked(ready=False)


def write_handback_report(story: Worked, wire: str = "") -> None:
    """The tree graded and photographed for the handback: twigs are one grade better than at arrival."""
    photographed(story.stay, "handback", at(26, 15), story.grower)
    report = begin_report(stay=story.stay, kind="handback", at=at(26, 15), by=story.grower)
    parts = {part.value: (0, "") for part in PartGrade.Part}
    write_report(
        report=report, fields={"height_cm": 64, "wire": wire}, parts=parts, at=at(26, 15), by=story.grower
    )


def do_work(story: Worked, code: str, day: int, minutes: int, hour: int = 8) -> None:
    begun = at(day, hour)
    clock = start_clock(
        person=story.grower,
        tree=story.tree,
        activity=story.activities[code],
        at=begun,
        client_id=uuid.uuid4(),
    )
    stop_clock(entry=clock, at=begun + dt.timedelta(minutes=minutes), by=story.grower)
