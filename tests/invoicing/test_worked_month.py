"""The worked month to its last cent: two trees, one bill, and the statement that ends at nothing."""

import datetime as dt
from decimal import Decimal as D

import pytest

from invoicing.actions.drafts import draw_up
from nursery.models import VatRate
from tests.factories_invoicing import at
from tests.worked_month import JUNE_30, worked_month

pytestmark = [pytest.mark.django_db, pytest.mark.engine]

PINE_BOARDING = "Boarding class 3, 3–30 June 2026, 28 nights at month price (stay continues)"
LINES = [
    ("DN-0412", "Intake and condition report", "1.0", "12.0000", 1, "12.00", "S"),
    ("DN-0412", "Boarding class 2, 3–29 June 2026, 26 nights at month price", "1.0", "25.5000", 1, "25.50", "S"),
    ("DN-0412", "Isolation surcharge, 3–23 June 2026", "21.0", "0.6000", 1, "12.60", "S"),
    ("DN-0412", "Scrubbing (95 + 65 + 30)", "190.0", "42.0000", 60, "133.00", "S"),
    ("DN-0412", "Jetting (10 + 10)", "20.0", "42.0000", 60, "14.00", "S"),
    ("DN-0412", "Spraying (2.5 + 2.5 + 2.5)", "7.5", "48.0000", 60, "6.00", "S"),
    ("DN-0412", "Product", "27.6", "47.5000", 1000, "1.31", "S"),
    ("DN-0412", "Wash material", "3.0", "1.5000", 1, "4.50", "S"),
    ("DN-0412", "Inspection", "15.0", "42.0000", 60, "10.50", "S"),
    ("DN-0412", "Not charged: instruction of a new grower, 4 June", "-20.0", "42.0000", 60, "-14.00", "S"),
    ("DN-0412", "Above agreed cap of 150.00, not charged", "-1.0", "5.3100", 1, "-5.31", "S"),
    ("DN-0412", "Packing class 2", "1.0", "9.5000", 1, "9.50", "S"),
    ("DN-0413", "Intake and condition report", "1.0", "12.0000", 1, "12.00", "S"),
    ("DN-0413", PINE_BOARDING, "1.0", "42.5000", 1, "42.50", "S"),
    ("DN-0413", "Needle cleaning (85 + 45)", "130.0", "46.0000", 60, "99.67", "S"),
    ("DN-0413", "Wiring (150 + 120)", "270.0", "58.0000", 60, "261.00", "S"),
    ("DN-0413", "Wire", "240.0", "27.5000", 1000, "6.60", "S"),
    ("DN-0413", "Spraying", "5.0", "48.0000", 60, "4.00", "S"),
    ("DN-0413", "Product", "18.4", "47.5000", 1000, "0.87", "S"),
    ("DN-0413", "Accent plant", "1.0", "18.0000", 1, "18.00", "R"),
    ("DN-0413", "Goodwill: a missed call", "-1.0", "5.0000", 1, "-5.00", "S"),
]  # fmt: skip


def told(draft):
    names = ("tree_words", "words", "quantity", "price_net", "base_quantity", "net", "vat_key")
    rows = draft.lines.order_by("position").values_list(*names)
    return [(tree[:7], words, str(many), str(price), base, str(net), key)
            for tree, words, many, price, base, net, key in rows]  # fmt: skip


def test_the_bill_of_june():
    VatRate.objects.create(key="R", valid_from=dt.date(2020, 1, 1), percent="13.5")
    month = worked_month()
    draft = draw_up(payer=month.payer, up_to_on=JUNE_30, at=at(1, 9, month=7), by=month.office)
    assert told(draft) == LINES
    assert (draft.net, draft.tax, draft.gross) == (D("649.24"), D("147.62"), D("796.86"))
