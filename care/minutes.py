"""Working time: how many minutes are charged for the seconds that were measured?

Units: whole seconds in, whole minutes out. The seconds of one tree, activity, rate, payer and local day are
added up first and rounded once, to the nearest step, half a step upwards, at least the least time; nothing
measured is nothing charged. Errors: ValueError for a negative length or an end before its start. Source:
the nursery's own rule, stated on its rate card (nearest five minutes, at least five).

>>> charged(97 * 60), charged(3 * 7 * 60), charged(2 * 60), charged(0)
(95, 20, 5, 0)
"""

from collections.abc import Hashable, Iterable
from datetime import datetime
from typing import TypeVar

from nursery.periods import elapsed_seconds, utc

Group = TypeVar("Group", bound=Hashable)


def charged(seconds: int, step_min: int = 5, least_min: int = 5) -> int:
    """Minutes charged for the measured seconds of one group.

    >>> charged(12 * 60 + 30), charged(12 * 60 + 29)
    (15, 10)
    """
    if seconds < 0:
        raise ValueError("A length of time cannot be negative.")
    if step_min <= 0:
        raise ValueError("The step must be at least one minute.")
    if seconds == 0:
        return 0
    steps = (seconds + step_min * 30) // (step_min * 60)
    return max(steps * step_min, least_min)


def most_free(seconds: int) -> int:
    """The most minutes of one piece of work that may be left uncharged: its whole minutes, begun ones counted, or what
    it is charged as when that is more.

    >>> most_free(97 * 60), most_free(2 * 60), most_free(7 * 60 + 30)
    (97, 5, 10)
    """
    return max(-(-seconds // 60), charged(seconds))


def worked_seconds(start: datetime, end: datetime, pauses: Iterable[tuple[datetime, datetime]] = ()) -> int:
    """Seconds between two instants without the pauses.

    Pauses may overlap each other and reach beyond the work: only what lies within it is taken out, and once.

    >>> from datetime import UTC
    >>> at = lambda hour, minute: datetime(2026, 6, 4, hour, minute, tzinfo=UTC)
    >>> worked_seconds(at(7, 30), at(9, 20), [(at(8, 10), at(8, 22)), (at(8, 20), at(8, 23))]) // 60
    97
    """
    start, end = utc(start), utc(end)
    if end < start:
        raise ValueError("The work cannot end before it starts.")
    worked, resumed = 0, start
    for paused, ended in sorted((utc(first), utc(last)) for first, last in pauses):
        if ended < paused:
            raise ValueError("A pause cannot end before it starts.")
        worked += max(0, elapsed_seconds(resumed, min(paused, end)))
        resumed = max(resumed, ended)
    return worked + max(0, elapsed_seconds(resumed, end))


def seconds_by_group(entries: Iterable[tuple[Group, int]]) -> dict[Group, int]:
    """The measured seconds of each group added up, groups in the order in which they first appear.

    >>> seconds_by_group([("scrub", 420), ("jet", 300), ("scrub", 840)])
    {'scrub': 1260, 'jet': 300}
    """
    sums: dict[Group, int] = {}
    for group, seconds in entries:
        sums[group] = sums.get(group, 0) + seconds
    return sums


def charged_by_group(
    entries: Iterable[tuple[Group, int]], step_min: int = 5, least_min: int = 5
) -> dict[Group, int]:
    """The charged minutes of each group: the seconds are added up first and rounded once.

    >>> charged_by_group([("scrub", 7 * 60), ("jet", 12 * 60), ("scrub", 7 * 60), ("scrub", 7 * 60)])
    {'scrub': 20, 'jet': 10}
    """
    return {
        group: charged(seconds, step_min, least_min) for group, seconds in seconds_by_group(entries).items()
    }
