"""The price of a stay: nights, weeks and months, parts, the winter place, interim bills."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.tariffs import (
    Span,
    Tariff,
    best_price,
    cover_price,
    interim,
    stay_price,
    winter_place_price,
    winter_price,
    winter_season,
)


def tariff(*prices: str) -> Tariff:
    return Tariff(*(Decimal(price) for price in prices))


CLASS_1 = tariff("0.80", "4.90", "17.00", "8.00")
CLASS_2 = tariff("1.20", "7.35", "25.50", "12.00")
CLASS_3 = tariff("2.00", "12.25", "42.50", "20.00")
CLASS_4 = tariff("3.40", "20.80", "72.00", "34.00")
CLASSES = [CLASS_1, CLASS_2, CLASS_3, CLASS_4]
CLASS_3_RAISED = tariff("2.20", "13.475", "46.75", "22.00")


@pytest.mark.parametrize(
    ("nights", "size", "expected"),
    [
        (0, CLASS_2, "0.00"),
        (1, CLASS_2, "1.20"),
        (6, CLASS_2, "7.20"),
        (7, CLASS_2, "7.35"),
        (8, CLASS_2, "8.55"),
        (9, CLASS_2, "9.75"),
        (10, CLASS_2, "10.95"),
        (20, CLASS_2, "21.90"),
        (26, CLASS_2, "25.50"),
        (27, CLASS_2, "25.50"),
        (28, CLASS_2, "25.50"),
        (29, CLASS_2, "26.70"),
        (81, CLASS_2, "76.50"),
        (151, CLASS_2, "139.65"),
        (10, CLASS_3, "18.25"),
        (11, CLASS_3, "20.25"),
        (13, CLASS_3, "24.25"),
        (14, CLASS_3, "24.50"),
        (15, CLASS_3, "26.50"),
        (18, CLASS_3, "32.50"),
        (21, CLASS_3, "36.75"),
        (25, CLASS_3, "42.50"),
        (28, CLASS_3, "42.50"),
        (39, CLASS_3, "62.75"),
        (41, CLASS_3, "66.75"),
        (92, CLASS_3, "141.75"),
        (7, CLASS_1, "4.90"),
        (7, CLASS_4, "20.80"),
    ],
)
def test_the_cheapest_cover(nights: int, size: Tariff, expected: str) -> None:
    assert cover_price(nights, size) == Decimal(expected)


@pytest.mark.parametrize(
    ("nights", "size", "expected"),
    [
        (0, CLASS_2, "12.00"),
        (2, CLASS_2, "12.00"),
        (10, CLASS_2, "12.00"),
        (12, CLASS_2, "13.35"),
        (26, CLASS_2, "25.50"),
        (0, CLASS_3, "20.00"),
        (39, CLASS_3, "62.75"),
        (0, CLASS_1, "8.00"),
        (0, CLASS_4, "34.00"),
    ],
)
def test_a_stay_costs_at_least_its_least_charge(nights: int, size: Tariff, expected: str) -> None:
    assert best_price(nights, size) == Decimal(expected)


@pytest.mark.parametrize(
    ("spans", "expected"),
    [
        ([Span(26, CLASS_2)], "25.50"),
        ([Span(0, CLASS_2)], "12.00"),
        # into a bigger pot after 10 of 20 nights
        ([Span(10, CLASS_2), Span(10, CLASS_3)], "29.20"),
        # 1.20 + 42.50 = 43.70, limited by 28 nights of class 3
        ([Span(1, CLASS_2), Span(27, CLASS_3)], "42.50"),
        # at a show, the place kept at half the night price, or given up
        ([Span(11, CLASS_3), Span(3, CLASS_3, 50)], "23.25"),
        ([Span(5, CLASS_3), Span(3, CLASS_3, 50), Span(6, CLASS_3)], "23.25"),
        ([Span(11, CLASS_3)], "20.25"),
        # 28 kept nights at half price are 28.00, not a month price
        ([Span(28, CLASS_3, 50)], "28.00"),
        # dearer prices from 1 July, 6 nights before and 7 after
        ([Span(6, CLASS_3), Span(7, CLASS_3_RAISED)], "25.48"),
        # the least charge applies once, not to each part
        ([Span(1, CLASS_2), Span(1, CLASS_3)], "20.00"),
        ([Span(3, CLASS_3, 50)], "20.00"),
        ([Span(3, CLASS_3, 0)], "20.00"),
    ],
)
def test_a_stay_in_parts(spans: list[Span], expected: str) -> None:
    assert stay_price(spans) == Decimal(expected)


def test_the_parts_before_the_limit() -> None:
    assert cover_price(1, CLASS_2) + cover_price(27, CLASS_3) == Decimal("43.70")


def test_without_a_least_charge() -> None:
    assert stay_price([Span(0, CLASS_2)], least=Decimal(0)) == 0
    assert stay_price([Span(2, CLASS_2)], least=Decimal(0)) == Decimal("2.40")


def test_a_class_whose_price_is_agreed_may_have_no_week_and_no_month() -> None:
    by_night = Tariff(Decimal("6.00"), None, None, Decimal("60.00"))
    by_week = Tariff(Decimal("6.00"), Decimal("35.00"), None, Decimal("60.00"))
    assert cover_price(30, by_night) == Decimal("180.00")
    assert cover_price(30, by_week) == Decimal("152.00")
    assert best_price(1, by_night) == Decimal("60.00")


@pytest.mark.parametrize(
    ("so_far", "billed", "expected"),
    [
        ("42.50", "42.50", "0.00"),
        ("62.75", "42.50", "20.25"),
        ("141.75", "42.50", "99.25"),
        ("24.50", "0", "24.50"),
    ],
)
def test_interim_bills_ask_for_what_is_left(so_far: str, billed: str, expected: str) -> None:
    assert interim(Decimal(so_far), Decimal(billed)) == Decimal(expected)


@pytest.mark.parametrize(
    ("arrived", "first", "last"),
    [
        (date(2025, 11, 1), date(2025, 11, 1), date(2026, 3, 31)),
        (date(2026, 3, 31), date(2025, 11, 1), date(2026, 3, 31)),
        (date(2026, 4, 1), date(2026, 11, 1), date(2027, 3, 31)),
        (date(2026, 10, 31), date(2026, 11, 1), date(2027, 3, 31)),
    ],
)
def test_the_season_of_an_arrival(arrived: date, first: date, last: date) -> None:
    assert winter_season(arrived) == (first, last)


@pytest.mark.parametrize(
    ("arrived", "expected"),
    [
        (date(2025, 11, 1), "110.00"),
        (date(2025, 10, 20), "110.00"),
        (date(2025, 12, 31), "83.85"),
        (date(2026, 1, 1), "77.00"),
        (date(2026, 1, 10), "76.50"),
        (date(2026, 3, 31), "12.00"),
    ],
)
def test_the_price_of_a_winter_place_is_fixed_at_arrival(arrived: date, expected: str) -> None:
    assert winter_place_price(arrived, CLASS_2, Decimal("110.00")) == Decimal(expected)


@pytest.mark.parametrize(
    ("arrived", "left", "expected"),
    [
        (date(2025, 11, 1), date(2026, 4, 1), "110.00"),
        (date(2025, 11, 1), date(2026, 4, 2), "111.20"),
        (date(2025, 11, 1), date(2026, 4, 10), "119.75"),
        (date(2025, 11, 1), date(2026, 2, 3), "110.00"),
        (date(2026, 1, 10), date(2026, 4, 1), "76.50"),
        (date(2025, 10, 29), date(2026, 4, 5), "117.35"),
        (date(2025, 10, 25), date(2025, 10, 28), "113.60"),
    ],
)
def test_nights_outside_the_season_come_on_top(arrived: date, left: date, expected: str) -> None:
    assert winter_price(arrived, left, CLASS_2, Decimal("110.00")) == Decimal(expected)


def test_what_cannot_be_priced() -> None:
    with pytest.raises(ValueError, match="nights cannot be negative"):
        cover_price(-1, CLASS_2)
    with pytest.raises(ValueError, match="nights cannot be negative"):
        Span(-1, CLASS_2)
    with pytest.raises(ValueError, match="nights cannot be negative"):
        winter_price(date(2026, 1, 2), date(2026, 1, 1), CLASS_2, Decimal("110.00"))
    with pytest.raises(ValueError, match="between 0 and 100"):
        Span(1, CLASS_2, 101)
    with pytest.raises(ValueError, match="at least one span"):
        stay_price([])
    with pytest.raises(ValueError, match="price cannot be negative"):
        tariff("-1.20", "7.35", "25.50", "12.00")


@pytest.mark.parametrize("size", CLASSES)
def test_one_more_night_never_costs_less_to_four_hundred_nights(size: Tariff) -> None:
    prices = [best_price(nights, size) for nights in range(401)]
    assert prices == sorted(prices)


prices = st.decimals("0.10", "100", places=2)
tariffs = st.builds(Tariff, prices, prices, prices, prices)
spans = st.builds(
    Span, st.integers(0, 60), st.sampled_from([*CLASSES, CLASS_3_RAISED]), st.sampled_from([0, 50, 100])
)


@given(tariffs, st.integers(0, 400))
def test_under_any_tariff_one_more_night_never_costs_less(any_tariff: Tariff, nights: int) -> None:
    assert cover_price(nights, any_tariff) <= cover_price(nights + 1, any_tariff)


@given(tariffs, st.integers(0, 60))
def test_no_combination_that_covers_the_nights_is_cheaper(any_tariff: Tariff, nights: int) -> None:
    assert any_tariff.week is not None
    assert any_tariff.month is not None
    combinations = [
        n * any_tariff.night + w * any_tariff.week + m * any_tariff.month
        for n in range(nights + 1)
        for w in range(10)
        for m in range(4)
        if n + 7 * w + 28 * m >= nights
    ]
    assert cover_price(nights, any_tariff) == min(combinations)


@given(st.lists(spans, min_size=1, max_size=6))
def test_a_stay_in_parts_never_costs_more_than_uninterrupted_at_the_dearest(parts: list[Span]) -> None:
    nights = sum(span.nights for span in parts)
    assert stay_price(parts) <= max(best_price(nights, span.tariff) for span in parts)


@given(st.lists(spans, min_size=1, max_size=6), spans)
def test_a_stay_that_goes_on_never_costs_less(parts: list[Span], more: Span) -> None:
    assert stay_price(parts) <= stay_price([*parts, more])


@given(st.sampled_from(CLASSES), st.lists(st.integers(0, 40), min_size=1, max_size=8))
def test_interim_bills_and_the_final_bill_make_one_single_bill(size: Tariff, steps: list[int]) -> None:
    nights, billed = 0, Decimal("0.00")
    for step in steps:
        nights += step
        billed += interim(best_price(nights, size), billed)
    assert billed == best_price(sum(steps), size)


@given(st.dates(date(2024, 4, 1), date(2028, 3, 31)), st.integers(0, 500), st.integers(0, 30))
def test_a_winter_stay_that_goes_on_never_costs_less(arrived: date, nights: int, more: int) -> None:
    first, later = (date.fromordinal(arrived.toordinal() + n) for n in (nights, nights + more))
    flat = Decimal("110.00")
    assert winter_price(arrived, first, CLASS_2, flat) <= winter_price(arrived, later, CLASS_2, flat)
