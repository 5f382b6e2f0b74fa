"""Totals of documents, VAT once for each rate."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.tax import Amount, Line, VatGroup, totals


def line(quantity: str, price: str, base: str = "1", rate: str = "23") -> Line:
    return Line(Decimal(quantity), Decimal(price), "S", Decimal(rate), Decimal(base))


# A class 2 tree from 3 to 29 June, 21 nights of them in isolation.
ONE_TREE = [
    line("1", "12.00"),
    line("1", "25.50"),
    line("21", "0.60"),
    line("190", "42.00", "60"),
    line("20", "42.00", "60"),
    line("3", "1.50"),
    line("15", "42.00", "60"),
    line("1", "9.50"),
]
# The same tree with three spray rounds, twenty minutes not charged and a cap; a class 3 tree; a deposit.
TWO_TREES = [
    *ONE_TREE,
    line("7.5", "48.00", "60"),
    line("27.6", "47.50", "1000"),
    line("-20", "42.00", "60"),
    line("-1", "5.31"),
    line("1", "12.00"),
    line("1", "42.50"),
    line("130", "46.00", "60"),
    line("270", "58.00", "60"),
    line("240", "27.50", "1000"),
    line("5.0", "48.00", "60"),
    line("18.4", "47.50", "1000"),
    line("1", "18.00", rate="13.5"),
    line("-1", "5.00"),
]


def test_the_bill_of_one_tree() -> None:
    expected = ["12.00", "25.50", "12.60", "133.00", "14.00", "4.50", "10.50", "9.50"]
    assert [str(one.net) for one in ONE_TREE] == expected
    summed = totals(ONE_TREE)
    assert (summed.net_bt109, summed.vat_bt110, summed.due_bt115) == (
        Decimal("221.60"),
        Decimal("50.97"),
        Decimal("272.57"),
    )


def test_the_bill_of_two_trees_after_a_deposit() -> None:
    summed = totals([*TWO_TREES, line("-1", "243.90")])
    assert summed.vat_groups == (
        VatGroup("S", Decimal("23"), Decimal("387.34"), Decimal("89.09")),
        VatGroup("S", Decimal("13.5"), Decimal("18.00"), Decimal("2.43")),
    )
    assert (summed.net_bt109, summed.vat_bt110, summed.due_bt115) == (
        Decimal("405.34"),
        Decimal("91.52"),
        Decimal("496.86"),
    )


def test_the_bill_of_two_trees_with_the_deposit_as_security() -> None:
    summed = totals(TWO_TREES, prepaid=Decimal("300.00"))
    assert (summed.net_bt109, summed.gross_bt112, summed.due_bt115) == (
        Decimal("649.24"),
        Decimal("796.86"),
        Decimal("496.86"),
    )


@pytest.mark.parametrize(
    ("net", "vat"),
    [
        ("34.25", "7.88"),
        ("99.25", "22.83"),
        ("38.67", "8.89"),
        ("28.00", "6.44"),
        ("19.19", "4.41"),
        ("409.20", "94.12"),
    ],
)
def test_vat_of_single_amounts(net: str, vat: str) -> None:
    assert totals([line("1", net)]).vat_bt110 == Decimal(vat)


def test_a_stay_across_a_change_of_the_rate() -> None:
    summed = totals([line("1", "17.50", rate="23"), line("1", "19.25", rate="21")])
    assert [group.tax_bt117 for group in summed.vat_groups] == [Decimal("4.03"), Decimal("4.04")]
    assert summed.due_bt115 == Decimal("44.82")


def test_vat_is_rounded_on_the_document_and_not_on_the_line() -> None:
    assert totals([line("1", "0.33")] * 3).vat_bt110 == Decimal("0.23")


def test_a_negative_group_is_rounded_away_from_zero_as_a_positive_one() -> None:
    assert totals([line("1", "0.50", rate="1")]).vat_bt110 == Decimal("0.01")
    assert totals([line("-1", "0.50", rate="1")]).vat_bt110 == Decimal("-0.01")


def test_cash_rounding_changes_only_what_is_due() -> None:
    summed = totals([line("1", "403.95")], rounding=Decimal("-0.01"))
    assert (summed.gross_bt112, summed.due_bt115) == (Decimal("496.86"), Decimal("496.85"))


def test_reverse_charge_has_no_vat() -> None:
    summed = totals([Amount(Decimal("409.20"), "AE", Decimal(0))])
    assert (summed.vat_bt110, summed.due_bt115) == (Decimal("0.00"), Decimal("409.20"))


@pytest.mark.parametrize(("category", "rate"), [("AE", "23"), ("E", "13.5"), ("O", "1"), ("S", "-23")])
def test_a_rate_that_cannot_be_is_refused(category: str, rate: str) -> None:
    with pytest.raises(ValueError, match=f"VAT category {category} cannot have the rate {rate}"):
        totals([Amount(Decimal(1), category, Decimal(rate))])


def test_a_document_without_lines_is_zero() -> None:
    summed = totals([])
    assert (summed.gross_bt112, summed.due_bt115, summed.vat_groups) == (Decimal("0.00"), Decimal("0.00"), ())


def test_rates_written_differently_are_one_group() -> None:
    assert len(totals([line("1", "1.00", rate="23"), line("1", "1.00", rate="23.00")]).vat_groups) == 1


amounts = st.builds(
    Amount,
    st.decimals(-10_000, 10_000, places=2),
    st.just("S"),
    st.sampled_from([Decimal(23), Decimal("13.5"), Decimal(0)]),
)


@given(st.lists(amounts, max_size=20), st.lists(amounts, max_size=3), st.lists(amounts, max_size=3))
def test_totals_follow_from_their_parts(
    lines: list[Amount], allowances: list[Amount], charges: list[Amount]
) -> None:
    summed = totals(lines, allowances, charges, prepaid=Decimal("10.00"))
    assert summed.net_bt109 == summed.line_net_bt106 - summed.allowances_bt107 + summed.charges_bt108
    assert summed.net_bt109 == sum(group.taxable_bt116 for group in summed.vat_groups)
    assert summed.gross_bt112 == summed.net_bt109 + summed.vat_bt110
    assert summed.due_bt115 == summed.gross_bt112 - 10


@given(st.lists(amounts, max_size=20))
def test_a_credit_note_over_all_of_it_is_the_invoice_with_other_signs(lines: list[Amount]) -> None:
    turned = [Amount(-one.net, one.vat_category, one.vat_rate) for one in lines]
    assert totals(turned).due_bt115 == -totals(lines).due_bt115
