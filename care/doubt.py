"""Doubtful clocks: from which instant on is a running clock no longer believed?

A clock is doubtful when so many hours have passed without a sign of work (its start, a pause, a photo, a look, a
move), or when it runs past closing time of the day it was started on, whichever comes first. Work begun after closing
time has only the first limit. Units: aware instants, whole hours, a wall-clock time at the nursery. Errors: ValueError
for a naive instant. Source: the nursery's own settings; common practice, no source.

>>> from datetime import UTC
>>> start = datetime(2026, 6, 4, 15, 40, tzinfo=UTC)
>>> doubtful_from(start, start, 4, time(18, 0), ZoneInfo("Europe/Dublin")).isoformat()
'2026-06-04T17:00:00+00:00'
"""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from nursery.periods import ClockChange, instant_of, local_day, utc


def doubtful_from(
    started_at: datetime, last_sign_at: datetime, after_hours: int, closes_at: time, tz: ZoneInfo
) -> datetime:
    """The first instant, in UTC, at which the clock is doubtful."""
    silent = utc(max(utc(started_at), utc(last_sign_at))) + timedelta(hours=after_hours)
    closing = closing_instant(started_at, closes_at, tz)
    return silent if utc(started_at) >= closing else min(silent, closing)


def closing_instant(started_at: datetime, closes_at: time, tz: ZoneInfo) -> datetime:
    """Closing time on the local day of the start; where the clocks change over it, the first instant after it."""
    day = local_day(started_at, tz)
    try:
        return instant_of(day, closes_at, tz, fold=0)
    except ClockChange:
        return instant_of(day, time(closes_at.hour + 1, 0), tz, fold=0)
