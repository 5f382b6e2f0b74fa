"""Aged debts: each part begins and ends on its day."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from invoicing.actions.payments import record_payment
from invoicing.overviews.aged import aged
from invoicing.overviews.money import money_page
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at

pytestmark = pytest.mark.django_db
D = Decimal
DUE = dt.date(2026, 6, 14)  # 14 days after 31 May


def parts_on(day: dt.date) -> list[tuple[str, list[str]]]:
    page = money_page(day, dt.date(2026, 12, 31))
    rows = aged(page.owed)
    return [
        (row.party.name, [str(one) for one in (row.not_due, row.to_30, row.to_60, row.to_90, row.older, row.together)])
        for row in rows
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("days", "part"), [(-1, 0), (0, 0), (1, 1), (30, 1), (31, 2), (60, 2), (61, 3), (90, 3), (91, 4)]
)
def test_a_bill_grows_old_day_by_day(days: int, part: int) -> None:
    a_bill(a_customer(), "10.00", on=dt.date(2026, 5, 31))
    expected = ["0.00"] * 5
    expected[part] = "10.00"
    assert parts_on(DUE + dt.timedelta(days=days)) == [("Nuala Brackenridge", [*expected, "10.00"])]


def test_by_customer_as_at_a_day_before_a_payment_and_after_it() -> None:
    nuala, una = a_customer(), a_customer("Una Kehoe")
    a_bill(nuala, "120.00", on=dt.date(2026, 5, 31))
    a_bill(nuala, "496.86", on=dt.date(2026, 6, 30))
    a_bill(una, "44.90", on=dt.date(2026, 4, 30))
    record_payment(
        party=nuala, amount=D("300.00"), on=dt.date(2026, 7, 20), way="bank", at=at(20, month=7),
        by=PersonFactory(office=True),
    )  # fmt: skip
    assert parts_on(dt.date(2026, 7, 15)) == [
        ("Nuala Brackenridge", ["0.00", "496.86", "120.00", "0.00", "0.00", "616.86"]),
        ("Una Kehoe", ["0.00", "0.00", "0.00", "44.90", "0.00", "44.90"]),
    ]
    assert parts_on(dt.date(2026, 7, 20))[0][1] == ["0.00", "316.86", "0.00", "0.00", "0.00", "316.86"]


def test_on_the_page_with_totals_and_as_a_file(client: Client) -> None:
    client.force_login(PersonFactory(office=True))
    a_bill(a_customer(), "120.00", on=dt.date(2026, 5, 31))
    a_bill(a_customer("Una Kehoe"), "44.90", on=dt.date(2026, 5, 31))
    with time_machine.travel(at(20, month=7), tick=False):
        assert "164.90" in client.get(reverse("money")).content.decode()
        lines = client.get(reverse("money") + "?csv=aged&on=2026-07-14").content.decode().splitlines()
    assert lines[1:3] == [
        "Nuala Brackenridge,0.00,120.00,0.00,0.00,0.00,120.00,0.00",
        "Una Kehoe,0.00,44.90,0.00,0.00,0.00,44.90,0.00",
    ]
