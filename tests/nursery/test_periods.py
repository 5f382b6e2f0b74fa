"""Periods of days, local days, and wall-clock times on the nights when the clocks change."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nursery.periods import Ambiguous, NonExistent, Period, elapsed_seconds, instant_of, local_day, utc

DUBLIN = ZoneInfo("Europe/Dublin")
JUNE = Period(date(2026, 6, 1), date(2026, 6, 30))


@pytest.mark.parametrize(
    ("day", "inside"),
    [
        (date(2026, 5, 31), False),
        (date(2026, 6, 1), True),
        (date(2026, 6, 30), True),
        (date(2026, 7, 1), False),
    ],
)
def test_both_ends_belong_to_a_period(day: date, inside: bool) -> None:
    assert JUNE.contains(day) is inside


def test_days_are_counted_with_both_ends() -> None:
    assert JUNE.days == 30
    assert Period(date(2028, 2, 1), date(2028, 2, 29)).days == 29
    assert Period(date(2026, 6, 3), date(2026, 6, 3)).days == 1


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (Period(date(2026, 5, 1), date(2026, 5, 31)), None),
        (Period(date(2026, 5, 1), date(2026, 6, 1)), Period(date(2026, 6, 1), date(2026, 6, 1))),
        (Period(date(2026, 6, 28), date(2026, 7, 5)), Period(date(2026, 6, 28), date(2026, 6, 30))),
        (Period(date(2026, 6, 10), date(2026, 6, 11)), Period(date(2026, 6, 10), date(2026, 6, 11))),
        (Period(date(2026, 7, 1), date(2026, 7, 2)), None),
    ],
)
def test_overlap_of_two_periods(other: Period, expected: Period | None) -> None:
    assert JUNE.overlap(other) == expected
    assert other.overlap(JUNE) == expected


def test_a_period_cannot_end_before_it_begins() -> None:
    with pytest.raises(ValueError, match="cannot end on 2026-06-02"):
        Period(date(2026, 6, 3), date(2026, 6, 2))


def test_the_days_of_a_period_in_order() -> None:
    over_month_end = Period(date(2026, 6, 29), date(2026, 7, 1))
    assert list(over_month_end) == [date(2026, 6, 29), date(2026, 6, 30), date(2026, 7, 1)]


@pytest.mark.parametrize(
    ("instant", "day"),
    [
        (datetime(2026, 6, 3, 22, 59, tzinfo=UTC), date(2026, 6, 3)),
        (datetime(2026, 6, 3, 23, 0, tzinfo=UTC), date(2026, 6, 4)),
        (datetime(2026, 12, 3, 23, 59, tzinfo=UTC), date(2026, 12, 3)),
        (datetime(2026, 12, 4, 0, 0, tzinfo=UTC), date(2026, 12, 4)),
    ],
)
def test_the_day_is_the_one_where_the_nursery_stands(instant: datetime, day: date) -> None:
    assert local_day(instant, DUBLIN) == day


def test_an_instant_needs_a_time_zone() -> None:
    naive = datetime(2026, 6, 3, 10, 0, tzinfo=UTC).replace(tzinfo=None)
    with pytest.raises(ValueError, match="has no time zone"):
        utc(naive)
    with pytest.raises(ValueError, match="has no time zone"):
        local_day(naive, DUBLIN)
    with pytest.raises(ValueError, match="has no time zone"):
        elapsed_seconds(naive, naive)


def test_a_summer_time_is_an_hour_ahead_of_utc() -> None:
    assert instant_of(date(2026, 6, 3), time(10, 0), DUBLIN) == datetime(2026, 6, 3, 9, 0, tzinfo=UTC)
    assert instant_of(date(2026, 12, 3), time(10, 0), DUBLIN) == datetime(2026, 12, 3, 10, 0, tzinfo=UTC)


def test_a_time_that_happens_twice_is_asked_back() -> None:
    with pytest.raises(Ambiguous) as question:
        instant_of(date(2026, 10, 25), time(1, 30), DUBLIN)
    assert question.value.sentence == "01:30 happens twice in this night: first or second?"


@pytest.mark.parametrize(("fold", "hour_utc"), [(0, 0), (1, 1)])
def test_the_answer_first_or_second_settles_it(fold: int, hour_utc: int) -> None:
    instant = instant_of(date(2026, 10, 25), time(1, 30), DUBLIN, fold=fold)
    assert instant == datetime(2026, 10, 25, hour_utc, 30, tzinfo=UTC)


@pytest.mark.parametrize(("at", "hour_utc"), [(time(0, 59), 23), (time(2, 0), 2)])
def test_times_beside_the_doubled_hour_happen_once(at: time, hour_utc: int) -> None:
    assert instant_of(date(2026, 10, 25), at, DUBLIN).hour == hour_utc
    assert instant_of(date(2026, 10, 25), at, DUBLIN, fold=1).hour == hour_utc


@pytest.mark.parametrize("at", [time(1, 0), time(1, 30), time(1, 59)])
@pytest.mark.parametrize("fold", [None, 0, 1])
def test_a_time_that_did_not_happen_is_refused(at: time, fold: int | None) -> None:
    with pytest.raises(NonExistent, match="There was no 01:.* Write the time the clock really showed"):
        instant_of(date(2026, 3, 29), at, DUBLIN, fold=fold)


@pytest.mark.parametrize(("at", "minute_utc"), [(time(0, 59), 59), (time(2, 0), 60)])
def test_times_beside_the_lost_hour(at: time, minute_utc: int) -> None:
    midnight = datetime(2026, 3, 29, 0, 0, tzinfo=UTC)
    assert instant_of(date(2026, 3, 29), at, DUBLIN) == midnight + timedelta(minutes=minute_utc)


def test_a_time_with_a_zone_of_its_own_is_refused() -> None:
    with pytest.raises(ValueError, match="without a zone of its own"):
        instant_of(date(2026, 6, 3), time(10, 0, tzinfo=UTC), DUBLIN)


instants = st.datetimes(
    datetime(2020, 1, 1),  # noqa: DTZ001 - bounds of hypothesis are naive, the zone is given beside them
    datetime(2040, 1, 1),  # noqa: DTZ001
    timezones=st.just(UTC),
)


@given(instants)
def test_every_instant_comes_back_from_its_wall_clock(instant: datetime) -> None:
    local = instant.astimezone(DUBLIN)
    assert instant_of(local.date(), local.time(), DUBLIN, fold=local.fold) == instant


@given(instants, st.integers(0, 10**7))
def test_elapsed_seconds_do_not_depend_on_the_zone(instant: datetime, seconds: int) -> None:
    later = instant + timedelta(seconds=seconds)
    assert elapsed_seconds(instant.astimezone(DUBLIN), later.astimezone(DUBLIN)) == seconds
