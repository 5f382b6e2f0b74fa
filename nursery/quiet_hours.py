"""May a customer be written to at this hour?

Quiet hours are times on the wall, from the first to before the last, over midnight where the last is the earlier one;
two equal times are none. On the nights the clocks change they are as long as people feel them: once begun they last
until their end has come for the last time, and an hour that does not come is passed over. Instants are aware and the
zone is an IANA one; nothing is refused. Source: our own rule (common practice, no source for the hours themselves).

In Ireland on 25 October 2026 01:30 comes twice, at 00:30 and at 01:30 UTC (IANA database):

>>> from zoneinfo import ZoneInfo
>>> late, early = dt.time(20), dt.time(1, 30)
>>> [is_quiet(dt.datetime(2026, 10, 25, hour, 30, tzinfo=dt.UTC), late, early, ZoneInfo("Europe/Dublin"))
...  for hour in (0, 1)]
[True, False]
"""

import datetime as dt
from zoneinfo import ZoneInfo

DAY = dt.timedelta(days=1)


def is_quiet(at: dt.datetime, begins: dt.time, ends: dt.time, zone: ZoneInfo) -> bool:
    """Whether the instant lies in the quiet hours of the zone."""
    if begins == ends:
        return False
    wall = at.astimezone(zone)
    return _on_the_wall(wall.time(), begins, ends) or any(
        _night(on, begins, ends, zone, at) for on in (wall.date() - DAY, wall.date())
    )


def _on_the_wall(shown: dt.time, begins: dt.time, ends: dt.time) -> bool:
    if begins < ends:
        return begins <= shown < ends
    return shown >= begins or shown < ends


def _night(on: dt.date, begins: dt.time, ends: dt.time, zone: ZoneInfo, at: dt.datetime) -> bool:
    """Whether the instant lies in the quiet hours that begin on the day, from first beginning to last end."""
    first = dt.datetime.combine(on, begins, zone)
    last = dt.datetime.combine(on if begins < ends else on + DAY, ends, zone).replace(fold=1)
    return first.astimezone(dt.UTC) <= at < last.astimezone(dt.UTC)
