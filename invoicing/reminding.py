"""Which level of payment reminder is due for an unpaid bill?

Levels go up one at a time, each so many days after the day the bill was due; a level that went out late moves the next
one on, so that the days between two levels are never fewer than agreed. Errors: none. Source: common practice, the days
are settings of the house. Example with 7, 21 and 35 days, bill due on 14 July:

>>> days, due = (7, 21, 35), dt.date(2026, 7, 14)
>>> level_due(due, None, dt.date(2026, 7, 21), days), level_due(due, None, dt.date(2026, 7, 20), days)
(1, None)
>>> level_due(due, Sent(1, dt.date(2026, 7, 30)), dt.date(2026, 8, 12), days)
>>> level_due(due, Sent(1, dt.date(2026, 7, 30)), dt.date(2026, 8, 13), days)
2
"""

import datetime as dt
from dataclasses import dataclass

LEVELS = (1, 2, 3)
Days = tuple[int, int, int]


@dataclass(frozen=True)
class Sent:
    """The last reminder of a bill."""

    level: int
    on: dt.date


def level_due(due_on: dt.date, last: Sent | None, day: dt.date, days: Days) -> int | None:
    """The level that may go out on the day; None when none may, or all went out."""
    level = last.level + 1 if last else 1
    if level not in LEVELS or day < from_day(due_on, last, days):
        return None
    return level


def from_day(due_on: dt.date, last: Sent | None, days: Days) -> dt.date:
    """The first day on which the next level may go out; asked while there is one.

    >>> from_day(dt.date(2026, 7, 14), Sent(2, dt.date(2026, 8, 4)), (7, 21, 35))
    datetime.date(2026, 8, 18)
    """
    if last is None:
        return due_on + dt.timedelta(days=days[0])
    between = days[last.level] - days[last.level - 1]
    after_due = due_on + dt.timedelta(days=days[last.level])
    return max(after_due, last.on + dt.timedelta(days=between))
