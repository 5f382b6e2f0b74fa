"""When a sum is reached: readings, gaps filled or too long, the years before as forecast, a table of the climate."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.climate import Month, ways_by_climate
from care.warmth import Measure, account, reach, ways_on

BASE_10 = Measure(10.0)
JUNE = [
    *((11, 20), (12, 22), (12, 23), (13, 24), (13, 25), (12, 21), (10, 18), (9, 17)),
    *((11, 20), (12, 22), (13, 24), (14, 26), (14, 25)),
]
DAY = timedelta(days=1)


def june(without: tuple[int, ...] = (), until: int = 17) -> dict[date, tuple[float, float]]:
    days = {date(2026, 6, 5) + n * DAY: (float(low), float(high)) for n, (low, high) in enumerate(JUNE)}
    return {day: reading for day, reading in days.items() if day.day not in without and day.day <= until}


def since_5_june(readings, ways=(), by=None, target=80.0):
    return reach(account(readings, BASE_10), ways, date(2026, 6, 5), target, by)


def steady(first: date, days: int, daily: float) -> dict[date, tuple[float, float]]:
    """Every day brings the same above 10."""
    return {first + n * DAY: (10.0 + daily, 10.0 + daily) for n in range(days)}


def test_eighty_degree_days_from_5_june_are_reached_on_16_june() -> None:
    due = since_5_june(june())
    assert (due.best, due.total, due.is_measured) == (date(2026, 6, 16), 82.0, True)
    assert (due.days, due.filled, due.missing) == (12, 0, 0)
    assert (due.earliest, due.latest) == (date(2026, 6, 16), date(2026, 6, 16))


def test_two_days_silent_are_filled_by_the_mean_of_their_neighbours() -> None:
    due = since_5_june(june(without=(11, 12)))
    assert (due.best, due.total) == (date(2026, 6, 16), 87.0)
    assert (due.days, due.filled, due.missing) == (12, 2, 0)


@pytest.mark.parametrize(("without", "filled", "missing"), [((9, 10, 11), 3, 0), ((9, 10, 11, 12), 0, 4)])
def test_up_to_three_days_are_filled_of_more_only_the_range_is_known(without, filled, missing) -> None:
    due = since_5_june(june(without=without))
    assert (due.filled, due.missing) == (filled, missing)


def test_a_long_gap_gives_a_range() -> None:
    # 5 to 8 June bring 28.5; each day of 9 to 13 June lies between 7.0 (14 June) and 8.5 (8 June).
    due = since_5_june(june(without=(9, 10, 11, 12, 13)))
    assert due.missing == 5
    assert (due.earliest, due.best, due.latest) == (date(2026, 6, 15), date(2026, 6, 15), date(2026, 6, 16))
    lower = since_5_june(june(without=(9, 10, 11, 12, 13)), target=78.0)
    assert (lower.earliest, lower.best, lower.latest) == (
        date(2026, 6, 14),
        date(2026, 6, 15),
        date(2026, 6, 15),
    )


def test_a_gap_of_years_knows_the_same_days_of_earlier_years() -> None:
    readings = june(without=(9, 10, 11, 12, 13)) | steady(date(2025, 6, 1), 30, 1.0)
    due = since_5_june(readings)
    # The least is now 1.0 a day: 28.5 + 5 + 7 + 8.5 + 10 = 59.0 by 16 June, not 80.
    assert due.earliest == date(2026, 6, 15)
    assert due.latest is None


def test_a_threshold_is_reached_on_the_day_itself_not_after() -> None:
    due = reach(account(steady(date(2026, 5, 1), 10, 5.0), BASE_10), [], date(2026, 5, 1), 25.0)
    assert due.best == date(2026, 5, 5)


def test_silent_since_days_count_as_missing_until_it_is_reached() -> None:
    waiting = since_5_june(june(until=12), by=date(2026, 6, 16))
    assert (waiting.best, waiting.missing, waiting.is_measured) == (None, 4, False)
    assert since_5_june(june(), by=date(2026, 6, 30)).missing == 0


def test_days_silent_before_the_sum_begins_are_not_missing() -> None:
    waiting = reach(account(june(), BASE_10), [], date(2026, 6, 21), 80.0, date(2026, 6, 22))
    assert waiting.missing == 2


def test_days_before_the_first_reading_are_missing() -> None:
    due = reach(account(june(), BASE_10), [], date(2026, 6, 1), 80.0)
    assert due.missing == 4


def test_earlier_years_tell_how_it_goes_on() -> None:
    now = steady(date(2026, 5, 1), 10, 5.0)  # 50 by 10 May
    for year, daily in ((2025, 10.0), (2024, 5.0), (2023, 2.5)):
        now |= steady(date(year, 5, 1), 60, daily)
    ways = ways_on(now, BASE_10, date(2026, 5, 10))
    due = reach(account(now, BASE_10), ways, date(2026, 5, 1), 100.0)
    assert len(ways) == 3
    # 50 more: by 5, 10 and 20 days.
    assert (due.earliest, due.best, due.latest) == (date(2026, 5, 15), date(2026, 5, 20), date(2026, 5, 30))
    assert (due.total, due.is_measured, due.ways) == (50.0, False, 3)


def test_a_forecast_moves_as_real_days_come_in() -> None:
    past = steady(date(2025, 5, 1), 60, 5.0)
    cool = past | steady(date(2026, 5, 1), 5, 1.0)
    warm = past | steady(date(2026, 5, 1), 5, 9.0)
    assert [foreseen(readings) for readings in (cool, warm)] == [date(2026, 5, 24), date(2026, 5, 16)]


def foreseen(readings, target=100.0):
    since, until = date(2026, 5, 1), max(readings)
    return reach(account(readings, BASE_10), ways_on(readings, BASE_10, until), since, target).best


def test_a_sum_that_begins_after_the_last_reading_is_foreseen_whole() -> None:
    readings = steady(date(2025, 1, 1), 365, 5.0) | steady(date(2026, 1, 1), 31, 5.0)
    ways = ways_on(readings, BASE_10, date(2026, 1, 31))
    due = reach(account(readings, BASE_10), ways, date(2026, 3, 1), 50.0)
    assert (due.best, due.total, due.days) == (date(2026, 3, 10), 0.0, 0)


def test_a_year_is_followed_up_to_its_first_long_gap() -> None:
    past = steady(date(2025, 5, 1), 60, 5.0)
    short = {
        day: reading for day, reading in past.items() if day not in (date(2025, 5, 20), date(2025, 5, 21))
    }
    long = {
        day: reading for day, reading in past.items() if not date(2025, 5, 20) <= day <= date(2025, 5, 24)
    }
    assert len(ways_on(short | steady(date(2026, 5, 1), 3, 5.0), BASE_10, date(2026, 5, 3))[0]) == 57
    broken = long | steady(date(2026, 5, 1), 3, 5.0)
    assert [len(way) for way in ways_on(broken, BASE_10, date(2026, 5, 3))] == [16]
    # Sixteen days more are known: a sum beyond them is foreseen by nothing, one within them is.
    assert [foreseen(broken, target) for target in (90.0, 100.0)] == [date(2026, 5, 18), None]


def test_29_february_has_no_day_in_other_years() -> None:
    readings = steady(date(2025, 2, 20), 30, 5.0) | steady(date(2028, 2, 20), 9, 5.0)
    assert len(ways_on(readings, BASE_10, date(2028, 2, 28))) == 1


def test_nothing_is_foreseen_without_years() -> None:
    due = since_5_june(june(until=8))
    assert (due.best, due.earliest, due.latest, due.total) == (None, None, None, 28.5)


def test_a_table_of_the_climate_makes_a_cool_a_usual_and_a_warm_way() -> None:
    table = {month: Month(10.0, 20.0, 2.5) for month in range(1, 13)}
    ways = ways_by_climate(table, BASE_10, date(2026, 5, 10))
    assert [way[3] for way in ways] == [10.0, 20.0, 30.0]
    due = reach(account(steady(date(2026, 5, 1), 10, 5.0), BASE_10), ways, date(2026, 5, 1), 100.0)
    assert (due.earliest, due.best, due.latest) == (date(2026, 5, 17), date(2026, 5, 20), date(2026, 5, 30))


def test_a_table_with_a_month_missing_is_refused() -> None:
    with pytest.raises(ValueError, match="twelve"):
        ways_by_climate({1: Month(1.0, 2.0)}, BASE_10, date(2026, 5, 10))


def test_a_place_without_readings_has_no_account() -> None:
    with pytest.raises(ValueError, match="readings"):
        account({}, BASE_10)


READINGS = st.lists(
    st.tuples(st.floats(0, 20), st.floats(0, 15)).map(lambda pair: (pair[0], pair[0] + pair[1])),
    min_size=5,
    max_size=60,
)


@given(READINGS, st.floats(1, 200), st.data())
def test_a_range_holds_the_likely_day_and_a_higher_target_is_never_earlier(readings, target, data) -> None:
    days = {date(2026, 5, 1) + n * DAY: reading for n, reading in enumerate(readings)}
    kept = data.draw(st.sets(st.sampled_from(sorted(days)[1:-1])))
    known = {day: reading for day, reading in days.items() if day not in kept}
    of = account(known, BASE_10)
    due, later = (reach(of, [], date(2026, 5, 1), sum_) for sum_ in (target, target + 10))
    assert len(of.sums) == len(days)
    if due.best:
        assert due.earliest is not None
        assert due.earliest <= due.best <= (due.latest or date.max)
    assert (due.best or date.max) <= (later.best or date.max)
