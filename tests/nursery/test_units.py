"""Numbers as people type them, quantities as documents print them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nursery.units import NotANumber, decimal_typed, format_minutes, format_number, format_quantity


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12,5", "12.5"),
        ("12.5", "12.5"),
        (" 12 ", "12"),
        ("1250", "1250"),
        ("1250.00", "1250.00"),
        ("1250,5", "1250.5"),
        ("0", "0"),
        (",5", "0.5"),
        (".5", "0.5"),
        ("007", "7"),
        ("1,2500", "1.25"),
        ("12,50", "12.50"),
    ],
)
def test_both_decimal_marks_are_understood(text: str, expected: str) -> None:
    assert str(decimal_typed(text)) == expected


def test_a_part_of_one_with_three_decimals_can_be_read_in_one_way_only() -> None:
    assert str(decimal_typed("0,125", places=3)) == "0.125"


@pytest.mark.parametrize(
    ("text", "places", "sentence"),
    [
        ("1,250", 2, "This can be read in two ways: write 1250, or 1,25 or 1.25."),
        ("1.250", 2, "This can be read in two ways: write 1250, or 1,25 or 1.25."),
        ("12,000", 2, "This can be read in two ways: write 12000, or 12,0 or 12.0."),
        ("1,250", 0, "This can be read in two ways: write 1250 without a mark."),
        ("999.999", 2, "This can be read in two ways: write 999999 without a mark."),
        ("1,125", 3, "This can be read in two ways: write 1125, or 1,1250."),
    ],
)
def test_what_can_be_read_in_two_ways_is_asked_back(text: str, places: int, sentence: str) -> None:
    with pytest.raises(NotANumber) as refusal:
        decimal_typed(text, places=places)
    assert refusal.value.sentence == sentence


def test_what_the_sentence_proposes_is_accepted() -> None:
    assert decimal_typed("1250") == 1250
    assert decimal_typed("1,25") == decimal_typed("1.25") == Decimal("1.25")
    assert decimal_typed("1,1250", places=3) == Decimal("1.125")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,250.00", "Write 1250.00 without a mark for thousands."),
        ("1.250,00", "Write 1250.00 without a mark for thousands."),
        ("1.250.000", "Write 1250000 without a mark for thousands."),
        ("1 250", "Write 1250 without a mark for thousands."),
        ("1'250,5", "Write 1250.5 without a mark for thousands."),
        ("", "Write a number, for example 12,5."),
        ("   ", "Write a number, for example 12,5."),
        ("twelve", "Write the number in digits only, for example 12,5."),
        ("12 €", "Write the number in digits only, for example 12,5."),
        ("1e3", "Write the number in digits only, for example 12,5."),
        ("NaN", "Write the number in digits only, for example 12,5."),
        ("Infinity", "Write the number in digits only, for example 12,5."),
        ("١٢", "Write the number in digits only, for example 12,5."),
        ("--1", "Write the number in digits only, for example 12,5."),
        ("-", "Write a number, for example 12,5."),
        ("12,", "Write one number with at most one decimal mark, for example 12,5 or 12.5."),
        (",", "Write one number with at most one decimal mark, for example 12,5 or 12.5."),
        ("1,2,3", "Write one number with at most one decimal mark, for example 12,5 or 12.5."),
        ("12 5", "Write one number with at most one decimal mark, for example 12,5 or 12.5."),
        ("-5", "Write a number that is not negative."),
        ("−5", "Write a number that is not negative."),
        ("12,345", "This can be read in two ways: write 12345 without a mark."),
        ("1250,505", "Write at most 2 decimals."),
        ("1234567890123", "This number is too large: look whether a digit was typed twice."),
    ],
)
def test_what_is_no_number_is_refused_with_a_sentence(text: str, words: str) -> None:
    with pytest.raises(NotANumber) as refusal:
        decimal_typed(text)
    assert refusal.value.sentence == str(refusal.value) == words


@pytest.mark.parametrize(
    ("places", "words"), [(0, "Write a whole number, without decimals."), (1, "Write at most 1 decimal.")]
)
def test_no_more_decimals_than_asked_for(places: int, words: str) -> None:
    with pytest.raises(NotANumber) as refusal:
        decimal_typed("12,55", places=places)
    assert refusal.value.sentence == words


def test_zeros_beyond_the_decimals_asked_for_do_no_harm() -> None:
    assert str(decimal_typed("12,00", places=0)) == "12"


@pytest.mark.parametrize(
    ("text", "expected"), [("-5", "-5"), ("−2,5", "-2.5"), ("- 2", "-2"), ("-0", "0"), ("3", "3")]
)
def test_a_minus_where_it_is_allowed(text: str, expected: str) -> None:
    assert str(decimal_typed(text, allow_negative=True)) == expected


def test_minus_nothing_is_nothing() -> None:
    assert str(decimal_typed("-0,00")) == "0.00"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (190, "min", "190 min"),
        (Decimal("7.50"), "min", "7.5 min"),
        (Decimal("-20"), "min", "−20 min"),
        (21, "night", "21 nights"),
        (1, "night", "1 night"),
        (Decimal("1.00"), "night", "1 night"),
        (0, "night", "0 nights"),
        (-1, "night", "−1 night"),
        (Decimal("27.6"), "ml", "27.6 ml"),
        (240, "g", "240 g"),
        (3, "piece", "3"),
        (-1, "", "−1"),
        (60, "twig", "60 twigs"),
    ],
)
def test_quantities_are_printed_with_their_unit(value: Decimal, unit: str, expected: str) -> None:
    assert format_quantity(value, unit) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("1E+3", "1000"),
        ("100", "100"),
        ("0.00", "0"),
        ("-0.0", "0"),
        ("20.10", "20.1"),
        ("0.0000001", "0.0000001"),
    ],
)
def test_numbers_are_printed_plainly(value: str, expected: str) -> None:
    assert format_number(Decimal(value)) == expected


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (95, "1 h 35 min"),
        (60, "1 h"),
        (59, "59 min"),
        (0, "0 min"),
        (925, "15 h 25 min"),
        (Decimal("62.5"), "1 h 2.5 min"),
        (-80, "−1 h 20 min"),
        (600, "10 h"),
    ],
)
def test_lengths_of_time_are_printed_in_hours_and_minutes(minutes: Decimal, expected: str) -> None:
    assert format_minutes(minutes) == expected


@given(st.decimals(0, 999_999, places=2), st.sampled_from([".", ","]))
def test_any_amount_typed_with_either_mark_is_read_as_itself(amount: Decimal, mark: str) -> None:
    assert decimal_typed(str(amount).replace(".", mark)) == amount


@given(st.text(max_size=15))
def test_no_text_is_ever_answered_with_anything_but_a_number_or_a_sentence(text: str) -> None:
    try:
        answer = decimal_typed(text, places=4, allow_negative=True)
    except NotANumber as refusal:
        answer = refusal
    assert answer.sentence.endswith(".") if isinstance(answer, NotANumber) else answer.is_finite()
