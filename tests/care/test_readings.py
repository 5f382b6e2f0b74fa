"""What a thermometer can have shown: bounds, swapped, and read in the other scale."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.readings import BOUNDS, NotPossible, check, converted, plain

D = Decimal
JUNE_F = [(D(52), D(70)), (D(54), D(73))]
JUNE_C = [(D(11), D(20)), (D(12), D(23))]


@pytest.mark.parametrize(
    ("low", "high", "scale", "around", "field", "sentence"),
    [
        ("22", "12", "C", [], "t_min", "The lowest, 22, is above the highest, 12: did you swap them?"),
        ("50", "68", "C", [], "t_max",
         "68 looks like Fahrenheit; this thermometer is read in Celsius: 20 there."),
        ("-61", "5", "C", [], "t_min", "looks like Fahrenheit"),
        ("11", "141", "C", [], "t_max", "No weather is that: write degrees Celsius from −60 to 60."),
        ("11", "200", "F", [], "t_max", "No weather is that: write degrees Fahrenheit from −76 to 140."),
        ("12", "22", "F", JUNE_F, "t_min",
         "12 and 22 look like Celsius, by the days around; this thermometer is read in Fahrenheit: 53.6 and 71.6"),
        ("50", "59", "C", JUNE_C, "t_min", "50 and 59 look like Fahrenheit, by the days around"),
    ],
)  # fmt: skip
def test_refused_with_its_sentence(low, high, scale, around, field, sentence):
    with pytest.raises(NotPossible) as refused:
        check(D(low), D(high), scale, around)
    assert refused.value.field == field
    assert sentence in refused.value.sentence


@pytest.mark.parametrize(
    ("low", "high", "scale", "around"),
    [("-60", "60", "C", []), ("11", "11", "C", []), ("-76", "140", "F", []), ("12", "22", "F", []),
     ("50", "59", "C", []), ("-4", "3", "C", JUNE_C), ("50", "72", "F", JUNE_F)],
)  # fmt: skip
def test_what_weather_may_be_is_taken(low, high, scale, around):
    check(D(low), D(high), scale, around)


def test_temperatures_are_printed_plainly():
    assert [plain(D(one)) for one in ("12.50", "-0.50", "100", "0.00")] == ["12.5", "−0.5", "100", "0"]


@given(value=st.decimals(min_value=-60, max_value=60, places=1))
def test_there_and_back_again(value):
    assert abs(converted(converted(value, "C", "F"), "F", "C") - value) <= D("0.01")
    least, most = BOUNDS["F"]
    assert least <= converted(value, "C", "F") <= most
