"""Workload: is there time on each of the coming days for what is due?

Due are the minutes expected of everything due that day, what is overdue on the first day; there is the time that the
people at work have for trees. Units: whole minutes. Errors: ValueError for a negative length. Source: addition; that
late work is to be done first of all is common practice, no source.

>>> from datetime import date
>>> day = DayLoad(date(2026, 6, 26), items=3, overdue=1, due_min=130, there_min=120)
>>> day.words, day.is_short
('10 min more is due than there is time for; 1 overdue', True)
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from nursery.units import format_minutes


@dataclass(frozen=True)
class DueWork:
    """Something due and the minutes it is expected to take."""

    due_on: dt.date
    minutes: int


@dataclass(frozen=True)
class DayLoad:
    """One day: how many things are due, how many of them are overdue, the minutes of all, and the minutes there are."""

    day: dt.date
    items: int
    overdue: int
    due_min: int
    there_min: int

    def __post_init__(self) -> None:
        if min(self.due_min, self.there_min) < 0:
            raise ValueError("A length of time cannot be negative.")

    @property
    def is_short(self) -> bool:
        """More is due than there is time for."""
        return self.due_min > self.there_min

    @property
    def words(self) -> str:
        """What the two figures mean, and what of it is overdue."""
        overdue = f"{self.overdue} overdue" if self.overdue else ""
        return "; ".join(part for part in (self._meaning(), overdue) if part)

    def _meaning(self) -> str:
        if not self.there_min:
            return "nobody has time for trees" if self.due_min else ""
        if self.is_short:
            return f"{format_minutes(self.due_min - self.there_min)} more is due than there is time for"
        if self.due_min == self.there_min:
            return "just enough"
        return f"{format_minutes(self.there_min - self.due_min)} left"


def day_loads(days: Sequence[dt.date], due: Iterable[DueWork], there: Mapping[dt.date, int]) -> list[DayLoad]:
    """The load of each of the days, which follow each other; what was due before the first stands on it.

    >>> from datetime import date
    >>> days = [date(2026, 6, 26), date(2026, 6, 27)]
    >>> due = [DueWork(date(2026, 6, 23), 40), DueWork(date(2026, 6, 27), 25)]
    >>> [(one.items, one.due_min, one.words) for one in day_loads(days, due, {days[0]: 60})]
    [(1, 40, '20 min left; 1 overdue'), (1, 25, 'nobody has time for trees')]
    """
    of_day: dict[dt.date, list[DueWork]] = {day: [] for day in days}
    for one in due:
        day = max(one.due_on, days[0])
        if day in of_day:
            of_day[day].append(one)
    return [
        DayLoad(
            day=day,
            items=len(found),
            overdue=sum(one.due_on < day for one in found),
            due_min=sum(one.minutes for one in found),
            there_min=there.get(day, 0),
        )
        for day, found in of_day.items()
    ]
