"""The house of the demo: its clock, its agenda, and everybody and everything in it by name."""

import datetime as dt
import json
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from boarding.models import Stay
from care.models import Activity, Material
from nursery.demo.agenda import Agenda, Deed
from nursery.models import Bench, Organism, Party, Person, Taxon, Tree

FIXTURE = Path(settings.BASE_DIR) / "fixtures" / "demo" / "nursery.json"
MORNING, EVENING = dt.time(7, 40), dt.time(16, 30)
BETWEEN = dt.timedelta(minutes=6)
GROWERS = ("Tadhg", "Saoirse", "Piotr")


@dataclass
class Guest:
    """A customer's tree, from before it is written down until now. `code` is its tag without check character."""

    owner: str
    taxon: str
    described_as: str
    size_class: int
    pot: str = "oval, unglazed brown"
    style: str = ""
    height_cm: int = 0
    found: int = 0  # live individuals at check-in
    code: str = ""
    first_at: dt.datetime | None = None
    tree: Tree | None = None
    stay: Stay | None = None

    @property
    def here(self) -> Tree:
        assert self.tree is not None, f"{self.described_as} is not written down yet"
        return self.tree

    @property
    def kept(self) -> Stay:
        """Its present or last stay, as the database has it."""
        assert self.stay is not None, f"{self.described_as} was never received"
        self.stay.refresh_from_db()
        return self.stay

    @property
    def seed(self) -> int:
        return sum(map(ord, self.owner + self.described_as))


@dataclass
class House:
    """Days are the nursery's, instants UTC. The dictionaries fill up while the agenda is done."""

    day: dt.date
    now: dt.datetime
    zone: ZoneInfo
    agenda: Agenda
    chance: Random
    people: dict[str, Person] = field(default_factory=dict)
    benches: dict[str, Bench] = field(default_factory=dict)
    parties: dict[str, Party] = field(default_factory=dict)
    taxa: dict[str, Taxon] = field(default_factory=dict)
    pests: dict[str, Organism] = field(default_factory=dict)
    activities: dict[str, Activity] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    guests: list[Guest] = field(default_factory=list)
    busy_until: dict[tuple[str, dt.date], dt.datetime] = field(default_factory=dict)
    billed_on: dict[str, set[dt.date]] = field(default_factory=lambda: defaultdict(set))

    @classmethod
    def on(cls, day: dt.date, now: dt.datetime) -> "House":
        """An empty house whose agenda ends now."""
        zone = ZoneInfo(book()["nursery"]["time_zone"])
        return cls(day=day, now=now, zone=zone, agenda=Agenda(now), chance=Random(412))

    def days(self, offset: int) -> dt.date:
        """So many days from the day of the demo; before it when negative."""
        return self.day + dt.timedelta(days=offset)

    def at(self, day: dt.date, wall: str) -> dt.datetime:
        """The instant at which the clock on the nursery's wall showed "09:30" that day."""
        return dt.datetime.combine(day, dt.time.fromisoformat(wall), self.zone).astimezone(dt.UTC)

    def then(self, day: dt.date, wall: str, what: str, deed: Deed) -> None:
        """Put it on the agenda."""
        self.agenda.add(self.at(day, wall), what, deed)

    def slot(
        self, day: dt.date, minutes: int, who: str = "", earliest: str = "07:40"
    ) -> tuple[str, dt.datetime]:
        """Who is free that day for so long, and from when; clocks of one person never overlap."""
        opening, closing = self.at(day, earliest), self.at(day, EVENING.isoformat())
        length = dt.timedelta(minutes=minutes)
        free = [
            (max(self.busy_until.get((name, day), opening), opening), name)
            for name in ((who,) if who else self._growers_on(day))
        ]
        start, name = min(free)
        if start + length > closing and not who:
            raise ValueError(f"nobody is free on {day} for {minutes} minutes")
        self.busy_until[name, day] = start + length + BETWEEN
        return name, start

    def _growers_on(self, day: dt.date) -> tuple[str, ...]:
        """On the last day one has forgotten a clock and one has hers running: the third works alone."""
        return GROWERS[:1] if day == self.day else GROWERS


def weekday(day: dt.date) -> dt.date:
    """The day itself, or the Monday after a Sunday: the gate is shut on Sundays."""
    return day + dt.timedelta(days=1) if day.weekday() == 6 else day


def book() -> dict[str, Any]:
    """Names and numbers of the invented nursery."""
    return json.loads(FIXTURE.read_text(encoding="utf-8"))
