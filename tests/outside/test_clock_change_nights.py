"""Working time and nights across the nights on which the clocks change.

Source: Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last Sundays of March and
October, for Ireland at 01:00 UTC put forward to 02:00 and at 02:00 summer time put back to 01:00. The
expected values are worked out from the UTC instants written beside them.
"""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from boarding.nights import nights
from care.minutes import charged, worked_seconds
from nursery.periods import elapsed_seconds, instant_of

DUBLIN = ZoneInfo("Europe/Dublin")


@pytest.mark.parametrize(
    ("day", "start_utc", "end_utc", "minutes"),
    [
        (
            date(2026, 10, 25),
            datetime(2026, 10, 24, 23, 40, tzinfo=UTC),
            datetime(2026, 10, 25, 2, 20, tzinfo=UTC),
            160,
        ),
        (
            date(2026, 3, 29),
            datetime(2026, 3, 29, 0, 40, tzinfo=UTC),
            datetime(2026, 3, 29, 1, 20, tzinfo=UTC),
            40,
        ),
        (
            date(2026, 6, 3),
            datetime(2026, 6, 2, 23, 40, tzinfo=UTC),
            datetime(2026, 6, 3, 1, 20, tzinfo=UTC),
            100,
        ),
    ],
)
def test_from_forty_past_midnight_to_twenty_past_two(
    day: date, start_utc: datetime, end_utc: datetime, minutes: int
) -> None:
    start, end = instant_of(day, time(0, 40), DUBLIN), instant_of(day, time(2, 20), DUBLIN)
    assert (start, end) == (start_utc, end_utc)
    assert elapsed_seconds(start.astimezone(DUBLIN), end.astimezone(DUBLIN)) == minutes * 60
    assert worked_seconds(start.astimezone(DUBLIN), end.astimezone(DUBLIN)) == minutes * 60
    assert charged(worked_seconds(start, end)) == minutes


@pytest.mark.parametrize(
    ("arrived", "left", "expected"),
    [
        (datetime(2026, 10, 24, 22, 59, tzinfo=UTC), datetime(2026, 10, 25, 0, 30, tzinfo=UTC), 1),
        (datetime(2026, 10, 24, 23, 0, tzinfo=UTC), datetime(2026, 10, 25, 23, 59, tzinfo=UTC), 0),
        (datetime(2026, 10, 24, 23, 0, tzinfo=UTC), datetime(2026, 10, 26, 0, 0, tzinfo=UTC), 1),
        (datetime(2026, 3, 28, 23, 59, tzinfo=UTC), datetime(2026, 3, 29, 22, 59, tzinfo=UTC), 1),
        (datetime(2026, 3, 29, 0, 0, tzinfo=UTC), datetime(2026, 3, 29, 23, 0, tzinfo=UTC), 1),
        (datetime(2026, 3, 1, 10, 0, tzinfo=UTC), datetime(2026, 4, 1, 9, 0, tzinfo=UTC), 31),
        (datetime(2026, 10, 1, 9, 0, tzinfo=UTC), datetime(2026, 11, 1, 10, 0, tzinfo=UTC), 31),
    ],
)
def test_a_day_of_twenty_three_or_twenty_five_hours_has_one_night(
    arrived: datetime, left: datetime, expected: int
) -> None:
    assert nights(arrived, left, DUBLIN) == expected


def test_the_standard_library_alone_gets_it_wrong() -> None:
    """Two aware times of one zone subtract by wall clock (Python documentation, datetime arithmetic)."""
    start, end = (datetime(2026, 10, 25, hour, minute, tzinfo=DUBLIN) for hour, minute in ((0, 40), (2, 20)))
    assert (end - start).total_seconds() == 100 * 60
    assert elapsed_seconds(start, end) == 160 * 60
