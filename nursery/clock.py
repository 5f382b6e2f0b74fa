"""Reading the clock. Only views, tasks and commands do so and hand the result inward."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from zoneinfo import ZoneInfo

from django.utils import timezone

from nursery.models import Nursery

_held: ContextVar[ZoneInfo | None] = ContextVar("held_zone", default=None)


@contextmanager
def held_zone() -> Iterator[ZoneInfo]:
    """Read the nursery's zone once for everything inside: a page with a thousand days asks no thousand times."""
    held = zone()
    token = _held.set(held)
    try:
        yield held
    finally:
        _held.reset(token)


def now() -> dt.datetime:
    """The present instant, aware, in UTC."""
    return timezone.now().astimezone(dt.UTC)


def zone() -> ZoneInfo:
    """The nursery's own time zone: a night and a business day are dates in it."""
    return _held.get() or ZoneInfo(Nursery.here().time_zone)


def today() -> dt.date:
    """The present date at the nursery (not the UTC date, which differs for an hour every summer night)."""
    return day_of(now())


def day_of(instant: dt.datetime) -> dt.date:
    """The nursery's calendar date of an aware instant."""
    return instant.astimezone(zone()).date()


def local(instant: dt.datetime) -> dt.datetime:
    """The instant as the clock on the nursery's wall showed it."""
    return instant.astimezone(zone())
