"""How much time there is for work on trees: of one person, and of all on each of some days."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.db.models import Sum

from care.models import OtherHours, UsualHours
from nursery import querysets, words
from nursery.models import Person

DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class OtherSpan:
    """Days one after another on which a person works otherwise than usual, for one reason."""

    first: dt.date
    last: dt.date
    minutes: int
    why: str

    @property
    def days_words(self) -> str:
        """'Fri 3 July 2026', 'Fri 3 July to Sun 5 July 2026'."""
        if self.first == self.last:
            return words.day(self.first)
        begins = words.short_day(self.first) if self.first.year == self.last.year else words.day(self.first)
        return f"{begins} to {words.day(self.last)}"


@dataclass(frozen=True)
class PersonHours:
    """A person at work with their usual minutes of a week."""

    person: Person
    week_min: int


def usual_of(person: Person) -> dict[int, int]:
    """Minutes by weekday."""
    return dict(UsualHours.objects.filter(person=person).values_list("weekday", "minutes"))


def other_of(person: Person, day: dt.date) -> list[OtherSpan]:
    """What is otherwise than usual from the day on."""
    spans: list[OtherSpan] = []
    for row in OtherHours.objects.filter(person=person, day__gte=day).order_by("day"):
        before = spans[-1] if spans else None
        if before and (before.last + DAY, before.minutes, before.why) == (row.day, row.minutes, row.why):
            spans[-1] = replace(before, last=row.day)
        else:
            spans.append(OtherSpan(row.day, row.day, row.minutes, row.why))
    return spans


def everybodys_hours() -> list[PersonHours]:
    """Everybody at work with the minutes of a usual week; one query."""
    people = querysets.people_at_work().annotate(week_min=Sum("usual_hours__minutes", default=0))
    return [PersonHours(person, person.week_min) for person in people]


def minutes_there(days: Sequence[dt.date]) -> dict[dt.date, int]:
    """The minutes that all people at work have on each of the days; two queries."""
    usual: dict[int, dict[int, int]] = defaultdict(dict)
    at_work = {"person__is_active": True}
    for person, weekday, minutes in UsualHours.objects.filter(**at_work).values_list(
        "person", "weekday", "minutes"
    ):
        usual[weekday][person] = minutes
    other: dict[dt.date, dict[int, int]] = defaultdict(dict)
    of_days = OtherHours.objects.filter(day__range=(days[0], days[-1]), **at_work)
    for person, day, minutes in of_days.values_list("person", "day", "minutes"):
        other[day][person] = minutes
    return {day: _sum({**usual[day.weekday()], **other[day]}.values()) for day in days}


def _sum(minutes: Iterable[int]) -> int:
    return sum(minutes)
