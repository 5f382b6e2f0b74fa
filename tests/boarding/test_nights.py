"""The nights of a stay, and which of them are charged."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boarding.nights import Absence, chargeable_nights, night_dates, nights, split_nights

DUBLIN = ZoneInfo("Europe/Dublin")


def dublin(month: int, day: int, hour: int = 10, minute: int = 0, year: int = 2026) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=DUBLIN)


@pytest.mark.parametrize(
    ("arrived", "left", "expected"),
    [
        (dublin(6, 3, 9), dublin(6, 3, 17), 0),
        (dublin(6, 3, 23, 30), dublin(6, 5, 0, 30), 2),
        (dublin(6, 3, 23, 59), dublin(6, 4, 0, 0), 1),
        (dublin(6, 3), dublin(6, 29), 26),
        (dublin(6, 3), dublin(7, 12), 39),
        (dublin(6, 3), dublin(9, 3), 92),
        (dublin(6, 25), dublin(7, 8), 13),
        (dublin(2, 27, year=2028), dublin(3, 1, year=2028), 3),
        (dublin(11, 1, year=2025), dublin(4, 1), 151),
    ],
)
def test_nights_are_midnights(arrived: datetime, left: datetime, expected: int) -> None:
    assert nights(arrived, left, DUBLIN) == expected


def test_the_nursery_s_midnight_counts_not_the_one_of_greenwich() -> None:
    arrived = datetime(2026, 6, 3, 22, 30, tzinfo=UTC)
    assert nights(arrived, datetime(2026, 6, 3, 23, 30, tzinfo=UTC), DUBLIN) == 1
    assert nights(arrived, datetime(2026, 6, 3, 23, 30, tzinfo=UTC), ZoneInfo("UTC")) == 0


def test_a_stay_cannot_end_before_it_begins() -> None:
    with pytest.raises(ValueError, match="cannot end before it begins"):
        nights(dublin(6, 4), dublin(6, 3), DUBLIN)
    with pytest.raises(ValueError, match="cannot be back"):
        Absence(date(2026, 6, 4), date(2026, 6, 3), place_kept=True)


def test_free_nights_are_taken_off_once_and_only_within_the_stay() -> None:
    free = [date(2026, 6, 5), date(2026, 6, 5), date(2026, 6, 2), date(2026, 6, 13)]
    assert chargeable_nights(dublin(6, 3), dublin(6, 13), DUBLIN, free=free) == 9


@pytest.mark.parametrize(("place_kept", "expected"), [(True, 14), (False, 11)])
def test_three_nights_away_at_a_show(place_kept: bool, expected: int) -> None:
    show = Absence(date(2026, 6, 8), date(2026, 6, 11), place_kept)
    assert chargeable_nights(dublin(6, 3), dublin(6, 17), DUBLIN, absences=[show]) == expected


def test_the_night_of_coming_back_is_spent_here() -> None:
    show = Absence(date(2026, 6, 8), date(2026, 6, 10), place_kept=False)
    parts = split_nights(date(2026, 6, 7), date(2026, 6, 12), absences=[show])
    assert parts.full == (date(2026, 6, 7), date(2026, 6, 10), date(2026, 6, 11))
    assert parts.not_charged == (date(2026, 6, 8), date(2026, 6, 9))


def test_a_tree_still_away_is_away_to_the_end() -> None:
    away = Absence(date(2026, 6, 8), None, place_kept=True)
    parts = split_nights(date(2026, 6, 7), date(2026, 6, 10), absences=[away])
    assert parts.place_kept == (date(2026, 6, 8), date(2026, 6, 9))


def test_a_free_night_stays_free_while_the_tree_is_away() -> None:
    away = Absence(date(2026, 6, 4), date(2026, 6, 6), place_kept=True)
    parts = split_nights(date(2026, 6, 3), date(2026, 6, 7), free=[date(2026, 6, 4)], absences=[away])
    assert (len(parts.full), len(parts.place_kept), len(parts.not_charged)) == (2, 1, 1)


days = st.dates(date(2024, 1, 1), date(2028, 12, 31))


@given(days, st.integers(0, 400), st.integers(0, 400))
def test_two_stays_in_a_row_have_the_nights_of_one(first: date, here: int, more: int) -> None:
    middle, last = first + timedelta(days=here), first + timedelta(days=here + more)
    assert night_dates(first, middle) + night_dates(middle, last) == night_dates(first, last)


@given(
    days,
    st.integers(0, 60),
    st.lists(days, max_size=5),
    st.integers(0, 40),
    st.integers(0, 20),
    st.booleans(),
)
def test_every_night_is_in_exactly_one_part(
    first: date, length: int, free: list[date], gone: int, out: int, place_kept: bool
) -> None:
    last = first + timedelta(days=length)
    away = Absence(first + timedelta(days=gone), first + timedelta(days=gone + out), place_kept)
    parts = split_nights(first, last, free, [away])
    assert sorted(parts.full + parts.place_kept + parts.not_charged) == list(night_dates(first, last))
