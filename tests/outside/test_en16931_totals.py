"""Totals against official example invoices of EN 16931.

Source: CEN validation artefacts for EN 16931, version 1.3.16, example files as named in each case. The
amounts are kept in data/en16931_cases.json; corrected cases say what was corrected and why. VAT in a second
currency (BT-111) does not follow from the lines and is not compared.
"""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from invoicing.tax import Amount, Line, Totals, totals

PUBLISHED = json.loads((Path(__file__).parent / "data" / "en16931_cases.json").read_text())
CASES = PUBLISHED["cases"] + PUBLISHED["corrected_cases"]


def lines_of(case: dict[str, Any]) -> list[Line]:
    return [
        Line(
            quantity=Decimal(line["quantity"]),
            net_price=Decimal(line["net_price"]),
            vat_category=line["vat_category"],
            vat_rate=Decimal(line["vat_rate"]),
            price_base_quantity=Decimal(line["price_base_quantity"]),
            allowances=tuple(Decimal(amount) for amount in line["allowances"]),
            charges=tuple(Decimal(amount) for amount in line["charges"]),
        )
        for line in case["lines"]
    ]


def amounts_of(rows: list[dict[str, str]]) -> list[Amount]:
    return [Amount(Decimal(row["amount"]), row["vat_category"], Decimal(row["vat_rate"])) for row in rows]


def totals_of(case: dict[str, Any]) -> Totals:
    return totals(
        lines_of(case),
        amounts_of(case["allowances"]),
        amounts_of(case["charges"]),
        prepaid=Decimal(case["prepaid"] or 0),
        rounding=Decimal(case["rounding"] or 0),
    )


def test_all_published_cases_are_there() -> None:
    assert len(CASES) == 5


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["source"].rpartition("/")[2])
def test_line_nets(case: dict[str, Any]) -> None:
    assert [line.net for line in lines_of(case)] == [Decimal(line["expected_net"]) for line in case["lines"]]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["source"].rpartition("/")[2])
def test_document_totals(case: dict[str, Any]) -> None:
    summed = totals_of(case)
    ours = {
        "bt106": summed.line_net_bt106,
        "bt107": summed.allowances_bt107,
        "bt108": summed.charges_bt108,
        "bt109": summed.net_bt109,
        "bt110": summed.vat_bt110,
        "bt112": summed.gross_bt112,
        "bt113": summed.prepaid_bt113,
        "bt114": summed.rounding_bt114,
        "bt115": summed.due_bt115,
    }
    assert ours == {term: Decimal(case["expected"][term] or 0) for term in ours}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["source"].rpartition("/")[2])
def test_vat_breakdown(case: dict[str, Any]) -> None:
    ours = {(g.vat_category, g.vat_rate, g.taxable_bt116, g.tax_bt117) for g in totals_of(case).vat_groups}
    assert ours == {
        (row["vat_category"], Decimal(row["vat_rate"]), Decimal(row["taxable"]), Decimal(row["tax"]))
        for row in case["expected_vat"]
    }
