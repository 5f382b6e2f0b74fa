"""Measured seconds and the minutes charged for them."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.minutes import charged, charged_by_group, seconds_by_group, worked_seconds


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (97, 95),
        (12, 10),
        (63, 65),
        (8, 10),
        (28, 30),
        (16, 15),
        (84, 85),
        (47, 45),
        (152, 150),
        (118, 120),
        (72, 70),
        (59, 60),
        (21, 20),
        (12.5, 15),
        (7.5, 10),
        (2.5, 5),
        (2, 5),
        (1 / 60, 5),
        (0, 0),
    ],
)
def test_the_nearest_five_minutes_half_up_and_at_least_five(minutes: float, expected: int) -> None:
    assert charged(round(minutes * 60)) == expected


@pytest.mark.parametrize(("seconds", "expected"), [(749, 10), (750, 15), (751, 15), (2080, 35)])
def test_around_half_a_step(seconds: int, expected: int) -> None:
    assert charged(seconds) == expected


def test_other_steps_and_other_least_times() -> None:
    assert charged(7 * 60 + 30, step_min=15, least_min=15) == 15
    assert charged(23 * 60, step_min=15, least_min=15) == 30
    assert charged(30, step_min=1, least_min=0) == 1
    assert charged(29, step_min=1, least_min=0) == 0


def test_what_cannot_be_charged() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        charged(-1)
    with pytest.raises(ValueError, match="at least one minute"):
        charged(60, step_min=0)


START = datetime(2026, 6, 4, 7, 30, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("pauses", "expected_min"),
    [
        ([], 110),
        ([(40, 52)], 98),
        ([(40, 52), (50, 53)], 97),
        ([(50, 53), (40, 52)], 97),
        ([(40, 60), (45, 50)], 90),
        ([(-30, 10)], 100),
        ([(100, 130)], 100),
        ([(-10, -5)], 110),
        ([(115, 120)], 110),
        ([(-10, 200)], 0),
        ([(20, 20)], 110),
    ],
)
def test_only_pauses_within_the_work_are_taken_out_and_once(
    pauses: list[tuple[int, int]], expected_min: int
) -> None:
    given_pauses = [(at(first), at(last)) for first, last in pauses]
    assert worked_seconds(at(0), at(110), given_pauses) == expected_min * 60


def test_times_that_run_backwards_are_refused() -> None:
    with pytest.raises(ValueError, match="work cannot end before"):
        worked_seconds(at(1), at(0))
    with pytest.raises(ValueError, match="pause cannot end before"):
        worked_seconds(at(0), at(60), [(at(20), at(10))])


def test_three_bits_of_one_day_are_rounded_once() -> None:
    entries = [(("0412", "scrub"), 7 * 60), (("0412", "jet"), 12 * 60)] + [(("0412", "scrub"), 7 * 60)] * 2
    assert seconds_by_group(entries) == {("0412", "scrub"): 1260, ("0412", "jet"): 720}
    assert charged_by_group(entries) == {("0412", "scrub"): 20, ("0412", "jet"): 10}


def test_two_people_on_one_tree_are_two_lots_of_minutes() -> None:
    assert charged_by_group([("scrub", 50 * 60), ("scrub", 50 * 60)]) == {"scrub": 100}


@given(st.integers(0, 10**6), st.integers(1, 60))
def test_charged_time_is_a_whole_step_near_the_measured_one(seconds: int, step: int) -> None:
    minutes = charged(seconds, step_min=step, least_min=step)
    assert minutes % step == 0
    assert abs(minutes * 60 - seconds) <= step * 30 or (0 < seconds < step * 30 and minutes == step)


@given(st.integers(0, 10**6), st.integers(0, 10**4))
def test_more_work_is_never_charged_less(seconds: int, more: int) -> None:
    assert charged(seconds) <= charged(seconds + more)


@given(st.lists(st.tuples(st.integers(-50, 150), st.integers(0, 50)), max_size=8))
def test_work_and_pauses_fill_the_time_minute_by_minute(pauses: list[tuple[int, int]]) -> None:
    paused = {minute for first, length in pauses for minute in range(first, first + length)}
    worked = sum(1 for minute in range(100) if minute not in paused)
    assert worked_seconds(at(0), at(100), [(at(f), at(f + n)) for f, n in pauses]) == worked * 60
