"""The work of the days to come: what is due, how long it is expected to take, and the time there is."""

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from boarding.states import StayState
from care import querysets
from care.learned import Basis
from care.models import Activity, DueItem
from care.overviews.hours import minutes_there
from care.overviews.own_jobs import OwnJobs, own_jobs
from care.workload import DayLoad, DueWork, day_loads
from nursery import clock
from nursery.models import Nursery

DAY = dt.timedelta(days=1)
OWN, TABLE, SETTING = "by our own jobs", "by the starting table", "by the house rule"


@dataclass(frozen=True)
class Workload:
    """Day by day; on what the minutes rest, how many things are due for trees that are away, and the house rule."""

    days: tuple[DayLoad, ...]
    rests_on: tuple[tuple[str, int], ...]
    away: int
    rule_min: int

    @property
    def has_hours(self) -> bool:
        """Whether anybody's hours are written down for these days."""
        return any(day.there_min for day in self.days)

    @property
    def longest_min(self) -> int:
        """The scale of the lines."""
        return max(1, *(max(day.due_min, day.there_min) for day in self.days))

    @property
    def short(self) -> tuple[DayLoad, ...]:
        return tuple(day for day in self.days if day.is_short)


def workload(now: dt.datetime, count: int) -> Workload:
    """Today and the days after it, `count` in all; a fixed number of queries however much is due."""
    today = clock.day_of(now)
    days = [today + number * DAY for number in range(count)]
    due = list(querysets.due_by(days[-1]).select_related("stay"))
    here = [item for item in due if not _is_away(item)]
    look = Activity.objects.filter(is_look=True, retired_on=None).values_list("pk", flat=True).first()
    kinds = {kind for item in here if (kind := _kind(item, look)) is not None}
    own = own_jobs(now, trees={item.tree_id for item in here}, activities=kinds)
    rule = Nursery.here().due_item_minutes
    expected = [(item, *minutes_of(item, own, look, rule)) for item in here]
    counted = Counter(basis for _, _, basis in expected)
    return Workload(
        days=tuple(
            day_loads(
                days, [DueWork(item.due_on, minutes) for item, minutes, _ in expected], minutes_there(days)
            )
        ),
        rests_on=tuple((basis, counted[basis]) for basis in (OWN, TABLE, SETTING) if counted[basis]),
        away=len(due) - len(here),
        rule_min=rule,
    )


def minutes_of(item: DueItem, own: OwnJobs, look: int | None, rule: int) -> tuple[int, str]:
    """How long a due item is expected to take, and on what that rests. The round is that of our own count."""
    kind = _kind(item, look)
    if kind is None:
        return rule, SETTING
    figure = own.figure(kind, own.asked(item.tree_id, kind))
    if figure is None:
        return rule, SETTING
    return figure.usual, TABLE if figure.basis is Basis.TABLE else OWN


def _is_away(item: DueItem) -> bool:
    return item.stay is not None and item.stay.state == StayState.AWAY


def _kind(item: DueItem, look: int | None) -> int | None:
    """The kind of work that does it."""
    return look if item.kind == DueItem.Kind.LOOK else item.activity_id
