"""Degree-days of one day and of many: the six cases, both methods, both scales, impossible days."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.degree_days import accumulate, in_scale, simple_average, single_sine

DEGREES = st.floats(min_value=-30, max_value=45, allow_nan=False)


@st.composite
def days(draw) -> tuple[float, float]:
    low, high = sorted((draw(DEGREES), draw(DEGREES)))
    return low, high


@pytest.mark.parametrize(
    ("t_min", "t_max", "expected"),
    [
        (35, 40, 20.0),  # above the upper threshold all day
        (0, 9, 0.0),  # below the lower one all day
        (12, 22, 7.0),  # between them all day
        (10, 30, 10.0),  # touching both
        (0, 20, 3.18),  # crossing the lower one
        (20, 40, 16.82),  # crossing the upper one
        (0, 40, 10.0),  # crossing both
    ],
)
def test_the_six_cases(t_min: float, t_max: float, expected: float) -> None:
    assert round(single_sine(t_min, t_max, 10, 30), 2) == expected


def test_a_day_without_any_range() -> None:
    assert single_sine(12, 12, 10) == 2.0
    assert single_sine(10, 10, 10) == 0.0
    assert single_sine(9, 9, 10) == 0.0


def test_sums_go_on_from_day_to_day() -> None:
    # Base 10 C, simple average: the daily values are 5.5, 7, 7.5, 8.5, 9, 6.5, 4, 3, 5.5, 7, 8.5, 10, 9.5.
    june = [(11, 20), (12, 22), (12, 23), (13, 24), (13, 25), (12, 21), (10, 18), (9, 17), (11, 20)]
    june += [(12, 22), (13, 24), (14, 26), (14, 25)]
    assert accumulate(june, 10, method="average") == [
        *(5.5, 12.5, 20, 28.5, 37.5, 44, 48, 51, 56.5, 63.5, 72),
        82.0,
        91.5,
    ]


def test_a_method_may_be_given_itself() -> None:
    assert accumulate([(-2, 8)], 0, method=simple_average) == [3.0]
    assert accumulate([], 10) == []


@pytest.mark.parametrize(
    ("t_min", "t_max", "lower", "upper", "sentence"),
    [
        (20, 10, 10, None, "lowest temperature"),
        (10, 20, 10, 10, "upper threshold"),
        (float("nan"), 20, 10, None, "number"),
        (10, float("inf"), 10, None, "number"),
    ],
)
def test_impossible_days_are_refused(t_min, t_max, lower, upper, sentence) -> None:
    for method in (single_sine, simple_average):
        with pytest.raises(ValueError, match=sentence):
            method(t_min, t_max, lower, upper)


@given(days(), st.floats(min_value=0, max_value=15), st.floats(min_value=16, max_value=40))
def test_a_day_brings_between_nothing_and_the_whole_span(day, lower: float, upper: float) -> None:
    for method in (single_sine, simple_average):
        brought = method(*day, lower, upper)
        assert -1e-9 <= brought <= upper - lower + 1e-9
        assert brought <= method(*day, lower) + 1e-9


@given(days(), st.floats(min_value=0, max_value=15))
def test_the_sine_never_brings_less_than_the_average(day, lower: float) -> None:
    # A mean below the base is nothing to the average, while the warm hours of such a day still count to the sine.
    assert single_sine(*day, lower) >= simple_average(*day, lower) - 1e-9


@given(days(), st.floats(min_value=0, max_value=15))
def test_celsius_and_fahrenheit_agree_when_each_is_kept(day, lower: float) -> None:
    in_f = [in_scale(value, "C", "F") for value in (*day, lower)]
    assert single_sine(*day, lower) * 1.8 == pytest.approx(single_sine(*in_f), abs=1e-6)
