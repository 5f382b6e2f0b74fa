"""From when on is a running clock doubtful?"""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from care.doubt import closing_instant, doubtful_from

DUBLIN = ZoneInfo("Europe/Dublin")
SIX = dt.time(18, 0)


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("started", "sign", "hours", "closes", "expected"),
    [
        # summer: 18:00 at the nursery is 17:00 UTC
        ("2026-06-04T07:00", "2026-06-04T07:00", 4, SIX, "2026-06-04T11:00"),
        ("2026-06-04T15:40", "2026-06-04T15:40", 4, SIX, "2026-06-04T17:00"),
        ("2026-06-04T07:00", "2026-06-04T10:30", 4, SIX, "2026-06-04T14:30"),
        ("2026-06-04T07:00", "2026-06-04T16:30", 4, SIX, "2026-06-04T17:00"),
        # begun after closing: only the silence counts
        ("2026-06-04T18:30", "2026-06-04T18:30", 4, SIX, "2026-06-04T22:30"),
        # winter: 18:00 is 18:00 UTC
        ("2026-12-04T15:00", "2026-12-04T15:00", 4, SIX, "2026-12-04T18:00"),
        # the October night: four hours are four hours
        ("2026-10-24T23:40", "2026-10-24T23:40", 4, SIX, "2026-10-25T03:40"),
    ],
)
def test_silence_or_closing_time_whichever_comes_first(started, sign, hours, closes, expected):
    assert doubtful_from(utc(started), utc(sign), hours, closes, DUBLIN) == utc(expected)


def test_a_closing_time_that_the_clocks_skip_is_the_hour_after_it():
    # 29 March 2026, 01:30 does not exist in Dublin; 02:00 is 01:00 UTC
    assert closing_instant(utc("2026-03-29T00:10"), dt.time(1, 30), DUBLIN) == utc("2026-03-29T01:00")


def test_a_naive_instant_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        doubtful_from(dt.datetime(2026, 6, 4, 7), utc("2026-06-04T07:00"), 4, SIX, DUBLIN)  # noqa: DTZ001
