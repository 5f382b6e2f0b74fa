"""The three sums as at a day. One small nursery, every figure worked by hand."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from invoicing.actions.drafts import draw_up
from invoicing.actions.payments import record_payment, use_credit
from invoicing.overviews.money import MoneyPage, money_page
from nursery.models import Person
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, an_issued_invoice, at

pytestmark = pytest.mark.django_db
D = Decimal
JULY_10 = dt.date(2026, 7, 10)


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def summer(office: Person) -> None:
    """Nuala: class 2 since 3 June, billed to 30 June (12.00 + 25.50 = 37.50, gross 46.13); pays 50.00 on 5 July.
    Una: class 3 since 3 June, billed to 16 June (12.00 + 24.50 = 36.50, gross 44.90); pays nothing.
    Fergal: class 1 since 1 July, nothing billed; a draft lies ready."""
    nuala, una, fergal = a_customer("Nuala"), a_customer("Una"), a_customer("Fergal")
    an_issued_invoice(una, on=dt.date(2026, 6, 16), by=office, size_class=3)
    an_issued_invoice(nuala, on=dt.date(2026, 6, 30), by=office, size_class=2)
    record_payment(
        party=nuala, amount=D("50.00"), on=dt.date(2026, 7, 5), way="bank", at=at(5, month=7), by=office
    )
    StayFactory(owner=fergal, size_class=1, received_at=at(1, month=7))
    draw_up(payer=fergal, up_to_on=dt.date(2026, 7, 2), at=at(2, month=7), by=office)


def three(page: MoneyPage) -> list[tuple[Decimal, Decimal]]:
    return [(one.net, one.gross) for one in (page.unbilled_sums, page.owed_sums, page.held_sums)]


def test_the_three_sums_of_today(summer: None) -> None:
    """Unbilled on 10 July: Nuala 38 nights, 36.45 less 25.50 = 10.95 (13.47); Una 38 nights, 60.75 less 24.50 = 36.25
    (44.59); Fergal 12.00 and 10 nights 7.30, at least 8.00 = 20.00 (24.60)."""
    page = money_page(JULY_10, JULY_10)
    assert [(one.payer.name, one.net, one.gross) for one in page.unbilled] == [
        ("Fergal", D("20.00"), D("24.60")),
        ("Nuala", D("10.95"), D("13.47")),
        ("Una", D("36.25"), D("44.59")),
    ]
    assert three(page) == [(D("67.20"), D("82.66")), (D("36.50"), D("44.90")), (D("3.87"), D("3.87"))]


def test_a_draft_counts_as_unbilled(summer: None) -> None:
    fergal = money_page(JULY_10, JULY_10).unbilled[0]
    assert fergal.draft is not None
    assert fergal.gross == D("24.60")


def test_what_is_overdue_is_said(summer: None) -> None:
    owed = money_page(JULY_10, JULY_10).owed
    assert [(one.number, one.due_on, one.days_over) for one in owed] == [
        ("I-2026-0001", dt.date(2026, 6, 30), 10)
    ]
    assert money_page(JULY_10, JULY_10).overdue == D("44.90")
    assert money_page(dt.date(2026, 6, 30), JULY_10).overdue == D("0.00")


def test_the_end_of_june_before_the_payment(summer: None) -> None:
    """Una's 28 nights 42.50 less 24.50 are unbilled; both bills are owed; nothing is held."""
    assert three(money_page(dt.date(2026, 6, 30), JULY_10)) == [
        (D("18.00"), D("22.14")),
        (D("74.00"), D("91.03")),
        (D("0.00"), D("0.00")),
    ]


def test_the_middle_of_june_before_nualas_bill(summer: None) -> None:
    """Nuala's stay is unbilled again: 12.00 and 16 nights, 17.10. Una's 16 nights are 28.50 less 24.50."""
    page = money_page(dt.date(2026, 6, 18), JULY_10)
    assert [(one.payer.name, one.net) for one in page.unbilled] == [("Nuala", D("29.10")), ("Una", D("4.00"))]
    assert three(page)[1:] == [(D("36.50"), D("44.90")), (D("0.00"), D("0.00"))]


def test_before_anything_there_is_nothing(summer: None) -> None:
    assert three(money_page(dt.date(2026, 6, 2), JULY_10)) == [(D("0.00"), D("0.00"))] * 3


