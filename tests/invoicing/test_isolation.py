"""Nights with the isolation surcharge."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from invoicing.isolation import isolation_nights, midnight_after

DUBLIN = ZoneInfo("Europe/Dublin")
JUNE = [date(2026, 6, 1) + timedelta(n) for n in range(30)]
ALWAYS = [(datetime(2026, 1, 1, tzinfo=UTC), None)]


def at(day: int, hour: int) -> datetime:
    return datetime(2026, 6, day, hour, tzinfo=UTC)


def test_from_3_to_23_june_are_21_nights() -> None:
    nights = isolation_nights(JUNE, [(at(3, 9), at(24, 9))], ALWAYS, DUBLIN)
    assert (nights[0], nights[-1], len(nights)) == (date(2026, 6, 3), date(2026, 6, 23), 21)


@pytest.mark.parametrize(("minute", "count"), [(-1, 1), (1, 2)])
def test_midnight_at_the_nursery_decides_and_summer_time_is_an_hour_ahead(minute: int, count: int) -> None:
    moved = at(4, 23) + timedelta(minutes=minute)
    assert len(isolation_nights(JUNE, [(at(3, 9), moved)], ALWAYS, DUBLIN)) == count


def test_without_a_finding_no_night_counts() -> None:
    isolated = [(at(3, 9), None)]
    assert isolation_nights(JUNE, isolated, [], DUBLIN) == ()
    assert isolation_nights(JUNE, isolated, [(at(10, 9), at(12, 9))], DUBLIN) == (
        date(2026, 6, 10),
        date(2026, 6, 11),
    )


def test_two_times_in_isolation_count_together() -> None:
    isolated = [(at(3, 9), at(5, 9)), (at(10, 9), at(11, 9))]
    assert isolation_nights(JUNE, isolated, ALWAYS, DUBLIN) == (
        date(2026, 6, 3),
        date(2026, 6, 4),
        date(2026, 6, 10),
    )


def test_the_midnight_of_a_clock_change_night() -> None:
    assert midnight_after(date(2026, 10, 24), DUBLIN) == datetime(2026, 10, 24, 23, tzinfo=UTC)
    assert midnight_after(date(2026, 10, 25), DUBLIN) == datetime(2026, 10, 26, 0, tzinfo=UTC)
