"""Payments in parts, over the bill, named or oldest first. Figures worked by hand."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from invoicing.actions.drafts import draw_up
from invoicing.actions.payments import record_payment, use_credit
from invoicing.models import Allocation, Invoice, InvoiceAccount, Payment, PaymentAccount
from invoicing.overviews.account import account_rows
from invoicing.overviews.money import credit_of
from nursery.models import AuditRow, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, an_issued_invoice, at

pytestmark = pytest.mark.django_db
D = Decimal
JULY_10 = dt.date(2026, 7, 10)


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def may(payer: Party, office: Person) -> Invoice:
    """Intake 12.00 and a month of class 3 42.50: 54.50, with VAT 67.04 (12.54)."""
    return an_issued_invoice(
        payer, on=dt.date(2026, 5, 31), by=office, size_class=3, received_at=at(4, month=5)
    )


@pytest.fixture
def june(payer: Party, may: Invoice, office: Person) -> Invoice:
    """Another tree, class 2: 12.00 and 25.50 make 37.50, and for the first two months and two nights so far."""
    return an_issued_invoice(payer, on=dt.date(2026, 6, 30), by=office, size_class=2)


def pay(
    payer: Party,
    amount: str,
    by: Person,
    invoice: Invoice | None = None,
    on: dt.date = JULY_10,
    seconds: int = 0,
) -> Payment:
    when = at(10, month=7) + dt.timedelta(seconds=seconds)
    return record_payment(party=payer, amount=D(amount), on=on, way="bank", at=when, by=by, invoice=invoice)


def paid(invoice: Invoice) -> Decimal:
    return InvoiceAccount.objects.get(invoice=invoice).paid_gross


def test_the_bills_the_payments_are_for(may: Invoice, june: Invoice) -> None:
    assert may.gross == D("67.04")
    assert june.gross == D("103.32")  # 37.50, and 58 nights for 89.00 less 42.50, make 84.00; VAT 19.32


def test_without_a_purpose_the_oldest_bill_is_paid_first(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    pay(payer, "100.00", office)
    assert (paid(may), paid(june)) == (D("67.04"), D("32.96"))
    assert InvoiceAccount.objects.get(invoice=may).settled_on == JULY_10
    assert InvoiceAccount.objects.get(invoice=june).settled_on is None


def test_the_purpose_named_by_the_payer_comes_first(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    pay(payer, "90.00", office, invoice=june)
    assert (paid(may), paid(june)) == (D("0.00"), D("90.00"))


def test_in_parts_until_it_is_settled(payer: Party, may: Invoice, office: Person) -> None:
    for minute, amount in enumerate(("30.00", "30.00", "7.04")):
        pay(payer, amount, office, seconds=minute * 60)
    account = InvoiceAccount.objects.get(invoice=may)
    assert (account.paid_gross, account.settled_on) == (D("67.04"), JULY_10)
    assert Allocation.objects.filter(invoice=may).count() == 3


def test_the_same_payment_within_a_minute_is_the_same_press(
    payer: Party, may: Invoice, office: Person
) -> None:
    pay(payer, "30.00", office)
    with pytest.raises(Refused, match="recorded a moment ago") as refused:
        pay(payer, "30.00", office, seconds=59)
    assert (refused.value.code, refused.value.field) == ("just-recorded", "amount")
    assert paid(may) == D("30.00")
    pay(payer, "30.01", office, seconds=59)
    pay(payer, "30.00", office, on=dt.date(2026, 7, 9), seconds=59)
    assert Payment.objects.count() == 3


def test_what_is_over_stays_as_credit_also_when_an_invoice_was_named(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    pay(payer, "67.74", office, invoice=may)
    assert credit_of(payer) == D("0.70")
    assert paid(june) == D("0.00")
    assert PaymentAccount.objects.get().used_up_on is None


def test_credit_is_set_against_a_later_bill_when_asked(payer: Party, may: Invoice, office: Person) -> None:
    pay(payer, "70.00", office)
    june = an_issued_invoice(payer, on=dt.date(2026, 7, 31), by=office, size_class=2)
    assert use_credit(invoice=june, at=at(31, month=7), by=office) == D("2.96")
    assert (paid(june), credit_of(payer)) == (D("2.96"), D("0.00"))
    assert PaymentAccount.objects.get().used_up_on == dt.date(2026, 7, 31)
    with pytest.raises(Refused) as refused:
        use_credit(invoice=june, at=at(31, month=7), by=office)
    assert refused.value.code == "no-credit"


def test_money_before_any_bill_is_credit(payer: Party, office: Person) -> None:
    pay(payer, "50.00", office)
    assert credit_of(payer) == D("50.00")


@pytest.mark.parametrize(
    ("amount", "on", "code", "field"),
    [
        ("0", JULY_10, "no-amount", "amount"),
        ("-5", JULY_10, "no-amount", "amount"),
        ("1.005", JULY_10, "no-amount", "amount"),
        ("5.00", dt.date(2026, 7, 11), "future", "received_on"),
    ],
)
def test_amounts_and_days_that_cannot_be(
    payer: Party, office: Person, amount: str, on: dt.date, code: str, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        pay(payer, amount, office, on=on)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert not Payment.objects.exists()


def test_a_settled_bill_a_draft_and_anothers_bill_take_no_payment(
    payer: Party, may: Invoice, office: Person
) -> None:
    pay(payer, "67.04", office)
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=JULY_10, at=at(10, month=7), by=office)
    other = an_issued_invoice(a_customer("Una Kehoe"), on=JULY_10, by=office)
    codes = []
    for invoice in (may, draft, other):
        with pytest.raises(Refused) as refused:
            pay(payer, "1.00", office, invoice=invoice)
        codes.append(refused.value.code)
    assert codes == ["settled", "no-invoice", "other-payer"]
    assert Payment.objects.count() == 1


def test_a_payment_is_in_the_audit_trail(payer: Party, may: Invoice, office: Person) -> None:
    pay(payer, "10.00", office)
    row = AuditRow.objects.get(verb="recorded a payment")
    assert row.after == {"received_on": "2026-07-10", "set_against": {"I-2026-0001": "10.00"}}


def test_the_account_runs_to_the_balance(payer: Party, may: Invoice, june: Invoice, office: Person) -> None:
    pay(payer, "100.00", office)
    rows = [(row.words, row.billed, row.paid, row.balance) for row in account_rows(payer)]
    assert rows == [
        ("Invoice I-2026-0001", D("67.04"), None, D("67.04")),
        ("Invoice I-2026-0002", D("103.32"), None, D("170.36")),
        ("Payment, bank transfer", None, D("100.00"), D("70.36")),
    ]


class PaymentsAddUp(TestCase):
    @settings(max_examples=12)
    @given(amounts=st.lists(st.decimals("0.01", "90.00", places=2), min_size=1, max_size=6))
    def test_what_is_owed_less_what_is_held_is_bills_less_payments(self, amounts: list[Decimal]) -> None:
        payer, office = a_customer(), PersonFactory(office=True)
        bills = [
            an_issued_invoice(payer, on=dt.date(2026, 6, day), by=office, size_class=2) for day in (10, 20)
        ]
        for minute, amount in enumerate(amounts):
            when = at(10, month=7) + dt.timedelta(minutes=minute)
            record_payment(party=payer, amount=amount, on=JULY_10, way="bank", at=when, by=office)
        owed = sum((bill.gross - paid(bill) for bill in bills), D(0))
        assert owed - credit_of(payer) == sum((bill.gross for bill in bills), D(0)) - sum(amounts, D(0))
        assert list(account_rows(payer))[-1].balance == owed - credit_of(payer)
