"""The price of a stay from its facts: expected figures are worked by hand from rate card R1."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boarding.nights import Absence
from invoicing.keeping import boarding_price, cheapest_cover, stay_lines
from invoicing.pricing import (
    Billed,
    BilledAt,
    CannotPrice,
    ClassPrices,
    ClassStep,
    PriceSheet,
    Sheets,
    StayFacts,
    Vat,
    VatOn,
    period_words,
)
from tests.factories import R1_CLASSES, R1_FIXED, R1_LABOUR

D = Decimal
CLASSES = {size: ClassPrices(*map(D, prices)) for size, prices in R1_CLASSES.items()}
R1 = Sheets.only(
    PriceSheet("R1", CLASSES, {k: D(v) for k, v in R1_LABOUR.items()}, {k: D(v) for k, v in R1_FIXED.items()})
)
JUNE_3 = date(2026, 6, 3)


def vat_23(key: str, day: date) -> Vat:
    return Vat(key, D(23))


def vat_21_from(change: date) -> VatOn:
    return lambda key, day: Vat(key, D(21) if day >= change else D(23))


def kept(size_class: int, until_on: date, arrived_on: date = JUNE_3, **more: object) -> StayFacts:
    return StayFacts(1, "DN-0412", size_class, arrived_on, until_on, **more)  # type: ignore[arg-type]


def price(stay: StayFacts) -> Decimal:
    return boarding_price(stay, R1)


def boarding(stay: StayFacts, vat: VatOn = vat_23) -> list[tuple[str, Decimal]]:
    before, _ = stay_lines(stay, R1, vat)
    return [(line.words, line.net) for line in before if line.kind == "boarding"]


@pytest.mark.parametrize(
    ("stay", "expected"),
    [
        (kept(2, JUNE_3), "12.00"),  # same day: the least charge of a stay
        (kept(2, JUNE_3, day_work=True), "0.00"),
        (kept(3, date(2026, 7, 8), date(2026, 6, 25)), "24.25"),  # 13 nights: a week and six nights
        (kept(2, JUNE_3 + timedelta(27)), "25.50"),  # a month is less than three weeks and six nights
        (kept(3, JUNE_3 + timedelta(14)), "24.50"),
        (kept(3, date(2026, 9, 3)), "141.75"),
        (kept(2, date(2026, 4, 1), date(2026, 1, 10), winter_place=True), "76.50"),  # begun late
        (kept(2, date(2026, 4, 1), date(2025, 11, 1), winter_place=True), "110.00"),
        (kept(2, date(2026, 4, 10), date(2025, 11, 1), winter_place=True), "119.75"),  # nine nights after it
        (kept(2, date(2026, 2, 3), date(2025, 11, 1), winter_place=True), "110.00"),  # fetched early
        (kept(2, date(2025, 10, 29), date(2025, 10, 20), winter_place=True), "12.00"),  # season not begun
    ],
)
def test_the_whole_stay_so_far(stay: StayFacts, expected: str) -> None:
    assert price(stay) == D(expected)


@pytest.mark.parametrize(("place_kept", "expected"), [(True, "23.25"), (False, "20.25")])
def test_away_to_a_show_for_three_of_fourteen_nights(place_kept: bool, expected: str) -> None:
    show = Absence(date(2026, 6, 8), date(2026, 6, 11), place_kept)
    assert price(kept(3, JUNE_3 + timedelta(14), absences=(show,))) == D(expected)


def test_free_nights_are_not_counted() -> None:
    free = frozenset([date(2026, 6, 4), date(2026, 6, 5)])
    assert price(kept(3, JUNE_3 + timedelta(14), free=free)) == D(
        "22.25"
    )  # 12 nights: a week and five nights


def test_a_later_bill_takes_the_whole_less_what_was_billed() -> None:
    billed = Billed(boarding=D("42.50"), until_on=date(2026, 6, 30), intake=True)
    words = "Boarding class 3, 3 June\u201312 July 2026, 39 nights at 1 month + 1 week + 4 nights"
    lines = boarding(kept(3, date(2026, 7, 12), billed=billed))
    assert lines == [(f"{words}, 62.75 less 42.50 billed before", D("20.25"))]


def test_after_25_nights_billed_at_the_month_price_three_more_cost_nothing() -> None:
    billed = Billed(boarding=D("42.50"), until_on=date(2026, 6, 27))
    assert boarding(kept(3, JUNE_3 + timedelta(28), billed=billed)) == []


def test_what_was_billed_too_much_is_a_line_of_minus_one_at_a_positive_price() -> None:
    free = frozenset(JUNE_3 + timedelta(n) for n in range(14))
    stay = kept(
        3, JUNE_3 + timedelta(14), free=free, billed=Billed(boarding=D("24.50"), until_on=date(2026, 6, 16))
    )
    before, _ = stay_lines(stay, R1, vat_23)
    line = next(line for line in before if line.kind == "boarding")
    assert (line.quantity, line.price, line.net) == (D(-1), D("4.50"), D("-4.50"))


def test_a_change_of_the_vat_rate_splits_the_net_price_by_nights() -> None:
    lines = boarding(kept(3, JUNE_3 + timedelta(21)), vat_21_from(date(2026, 6, 13)))
    assert [net for _, net in lines] == [D("17.50"), D("19.25")]
    assert lines[0][0].endswith("; 10 of 21 nights at 23 % VAT")
    assert lines[1][0].endswith("; 11 of 21 nights at 21 % VAT")


def test_nights_billed_before_the_change_stay_at_their_rate() -> None:
    billed = Billed(boarding=D("17.50"), until_on=date(2026, 6, 12))
    stay = kept(3, JUNE_3 + timedelta(21), billed=billed)
    before, _ = stay_lines(stay, R1, vat_21_from(date(2026, 6, 13)))
    assert [(line.net, line.vat_percent) for line in before if line.kind == "boarding"] == [
        (D("19.25"), D(21))
    ]


def test_intake_and_packing_come_once() -> None:
    stay = kept(2, date(2026, 6, 29), handed_back=True)
    before, after = stay_lines(stay, R1, vat_23)
    assert [(line.kind, line.net) for line in before[:1] + after] == [
        ("intake", D("12.00")),
        ("pack", D("9.50")),
    ]
    again = kept(2, date(2026, 6, 29), handed_back=True, billed=Billed(intake=True, pack=True))
    before, after = stay_lines(again, R1, vat_23)
    assert {line.kind for line in before} == {"boarding"}
    assert after == []


def test_only_isolation_nights_not_billed_yet_are_billed() -> None:
    nights = tuple(JUNE_3 + timedelta(n) for n in range(21))
    fourteen = BilledAt(vat_23("S", JUNE_3), date(2026, 6, 16), D("0.60"), D(14), D("8.40"))
    stay = kept(2, date(2026, 6, 29), isolation=nights, billed=Billed(isolation_at=(fourteen,)))
    line = next(line for line in stay_lines(stay, R1, vat_23)[0] if line.kind == "isolation")
    assert (line.words, line.quantity, line.net) == (
        "Isolation surcharge, 17\u201323 June 2026",
        D(7),
        D("4.20"),
    )


def test_class_5_without_an_agreed_price_is_not_billed() -> None:
    with pytest.raises(CannotPrice) as refused:
        stay_lines(kept(5, date(2026, 6, 29)), R1, vat_23)
    assert refused.value.sentence.startswith("DN-0412 is class 5, and no price was agreed for it at check-in")


@pytest.mark.parametrize(
    ("nights", "cover"),
    [
        (0, (0, 0, 0)),
        (5, (0, 0, 5)),
        (6, (0, 0, 6)),
        (7, (0, 1, 0)),
        (21, (0, 3, 0)),
        (26, (1, 0, 0)),
        (56, (2, 0, 0)),
    ],
)
def test_the_cheapest_cover_in_words(nights: int, cover: tuple[int, int, int]) -> None:
    assert cheapest_cover(nights, CLASSES[2].tariff) == cover


def test_a_period_over_the_turn_of_the_year_names_both() -> None:
    assert period_words(date(2025, 12, 30), date(2026, 1, 2)) == "30 December 2025\u20132 January 2026"


@given(size=st.sampled_from([1, 2, 3, 4]), nights=st.integers(0, 199))
def test_the_price_never_falls_as_nights_rise(size: int, nights: int) -> None:
    assert price(kept(size, JUNE_3 + timedelta(nights))) <= price(kept(size, JUNE_3 + timedelta(nights + 1)))


@given(
    size=st.sampled_from([1, 2, 3, 4]),
    cuts=st.lists(st.integers(1, 120), max_size=5),
    last=st.integers(0, 200),
)
def test_interim_bills_and_the_last_one_add_up_to_a_single_bill(
    size: int, cuts: list[int], last: int
) -> None:
    billed = Billed()
    for nights in [*sorted(cut for cut in cuts if cut < last), last]:
        until = JUNE_3 + timedelta(nights)
        lines, _ = stay_lines(kept(size, until, billed=billed), R1, vat_23)
        fresh = sum((line.net for line in lines if line.kind == "boarding"), D(0))
        billed = Billed(boarding=billed.boarding + fresh, until_on=until - timedelta(1))
    assert billed.boarding == price(kept(size, JUNE_3 + timedelta(last)))


# ---- another class, another card within a stay -----------------------------------------------------------------------


R2 = PriceSheet(
    "R2",
    {3: ClassPrices(D("2.20"), D("13.475"), D("46.75"), D("22.00"), D("15.40"), D("203.50"))},
    {},
    R1.on(JUNE_3).fixed,
)
FROM_JULY = Sheets(((date.min, R1.on(JUNE_3)), (date(2026, 7, 1), R2)))


def into_class(size_class: int, nights: int, **more: object) -> ClassStep:
    """After so many nights since 3 June."""
    return ClassStep(JUNE_3 + timedelta(nights), size_class, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stay", "expected"),
    [
        (kept(2, date(2026, 6, 23), classes=(into_class(3, 10),)), "29.20"),  # 10.95 + 18.25
        (kept(2, date(2026, 6, 23)), "21.90"),
        (kept(2, date(2026, 7, 1), classes=(into_class(3, 1),)), "42.50"),  # 1.20 + 42.50, limited
        (kept(3, date(2026, 7, 1), classes=(into_class(2, 27),)), "42.50"),
        (kept(2, date(2026, 6, 5), classes=(into_class(3, 1),)), "20.00"),  # the dearer least charge
        (kept(2, date(2026, 6, 5), classes=(into_class(3, 2),)), "12.00"),  # it leaves before the new class begins
        (kept(2, date(2026, 6, 23), classes=(into_class(3, 10), into_class(2, 10))), "21.90"),  # the last word
        (kept(2, date(2026, 6, 23), classes=(into_class(5, 10, agreed_night=D("6.50")),)), "75.95"),  # 10.95 + 65.00
    ],
)  # fmt: skip
def test_another_class_within_the_stay(stay: StayFacts, expected: str) -> None:
    assert price(stay) == D(expected)


def test_both_classes_stand_in_the_words_each_with_its_nights() -> None:
    changed = kept(2, date(2026, 6, 23), classes=(into_class(3, 10),), handed_back=True)
    assert boarding(changed) == [
        (
            "Boarding, 3\u201323 June 2026: class 2, 10 nights at 1 week + 3 nights (10.95); "
            "from 13 June 2026 class 3, 10 nights at 1 week + 3 nights (18.25)",
            D("29.20"),
        )
    ]
    (packing,) = stay_lines(changed, R1, vat_23)[1]
    assert (packing.words, packing.net) == ("Packing class 3", D("14.00"))
    limited = kept(2, date(2026, 7, 1), classes=(into_class(3, 1),))
    assert boarding(limited) == [
        (
            "Boarding, 3 June\u20131 July 2026: class 2, 1 night (1.20); from 4 June 2026 class 3, 27 nights at "
            "month price (42.50), limited to 42.50 as if at the dearest throughout",
            D("42.50"),
        )
    ]


def test_nights_at_one_price_that_lie_apart_are_covered_as_one_and_the_line_says_so() -> None:
    """Twelve nights of class 2 are a week and five, 13.35; five of class 3 are 10.00; the dearest throughout 30.50."""
    there_and_back = kept(2, JUNE_3 + timedelta(17), classes=(into_class(3, 6), into_class(2, 11)))
    ((words, net),) = boarding(there_and_back)
    assert net == D("23.35")
    assert words.endswith(
        "class 2, 6 nights (7.20), together 23.35 because nights at one price are covered as one"
    )


def test_another_card_within_the_stay_prices_its_own_nights() -> None:
    """Class 3, 25 June to 8 July: six nights at 2.00, a week at 13.475; 24.25 if nothing had changed."""
    thirteen = kept(3, date(2026, 7, 8), date(2026, 6, 25))
    assert price(thirteen) == D("24.25")
    assert boarding_price(thirteen, FROM_JULY) == D("25.48")
    before, _ = stay_lines(thirteen, FROM_JULY, vat_23)
    assert before[1].words == (
        "Boarding, 25 June\u20138 July 2026: class 3 by R1, 6 nights (12.00); "
        "from 1 July 2026 class 3 by R2, 7 nights at 1 week (13.48)"
    )


changes = st.lists(st.tuples(st.integers(0, 150), st.sampled_from([1, 2, 3, 4])), max_size=4)


@given(size=st.sampled_from([1, 2, 3, 4]), changed=changes, nights=st.integers(0, 160))
def test_with_changes_the_price_never_falls_and_is_never_above_the_dearest_class(
    size: int, changed: list[tuple[int, int]], nights: int
) -> None:
    steps = tuple(into_class(to, after) for after, to in sorted(changed))
    now, then = (kept(size, JUNE_3 + timedelta(n), classes=steps) for n in (nights, nights + 1))
    assert price(now) <= price(then)
    dearest = max([size, *(to for _, to in changed)])  # on the card a higher class is dearer in everything
    assert price(now) <= price(kept(dearest, JUNE_3 + timedelta(nights)))


@given(changed=changes, cuts=st.lists(st.integers(1, 120), max_size=4), last=st.integers(1, 200))
def test_interim_bills_add_up_when_only_nights_to_come_change_their_class(
    changed: list[tuple[int, int]], cuts: list[int], last: int
) -> None:
    billed, steps = Billed(), tuple(into_class(to, after) for after, to in sorted(changed))
    for nights in [*sorted(cut for cut in cuts if cut < last), last]:
        until = JUNE_3 + timedelta(nights)
        known = tuple(step for step in steps if step.from_night < until)
        lines, _ = stay_lines(kept(2, until, billed=billed, classes=known), R1, vat_23)
        fresh = sum((line.net for line in lines if line.kind == "boarding"), D(0))
        assert fresh >= 0
        billed = Billed(boarding=billed.boarding + fresh, until_on=until - timedelta(1))
    assert billed.boarding == price(kept(2, JUNE_3 + timedelta(last), classes=steps))