def test_a_credit_used_later_was_held_until_then(summer: None, office: Person) -> None:
    nuala = money_page(JULY_10, JULY_10).held[0].party
    later = an_issued_invoice(nuala, on=dt.date(2026, 7, 20), by=office, size_class=2)
    record_payment(
        party=nuala, amount=later.gross, on=dt.date(2026, 7, 21), way="bank", at=at(21, month=7), by=office
    )
    assert money_page(JULY_10, dt.date(2026, 7, 21)).held_sums.gross == D("3.87")


def test_payments_written_down_in_another_order_than_they_came(office: Person) -> None:
    """30.00 came on 20 June, the rest of 67.04 on 10 June and was written down last: until the 20th 30.00 was open."""
    nuala = a_customer("Nuala")
    bill = an_issued_invoice(
        nuala, on=dt.date(2026, 5, 31), by=office, size_class=3, received_at=at(4, month=5)
    )
    assert bill.gross == D("67.04")
    for amount, on, written in (
        ("30.00", dt.date(2026, 6, 20), at(20)),
        ("37.04", dt.date(2026, 6, 10), at(25)),
    ):
        record_payment(party=nuala, amount=D(amount), on=on, way="bank", at=written, by=office)
    owed = {day: money_page(dt.date(2026, 6, day), JULY_10).owed_sums.gross for day in (9, 15, 20)}
    assert owed == {9: D("67.04"), 15: D("30.00"), 20: D("0.00")}


def test_a_credit_used_on_an_older_invoice_last_was_held_until_the_newer_was_issued(office: Person) -> None:
    """Received on 1 June: the bill of 20 June is paid by it, as named, and 10.00 go to that of 31 May afterwards."""
    nuala = a_customer("Nuala")
    old = an_issued_invoice(
        nuala, on=dt.date(2026, 5, 31), by=office, size_class=3, received_at=at(4, month=5)
    )
    new = an_issued_invoice(nuala, on=dt.date(2026, 6, 20), by=office, size_class=2)
    told = {"party": nuala, "on": dt.date(2026, 6, 1), "way": "bank", "by": office}
    record_payment(amount=new.gross + D("10.00"), invoice=new, at=at(21), **told)
    use_credit(invoice=old, at=at(22), by=office)
    held = {day: money_page(dt.date(2026, 6, day), JULY_10).held_sums.gross for day in (15, 20)}
    assert held == {15: new.gross, 20: D("0.00")}


def test_the_page_asks_as_often_for_many_as_for_few(office: Person) -> None:
    _one_of_each("Nuala", office)
    money_page(JULY_10, JULY_10)
    few = _queries()
    for name in ("Una", "Fergal", "Eilis", "Padraig"):
        _one_of_each(name, office)
    assert _queries() == few <= 29


def _one_of_each(name: str, office: Person) -> None:
    payer = a_customer(name)
    an_issued_invoice(payer, on=dt.date(2026, 6, 30), by=office)
    StayFactory(owner=payer, isolation_agreed_on=dt.date(2026, 6, 4))
    record_payment(
        party=a_customer(f"{name} B"), amount=D(1), on=JULY_10, way="cash", at=at(10, month=7), by=office
    )


def _queries() -> int:
    with CaptureQueriesContext(connection) as asked:
        money_page(JULY_10, JULY_10)
    return len(asked)


@pytest.mark.parametrize(
    ("table", "index"),
    [
        ("boarding_stay", "stays_not_finally_billed"),
        ("invoicing_invoice", ""),
        ("care_ledgerentry", "ledger_not_billed"),
        ("invoicing_invoiceaccount", "invoices_"),
        ("invoicing_paymentaccount", "payments_by_using_up"),
    ],
)
def test_closed_history_is_not_walked_through(summer: None, table: str, index: str) -> None:
    """The database itself says how it looks: by the index of what is open."""
    with CaptureQueriesContext(connection) as asked:
        money_page(JULY_10, JULY_10)
    sql = next(query["sql"] for query in asked.captured_queries if f'FROM "{table}"' in query["sql"])
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}")
        ways = [row[-1] for row in cursor.fetchall()]
    assert [way for way in ways if table in way and f"USING INDEX {index}" in way] != []
