"""A tree is ready and nobody comes: since when is it uncollected, and which notice is next?

The ladder counts in days from the day the tree was ready, or from the day of collection agreed where that is later:
a ready notice, a reminder, a notice by registered post, a final notice that names the last day. A notice sent late
moves the following ones, so that nobody gets two in a row. Units: local dates. Errors: ValueError for more notices
than the ladder has. Source: the nursery's own ladder; common practice, no source. Whether a tree may be retained or
disposed of at all, the signed terms and the law of the place decide, and a lawyer is asked first.

>>> next_notice(date(2026, 7, 1), None, [date(2026, 7, 1)])
Due(step=Step(nth=2, name='reminder', days=14, registered=False, final=False), earliest=datetime.date(2026, 7, 15))
>>> is_uncollected(date(2026, 7, 1), None, date(2026, 7, 14)), is_uncollected(date(2026, 7, 1), None, date(2026, 7, 15))
(False, True)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Step:
    """One notice of the ladder: its number, its name, its day, and what it asks besides."""

    nth: int
    name: str
    days: int
    registered: bool = False
    final: bool = False


@dataclass(frozen=True)
class Due:
    """A notice and the first day on which it may go out."""

    step: Step
    earliest: date


LADDER = (
    Step(1, "ready notice", 0),
    Step(2, "reminder", 14),
    Step(3, "notice by registered post", 28, registered=True),
    Step(4, "final notice", 90, final=True),
)
TERM_DAYS = (
    14  # to collect, unless the nursery's terms say another; no reminder goes out before they have passed
)
LAST_DAYS = 14  # at least between the final notice and the last day it names


def begins(ready_on: date, agreed_on: date | None) -> date:
    """The day from which the ladder counts."""
    return max(ready_on, agreed_on) if agreed_on else ready_on


def is_uncollected(ready_on: date, agreed_on: date | None, today: date, term_days: int = TERM_DAYS) -> bool:
    """Has the term of collection passed?"""
    return today >= begins(ready_on, agreed_on) + timedelta(days=term_days)


def next_notice(
    ready_on: date, agreed_on: date | None, sent: Sequence[date], term_days: int = TERM_DAYS
) -> Due | None:
    """The next notice after those sent on these days, in their order; None after the final one."""
    if len(sent) > len(LADDER):
        raise ValueError("The ladder has no more notices.")
    if len(sent) == len(LADDER):
        return None
    step = LADDER[len(sent)]
    if not sent:
        return Due(step, ready_on)
    pause = step.days - LADDER[len(sent) - 1].days
    by_ladder = begins(ready_on, agreed_on) + timedelta(days=max(step.days, term_days))
    return Due(step, max(by_ladder, sent[-1] + timedelta(days=pause)))


def least_last_day(sent_on: date) -> date:
    """The first day that a final notice may name as the last one."""
    return sent_on + timedelta(days=LAST_DAYS)
