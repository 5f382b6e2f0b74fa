"""The gate: trees are announced, received with everything that is asked, and handed back."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from boarding.actions.looks import FindingInput
from boarding.actions.places import move_tree, room_left
from boarding.actions.reports import add_photo, begin_report, write_report
from boarding.actions.stays import agree_isolation, announce, make_ready
from boarding.actions.visits import (
    add_to_visit,
    answer_means,
    bring_things,
    close_visit,
    name_collector,
    open_visit,
    sign_agreement,
    write_agreement,
)
from boarding.health import Standing
from boarding.models import Agreement, ConditionReport, Look, PartGrade, Stay
from boarding.overviews import occupancy_of, standing_of
from boarding.room import area_of
from boarding.states import IN_CUSTODY, StayState
from care.actions.looks import look_and_plan
from care.actions.papers import give_back
from nursery import tag_codes
from nursery.actions.trees import add_tree
from nursery.demo.drawing import Sitter, photo, signature
from nursery.demo.estimates import agree_cap
from nursery.demo.house import Guest, House, book
from nursery.models import Bench, Consent, Zone
from nursery.models.parties import MEANS

MINUTE = dt.timedelta(minutes=1)
FEW_ANGLES = ("front", "trunk")
ALL_ANGLES = ("front", "right", "back", "left", "top", "trunk", "pot", "worst")
HANDBACK_ANGLES = ("front",)
KNOWN = "Known to us"


@dataclass(frozen=True)
class Coming:
    """One visit at the gate: whose trees come, until when, and what else is agreed."""

    owner: str
    guests: tuple[Guest, ...]
    out_on: dt.date | None = None
    winter: bool = False
    forbids: tuple[str, ...] = ()
    collector: str = ""
    angles: tuple[str, ...] = FEW_ANGLES
    isolation_agreed: bool = True
    promised: tuple[Guest, ...] = ()  # whose treatment is agreed with a cap at the gate
    home: tuple[tuple[str, Any], ...] = ()


def expect(
    house: House, owner: str, guest: Guest, day: dt.date, said_on: dt.date, out_on: dt.date | None = None
) -> None:
    """A tree is announced by telephone. Its tag is written when the announcement is."""

    def said(at: dt.datetime) -> None:
        write_down(house, guest, at)
        party, by = house.parties[owner], house.people["Bríd"]
        guest.stay = announce(
            owner=party, tree=guest.here, expected_in_on=day, expected_out_on=out_on, at=at, by=by
        )

    _first_seen(house, guest, house.at(said_on, "11:10"))
    house.then(said_on, "11:10", f"announce {guest.described_as}", said)


def come(house: House, coming: Coming, day: dt.date, wall: str = "10:00", by: str = "Tadhg") -> None:
    """Trees come through the gate and are in care at the end of it."""
    for number, guest in enumerate(coming.guests):
        _first_seen(house, guest, house.at(day, wall) + number * MINUTE)
    house.then(day, wall, f"check in {coming.owner}", lambda at: receive(house, coming, at, by))


def go(house: House, guest: Guest, day: dt.date, wall: str = "15:30", **how: Any) -> None:
    """The tree is looked at for the last time, made ready, and handed back."""
    ready = house.at(day, wall) - 4 * 60 * MINUTE
    house.agenda.add(ready, f"make ready {guest.described_as}", lambda at: make_it_ready(house, guest, at))
    house.then(day, wall, f"hand back {guest.described_as}", lambda at: collect(house, guest, at, **how))


def receive(house: House, coming: Coming, at: dt.datetime, by: str) -> None:
    """One whole check-in, step by step, as at the gate."""
    person, owner = house.people[by], house.parties[coming.owner]
    visit = open_visit(at=at, by=person, customer=owner)
    for guest in coming.guests:
        write_down(house, guest, at)
        guest.stay = add_to_visit(visit=visit, tree=guest.here, at=at, by=person)
        answers = {q.value: "no" if q.value in coming.forbids else _usual(q.value) for q in MEANS}
        answer_means(stay=guest.stay, answers=answers, at=at + 2 * MINUTE, by=person)
        examine(house, guest, coming.angles, at + 5 * MINUTE, by)
        things = house.chance.sample(book()["things"], house.chance.choice((0, 0, 1, 2)))
        bring_things(stay=guest.stay, things=things)
        zone = Zone.ISOLATION if guest.found else Zone.ENTRANCE
        move_tree(tree=guest.here, to=free_bench(house, guest, zone), at=at + 12 * MINUTE, by=person)
    told = {"expected_out_on": coming.out_on, "winter_place": coming.winter, **_home(house, coming)}
    write_agreement(visit=visit, at=at + 14 * MINUTE, by=person, **told)
    for guest in coming.promised:
        agree_cap(house, guest, at + 15 * MINUTE)
    if coming.collector:
        name_collector(visit=visit, party=house.parties[coming.collector], at=at + 15 * MINUTE, by=person)
    signer = owner.contact_name or owner.name
    sign_agreement(visit=visit, signer=signer, drawing=signature(signer), at=at + 18 * MINUTE, by=person)
    close_visit(visit=visit, at=at + 20 * MINUTE, by=person)
    for guest in coming.guests:
        if guest.found and coming.isolation_agreed:
            agree_isolation(
                stay=guest.kept, on=at.astimezone(house.zone).date(), at=at + 21 * MINUTE, by=person
            )


def examine(
    house: House,
    guest: Guest,
    angles: tuple[str, ...],
    at: dt.datetime,
    by: str,
    parts: int = len(PartGrade.Part),
) -> None:
    """The condition report, the photos, and the first look with the lens."""
    person, stay = house.people[by], guest.kept
    report = begin_report(stay=stay, kind=ConditionReport.Kind.CHECK_IN, at=at, by=person)
    graded = dict(list(_grades(house, guest).items())[:parts])
    fields = {"lens": True, "height_cm": guest.height_cm or None, "moisture": "moist"}
    write_report(report=report, fields=fields, parts=graded, at=at, by=person)
    for angle in angles:
        add_photo(
            report=report,
            angle=angle,
            data=drawn_photo(guest, angle, _ailing(guest)),
            at=at + MINUTE,
            by=person,
        )
    if parts == len(PartGrade.Part):
        look(house, guest, at + 4 * MINUTE, by, live=guest.found, purpose=Look.Purpose.CHECK_IN, twigs=40)


def look(
    house: House,
    guest: Guest,
    at: dt.datetime,
    by: str,
    *,
    live: int = 0,
    dead: int = 0,
    twigs: int = 60,
    purpose: str = Look.Purpose.ROUTINE,
    note: str = "",
) -> Look:
    """A look with the lens: what was counted is of the pest this kind of tree has."""
    findings = (
        [FindingInput(live=live, dead=dead, organism=pest_of(house, guest.taxon))] if live or dead else []
    )
    person = house.people[by]
    return look_and_plan(
        tree=guest.here, at=at, by=person, twigs=twigs, findings=findings, purpose=purpose, note=note,
        honeydew=live > 20, ants=live > 40,
    )  # fmt: skip


def make_it_ready(house: House, guest: Guest, at: dt.datetime, by: str = "Saoirse") -> None:
    """The final look, the report beside that of the arrival, and the word that it may be fetched."""
    stay = guest.kept
    if stay.lifeline is StayState.READY or stay.lifeline not in IN_CUSTODY:
        return
    look(house, guest, at, by, purpose=Look.Purpose.FINAL, note="Looked over from the soil to the tips")
    _last_report(house, guest, stay, at + 6 * MINUTE, by)
    make_ready(stay=stay, at=at + 10 * MINUTE, by=house.people[by])


def collect(
    house: House,
    guest: Guest,
    at: dt.datetime,
    by: str = "Bríd",
    collector: str = "",
    certificate: bool = False,
    acknowledged: str = "",
) -> None:
    """Handed to the owner or somebody named before, by tag and photos, against a signature."""
    party = house.parties[collector or guest.owner]
    signer = party.contact_name or party.name
    give_back(
        stay=guest.kept,
        at=at,
        by=house.people["Orla" if certificate else by],
        certificate=certificate,
        collector=party,
        identity_noted=KNOWN,
        tag_typed=tag_codes.printed(guest.code),
        photos_compared=True,
        signer=signer,
        drawing=signature(signer),
        live_acknowledged=acknowledged,
    )


def move(house: House, guest: Guest, zone: str, at: dt.datetime, by: str = "Tadhg") -> None:
    """To the first bench of the zone with room; only what the table of zones allows, and only while it is here."""
    stay = guest.kept
    if stay.lifeline is StayState.IN_CARE and standing_of(guest.here) is not Standing.INFESTED:
        current = occupancy_of(guest.here)
        if current is None or current.bench.zone != zone:
            move_tree(tree=guest.here, to=free_bench(house, guest, zone), at=at, by=house.people[by])


def free_bench(house: House, guest: Guest, zone: str) -> Bench:
    """The first bench of the zone on which the tree fits."""
    area = area_of(guest.here.size_class, guest.here.area_m2)
    for bench in house.benches.values():
        if bench.zone == zone and room_left(bench) >= area:
            return bench
    raise ValueError(f"no room for {guest.described_as} in {zone}")


def pest_of(house: House, taxon: str) -> Any:
    """The scale insect this kind of tree is known for."""
    return house.pests[next(told["pest"] for told in book()["taxa"] if told["name"] == taxon)]


def _first_seen(house: House, guest: Guest, at: dt.datetime) -> None:
    """Remember when a tag is needed; tags are numbered in that order before anything is done."""
    if guest not in house.guests:
        house.guests.append(guest)
    guest.first_at = min(guest.first_at or at, at)


def write_down(house: House, guest: Guest, at: dt.datetime) -> None:
    """The tree is written down when it is first seen; later it is found by its tag."""
    if guest.tree is None:
        guest.tree = add_tree(
            described_as=guest.described_as,
            size_class=guest.size_class,
            owner=house.parties[guest.owner],
            taxon=house.taxa[guest.taxon],
            on=at.astimezone(house.zone).date(),
            at=at,
            by=house.people["Bríd"],
            code=guest.code,
            pot=guest.pot,
            style=guest.style,
            height_cm=guest.height_cm or None,
        )


def _last_report(house: House, guest: Guest, stay: Stay, at: dt.datetime, by: str) -> None:
    person = house.people[by]
    report = begin_report(stay=stay, kind=ConditionReport.Kind.HANDBACK, at=at, by=person)
    parts = {part.value: (0, "") for part in PartGrade.Part}
    write_report(report=report, fields={"lens": True}, parts=parts, at=at, by=person)
    for angle in HANDBACK_ANGLES:
        data = drawn_photo(guest, angle, 0.12 if guest.found else 0.0)
        add_photo(report=report, angle=angle, data=data, at=at + MINUTE, by=person)


def _grades(house: House, guest: Guest) -> dict[str, tuple[int | None, str]]:
    """Mostly sound; the worst where the pest sits."""
    grades: dict[str, tuple[int | None, str]] = {part.value: (0, "") for part in PartGrade.Part}
    if guest.found:
        grades["twigs"], grades["foliage"] = (
            (2, "covers in rows along the twigs"),
            (1, "sticky below the crown"),
        )
    elif house.chance.random() < 0.4:
        grades["twigs"] = (1, "two dry tips at the back")
    grades["drainage"] = (None, "wired to the pot: not lifted")
    if house.chance.random() < 0.15:
        grades["pot"] = (1, "old chip at the rim, left foot")
    return grades


def _ailing(guest: Guest) -> float:
    return min(1.0, guest.found / 30)


def drawn_photo(guest: Guest, angle: str, ailing: float) -> bytes:
    return _drawn(guest.taxon.split()[0], guest.pot, guest.size_class, guest.seed, ailing, angle)


@lru_cache(maxsize=512)
def _drawn(genus: str, pot: str, size_class: int, seed: int, ailing: float, angle: str) -> bytes:
    return photo(Sitter(genus, pot, size_class, seed, ailing), angle)


def _usual(question: str) -> str:
    return Consent.Answer.ASK if question in ("systemic", "pruning") else Consent.Answer.YES


def _home(house: House, coming: Coming) -> dict[str, Any]:
    """What is at home: asked of everybody."""
    chance = house.chance
    told = {
        "pond": chance.random() < 0.3,
        "pets": chance.random() < 0.5,
        "bees": chance.random() < 0.1,
        "fruit_eaten": any(guest.taxon.startswith(("Olea", "Citrus")) for guest in coming.guests),
        "other_plants": Agreement.OtherPlants.INSPECTED
        if chance.random() < 0.3
        else Agreement.OtherPlants.NOT_INSPECTED,
        "declared_value": Decimal(120 + 40 * chance.randint(0, 30)),
    }
    return told | dict(coming.home)
