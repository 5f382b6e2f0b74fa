"""Rounding, parts of a total, line nets and the VAT inside a gross amount."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nursery.money import cents, line_net, share, vat_inside


@pytest.mark.parametrize(
    ("amount", "expected"),
    [
        ("1.005", "1.01"),
        ("1.0049999", "1.00"),
        ("1.015", "1.02"),
        ("1.025", "1.03"),
        ("-1.005", "-1.01"),
        ("-1.0049", "-1.00"),
        ("13.475", "13.48"),
        ("99.66666666", "99.67"),
        ("0", "0.00"),
        ("7", "7.00"),
    ],
)
def test_half_a_cent_goes_away_from_zero(amount: str, expected: str) -> None:
    assert str(cents(Decimal(amount))) == expected


@pytest.mark.parametrize("amount", ["-0.00", "-0.001", "-0"])
def test_there_is_no_negative_zero(amount: str) -> None:
    assert str(cents(Decimal(amount))) == "0.00"


@pytest.mark.parametrize("amount", [0.1, 1.0, True])
def test_binary_floats_and_truth_values_are_no_money(amount: object) -> None:
    with pytest.raises(TypeError, match="never in binary floating point"):
        cents(amount)  # type: ignore[arg-type]


@pytest.mark.parametrize("amount", ["NaN", "Infinity", "-Infinity"])
def test_what_is_no_amount_is_refused(amount: str) -> None:
    with pytest.raises(ValueError, match="no amount"):
        cents(Decimal(amount))


@pytest.mark.parametrize(
    ("quantity", "price", "base", "expected"),
    [
        ("190", "42.00", "60", "133.00"),
        ("20", "42.00", "60", "14.00"),
        ("7.5", "48.00", "60", "6.00"),
        ("27.6", "47.50", "1000", "1.31"),
        ("18.4", "47.50", "1000", "0.87"),
        ("3", "1.50", "1", "4.50"),
        ("15", "42.00", "60", "10.50"),
        ("-20", "42.00", "60", "-14.00"),
        ("21", "0.60", "1", "12.60"),
        ("130", "46.00", "60", "99.67"),
        ("270", "58.00", "60", "261.00"),
        ("240", "27.50", "1000", "6.60"),
        ("5.0", "48.00", "60", "4.00"),
        ("40", "42.00", "60", "28.00"),
        ("40", "58.00", "60", "38.67"),
        ("-1", "5.31", "1", "-5.31"),
    ],
)
def test_line_nets_of_a_worked_month(quantity: str, price: str, base: str, expected: str) -> None:
    assert line_net(Decimal(quantity), Decimal(price), Decimal(base)) == Decimal(expected)


@pytest.mark.parametrize("base", ["0", "-60"])
def test_a_price_needs_a_positive_base_quantity(base: str) -> None:
    with pytest.raises(ValueError, match="base quantity"):
        line_net(1, 1, Decimal(base))


@pytest.mark.parametrize(
    ("gross", "rate", "expected"),
    [
        ("300.00", "23", "56.10"),
        ("600.00", "23", "112.20"),
        ("100.00", "0", "0.00"),
        ("-300.00", "23", "-56.10"),
    ],
)
def test_vat_inside_a_gross_amount(gross: str, rate: str, expected: str) -> None:
    assert vat_inside(Decimal(gross), Decimal(rate)) == Decimal(expected)


def test_a_negative_vat_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        vat_inside(100, -23)


def test_a_spray_round_of_fourteen_trees_is_shared_to_the_tenth_of_a_minute() -> None:
    weights = [1] * 6 + [2] * 5 + [4] * 3
    minutes = [Decimal(m) for m in ["1.3"] * 3 + ["1.2"] * 3 + ["2.5"] * 5 + ["5.0"] * 3]
    product_ml = [Decimal(m) for m in ["4.6"] * 6 + ["9.2"] * 5 + ["18.4"] * 3]
    assert share(Decimal("35.0"), weights, Decimal("0.1")) == minutes
    assert share(Decimal("128.8"), weights, Decimal("0.1")) == product_ml


def test_own_trees_carry_their_part_of_a_round() -> None:
    assert share(Decimal("35.0"), [10, 18], Decimal("0.1")) == [Decimal("12.5"), Decimal("22.5")]


def test_a_net_price_is_split_by_nights_where_the_vat_rate_changes() -> None:
    assert share(Decimal("36.75"), [10, 11], Decimal("0.01")) == [Decimal("17.50"), Decimal("19.25")]


def test_of_equal_remainders_the_earlier_part_gets_the_step() -> None:
    assert share(Decimal("0.02"), [1, 1, 1], Decimal("0.01")) == [
        Decimal("0.01"),
        Decimal("0.01"),
        Decimal("0"),
    ]


def test_a_negative_total_gives_the_negative_parts() -> None:
    assert share(Decimal("-0.05"), [1, 1], Decimal("0.01")) == [Decimal("-0.03"), Decimal("-0.02")]


@pytest.mark.parametrize(
    ("total", "weights", "step", "words"),
    [
        ("0.05", [1], "0.1", "no multiple"),
        ("1", [1, -1], "1", "cannot be negative"),
        ("1", [], "1", "nobody to carry"),
        ("1", [0, 0], "1", "nobody to carry"),
        ("1", [1], "0", "greater than zero"),
    ],
)
def test_what_cannot_be_shared_is_refused(total: str, weights: list[int], step: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        share(Decimal(total), weights, Decimal(step))


def test_nothing_is_shared_among_nobody() -> None:
    assert share(0, [], Decimal("0.1")) == []
    assert share(0, [0, 0], Decimal("0.1")) == [0, 0]


amounts = st.decimals(-100_000, 100_000, places=4)
weight_lists = st.lists(st.integers(0, 50), min_size=1, max_size=30).filter(any)


@given(st.integers(-100_000, 100_000), weight_lists, st.sampled_from(["0.1", "0.01", "1", "5"]))
def test_parts_add_up_and_none_is_a_whole_step_off(steps: int, weights: list[int], step: str) -> None:
    total = steps * Decimal(step)
    parts = share(total, weights, Decimal(step))
    assert sum(parts) == total
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part * sum(weights) - total * weight) < Decimal(step) * sum(weights)
        assert weight or part == 0


@given(amounts)
def test_rounding_moves_by_half_a_cent_at_most_and_once(amount: Decimal) -> None:
    rounded = cents(amount)
    assert abs(rounded - amount) <= Decimal("0.005")
    assert cents(rounded) == rounded
    assert cents(-amount) == -rounded


@given(st.decimals(0, 100_000, places=2), st.sampled_from([Decimal("23"), Decimal("13.5"), Decimal("9")]))
def test_net_and_vat_of_a_gross_amount_make_the_gross(gross: Decimal, rate: Decimal) -> None:
    net = gross - vat_inside(gross, rate)
    assert abs(net * rate / 100 - vat_inside(gross, rate)) <= Decimal("0.01")
