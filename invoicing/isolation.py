"""Nights in isolation: which nights of a stay carry the isolation surcharge?

A night counts when at its midnight the tree stood on a bench of the isolation zone and its standing then rested on a
finding. Nights before the owner agreed, free nights and nights away are not among those asked about. Units: nights
by the date on which they begin, spans of aware instants with None for "still so". Errors: ValueError for an instant
without a zone. Source: the nursery's own rule, stated on its rate card.

>>> from datetime import UTC
>>> came, moved = datetime(2026, 6, 3, 9, 0, tzinfo=UTC), datetime(2026, 6, 24, 8, 0, tzinfo=UTC)
>>> nights = [date(2026, 6, 1) + timedelta(days=n) for n in range(29)]
>>> len(isolation_nights(nights, [(came, moved)], [(came, None)], ZoneInfo("Europe/Dublin")))
21
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from nursery.periods import utc

Span = tuple[datetime, datetime | None]


def isolation_nights(
    nights: Iterable[date], isolated: Sequence[Span], with_finding: Sequence[Span], tz: ZoneInfo
) -> tuple[date, ...]:
    """Those of the nights at whose midnight both an isolation place and a finding held."""
    return tuple(
        night
        for night in nights
        if _held(isolated, midnight_after(night, tz)) and _held(with_finding, midnight_after(night, tz))
    )


def midnight_after(night: date, tz: ZoneInfo) -> datetime:
    """The instant at which the next day begins at the nursery.

    >>> midnight_after(date(2026, 6, 3), ZoneInfo("Europe/Dublin")).isoformat()
    '2026-06-03T23:00:00+00:00'
    """
    return utc(datetime.combine(night + timedelta(days=1), time.min, tzinfo=tz))


def _held(spans: Sequence[Span], instant: datetime) -> bool:
    return any(utc(since) <= instant and (until is None or instant < utc(until)) for since, until in spans)
