"""Work on trees: clocks that start and stop, treatments in rounds with their looks, craft work with its material."""

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from boarding.states import StayState
from care.actions.clocks import start_clock, stop_clock
from care.actions.due import end_retreatment, set_retreatment
from care.actions.entries import not_charge
from care.actions.materials import use_material
from care.actions.plans import agree, draw_up
from care.models import Programme, Retreatment, TimeEntry
from nursery.demo.gate import look, move, pest_of
from nursery.demo.house import Guest, House, weekday
from nursery.models import Organism, Tree, Zone

NAMESPACE = uuid.UUID("6d3f2c1e-0412-4b7e-9a51-d2f0412d0413")
WATCHED = "None seen alive: watched now"


class Here(Protocol):
    """A customer's tree or one of the nursery's own, once it is written down."""

    @property
    def here(self) -> Tree: ...


After = Callable[[TimeEntry, dt.datetime], object]


@dataclass(frozen=True)
class Round:
    """One round of a treatment: so many days after arrival, minutes of scrubbing and jetting, and what the look saw."""

    day: int
    scrub: int
    jet: int = 0
    live: int = 0
    dead: int = 0
    looked: bool = False
    who: str = ""
    not_charged: int = 0


def clock(
    house: House,
    on: Here,
    activity: str,
    day: dt.date,
    minutes: int,
    who: str = "",
    earliest: str = "07:40",
    after: After | None = None,
) -> dt.datetime:
    """A grower's clock on a tree; returns when it stops. `after` follows with the entry."""
    name, starts = house.slot(day, minutes, who, earliest)
    stops = starts + dt.timedelta(minutes=minutes)
    key = uuid.uuid5(NAMESPACE, f"{name} {starts.isoformat()}")
    entries: list[TimeEntry] = []

    def start(at: dt.datetime) -> None:
        person, kind = house.people[name], house.activities[activity]
        source = TimeEntry.Source.SCANNED if house.chance.random() < 0.5 else TimeEntry.Source.TOUCHED
        entries.append(
            start_clock(person=person, tree=on.here, activity=kind, at=at, client_id=key, source=source)
        )

    def stop(at: dt.datetime) -> None:
        entry = stop_clock(entry=entries[0], at=at, by=house.people[name])
        if after:
            after(entry, at)

    house.agenda.add(starts, f"start {activity}", start)
    house.agenda.add(stops, f"stop {activity}", stop)
    return stops


def treat(
    house: House,
    guest: Guest,
    came_on: dt.date,
    rounds: tuple[Round, ...],
    every: int = 7,
    programme: str = "",
) -> None:
    """Scrubbed and jetted round by round; with the first begins a plan, or the rule "again after so many days"."""
    for number, one in enumerate(rounds):
        day, first = came_on + dt.timedelta(days=one.day), number == 0
        _round(house, guest, day, one, every if first else 0, programme if first else "")


def plan(house: House, on: Here, programme: str, pest: Organism, at: dt.datetime) -> None:
    """A plan from a programme, agreed and begun."""
    made, by = Programme.objects.get(name=programme), house.people["Orla"]
    tells = isinstance(on, Guest)
    drawn = draw_up(tree=on.here, programme=made, organism=pest, tells_customer=tells, at=at, by=by)
    agree(plan=drawn, at=at, by=by)


def _round(house: House, guest: Guest, day: dt.date, one: Round, every: int, programme: str) -> None:
    name, _ = house.slot(day, 0, one.who)

    def after_scrub(entry: TimeEntry, at: dt.datetime) -> None:
        office = house.people["Bríd"]
        if one.not_charged:
            why = "Instruction of a new grower"
            not_charge(entry=entry, minutes=one.not_charged, why=why, at=at, by=office)
        if programme:
            plan(house, guest, programme, pest_of(house, guest.taxon), at)
        elif every:
            scrub = house.activities["scrub"]
            set_retreatment(tree=guest.here, activity=scrub, days=every, at=at, by=house.people["Orla"])
        if one.looked:
            see(house, guest, at, name, live=one.live, dead=one.dead)

    clock(house, guest, "scrub", day, one.scrub, who=name, after=after_scrub)
    if one.jet:
        clock(house, guest, "jet", day, one.jet, who=name)


def inspect(
    house: House,
    guest: Guest,
    day: dt.date,
    minutes: int,
    who: str = "",
    dead: int = 0,
    after: After | None = None,
) -> None:
    """A look by the clock, at sixty twigs."""

    def seen(entry: TimeEntry, at: dt.datetime) -> None:
        see(house, guest, at, entry.person.first_name, dead=dead)
        if after:
            after(entry, at)

    clock(house, guest, "inspect", day, minutes, who=who, after=seen)


def see(house: House, guest: Guest, at: dt.datetime, who: str, live: int = 0, dead: int = 0) -> None:
    """What the look counted; once none is alive, the scrubbing ends and the tree is watched."""
    note = "Dry covers lifted with a pin: empty" if dead and not live else ""
    look(house, guest, at, who, live=live, dead=dead, note=note)
    if not live:
        for rule in Retreatment.objects.filter(tree=guest.here, ended_at=None):
            end_retreatment(rule=rule, why=WATCHED, at=at, by=house.people["Orla"])


def watch(house: House, guest: Guest, day: dt.date) -> None:
    """Out of isolation, to the observation bench."""
    house.then(
        day, "16:10", f"watch {guest.described_as}", lambda at: move(house, guest, Zone.OBSERVATION, at)
    )


def settle(house: House, guest: Guest, day: dt.date, zone: str = Zone.CLEAN) -> None:
    """Out of entrance quarantine or observation, to the benches."""
    house.then(day, "16:20", f"settle {guest.described_as}", lambda at: move(house, guest, zone, at))


def craft(house: House, guest: Guest, day: dt.date, activity: str, minutes: int, who: str = "") -> None:
    """Craft work, with what it uses up."""

    def used(entry: TimeEntry, at: dt.datetime) -> None:
        if activity == "wire":
            use(house, guest, "Annealed wire", Decimal(minutes // 15 * 10), at)
        if activity == "repot":
            use(house, guest, "Potting mix, mineral", Decimal(2 * guest.size_class), at)

    if day <= house.day:
        done_on = day if day == house.day else weekday(day)
        clock(house, guest, activity, done_on, minutes, who=who, after=used)


def use(house: House, guest: Guest, material: str, quantity: Decimal, at: dt.datetime) -> None:
    """Material used on the tree that day."""
    use_material(
        tree=guest.here,
        material=house.materials[material],
        quantity=quantity,
        on=at.astimezone(house.zone).date(),
        at=at,
        by=house.people["Saoirse"],
    )


def look_over(house: House, guest: Guest, day: dt.date, who: str = "Piotr") -> None:
    """A short look now and then at a tree that boards for long."""

    def looked(at: dt.datetime) -> None:
        if guest.kept.lifeline is StayState.IN_CARE:
            look(house, guest, at, who, twigs=30)

    house.then(day, "12:20", f"look over {guest.described_as}", looked)
