"""What the database itself refuses, asked round the actions, on both engines."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction

from care.models import LedgerEntry
from invoicing.actions.payments import record_payment
from invoicing.models import Allocation, Invoice, InvoiceAccount, InvoiceLine, InvoiceTax, LineEntry, Payment
from nursery.models import Paper, Person
from tests.factories import PersonFactory
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, an_issued_invoice, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def bill(office: Person) -> Invoice:
    payer = a_customer()
    EntryFactory(stay=StayFactory(owner=payer))
    return an_issued_invoice(payer, by=office)


@pytest.fixture
def payment(bill: Invoice, office: Person) -> Payment:
    on = dt.date(2026, 7, 1)
    return record_payment(
        party=bill.payer, amount=Decimal("10.00"), on=on, way="bank", at=at(1, month=7), by=office
    )


def refused(sql: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


@pytest.mark.parametrize(
    "change",
    [
        "net = net + 1", "number = 'I-2026-9999'", "issued_on = '2026-01-01'", "issued_at = NULL",
        "payer_id = payer_id + 1", "buyer = '{}'", "due_on = '2027-01-01'", "fingerprint = 'x'",
    ],
)  # fmt: skip
def test_no_field_of_an_issued_invoice_changes(bill: Invoice, change: str) -> None:
    refused(f"UPDATE invoicing_invoice SET {change} WHERE id = {bill.pk}")


@pytest.mark.parametrize("table", ["invoicing_invoiceline", "invoicing_lineentry", "invoicing_invoicetax"])
def test_nothing_below_an_issued_invoice_goes(bill: Invoice, table: str) -> None:
    refused(f"DELETE FROM {table} WHERE invoice_id = {bill.pk}")


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("invoicing_invoiceline", "words = 'other'"),
        ("invoicing_invoiceline", "net = net - 1"),
        ("invoicing_invoicetax", "tax = 0"),
        ("invoicing_lineentry", "line_id = line_id"),
    ],
)
def test_nothing_below_an_issued_invoice_changes(bill: Invoice, table: str, change: str) -> None:
    refused(f"UPDATE {table} SET {change} WHERE invoice_id = {bill.pk}")


def test_an_issued_invoice_is_not_deleted(bill: Invoice) -> None:
    refused(f"DELETE FROM invoicing_invoice WHERE id = {bill.pk}")
    with pytest.raises(IntegrityError), transaction.atomic():
        bill.lines.all().delete()


def test_no_line_and_no_vat_sum_is_added(bill: Invoice) -> None:
    line = bill.lines.first()
    assert line is not None
    line.pk, line.position = None, 99
    with pytest.raises(IntegrityError), transaction.atomic():
        line.save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        InvoiceTax.objects.create(invoice=bill, vat_key="R", percent="13.5", net=1, tax=1)


def test_a_billed_entry_never_changes_and_is_on_one_line_only(bill: Invoice) -> None:
    entry = LedgerEntry.objects.get()
    refused(f"UPDATE care_ledgerentry SET quantity = 1 WHERE id = {entry.pk}")
    refused(f"DELETE FROM care_ledgerentry WHERE id = {entry.pk}")
    stay = StayFactory(owner=bill.payer)
    draft = Invoice.objects.create(
        payer=bill.payer, drawn_at=at(1), drawn_by=bill.drawn_by, up_to_on=at(1).date(), fingerprint="x",
        supply_from_on=at(1).date(), supply_until_on=at(1).date(), currency="EUR", net=1, tax=0, gross=1,
    )  # fmt: skip
    line = InvoiceLine.objects.create(
        invoice=draft, position=1, kind="labour", tree=stay.tree, stay=stay, tree_words="x", words="x",
        from_on=at(1).date(), until_on=at(1).date(), quantity=1, price_net=1, net=1, vat_key="S", vat_percent=23,
    )  # fmt: skip
    with pytest.raises(IntegrityError), transaction.atomic():
        LineEntry.objects.create(invoice=draft, line=line, entry=entry)


def test_intake_and_packing_are_billed_once_a_stay(bill: Invoice) -> None:
    intake = bill.lines.filter(kind="intake").first()
    assert intake is not None
    draft = Invoice.objects.create(
        payer=bill.payer, drawn_at=at(1), drawn_by=bill.drawn_by, up_to_on=at(1).date(), fingerprint="x",
        supply_from_on=at(1).date(), supply_until_on=at(1).date(), currency="EUR", net=1, tax=0, gross=1,
    )  # fmt: skip
    intake.pk, intake.invoice = None, draft
    with pytest.raises(IntegrityError), transaction.atomic():
        intake.save(force_insert=True)


def test_an_invoice_is_never_negative_and_never_half_issued(bill: Invoice) -> None:
    draft = {
        "payer": a_customer("Una Kehoe"), "drawn_at": at(1), "drawn_by": bill.drawn_by, "up_to_on": at(1).date(),
        "fingerprint": "x", "supply_from_on": at(1).date(), "supply_until_on": at(1).date(), "currency": "EUR",
        "net": 1, "tax": 0,
    }  # fmt: skip
    with pytest.raises(IntegrityError), transaction.atomic():
        Invoice.objects.create(**draft, gross=-1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Invoice.objects.create(**draft, gross=1, number="I-2026-0777")


def test_two_invoices_never_bear_one_number(bill: Invoice) -> None:
    assert Invoice._meta.get_field("number").unique
    other = an_issued_invoice(a_customer("Una Kehoe"), by=PersonFactory(office=True))
    assert {bill.number, other.number} == {"I-2026-0001", "I-2026-0002"}
    assert Paper.objects.filter(kind="invoice").count() == 2


def test_payments_and_what_they_are_set_against_are_only_added(payment: Payment) -> None:
    refused(f"UPDATE invoicing_payment SET amount_gross = 1 WHERE id = {payment.pk}")
    refused(f"DELETE FROM invoicing_payment WHERE id = {payment.pk}")
    allocation = Allocation.objects.get()
    refused(f"UPDATE invoicing_allocation SET amount_gross = 1 WHERE id = {allocation.pk}")
    refused(f"DELETE FROM invoicing_allocation WHERE id = {allocation.pk}")


@pytest.mark.parametrize("change", ["paid_gross = gross + 1", "paid_gross = -1"])
def test_never_more_is_paid_than_billed(bill: Invoice, change: str) -> None:
    account = InvoiceAccount.objects.get(invoice=bill)
    refused(f"UPDATE invoicing_invoiceaccount SET {change} WHERE id = {account.pk}")


def test_never_more_of_a_payment_is_set_against_bills_than_came(payment: Payment) -> None:
    refused(
        f"UPDATE invoicing_paymentaccount SET allocated_gross = gross + 1 WHERE payment_id = {payment.pk}"
    )


def test_a_payment_is_more_than_nothing(bill: Invoice, office: Person) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(
            party=bill.payer,
            received_on=at(1).date(),
            amount_gross=0,
            way="bank",
            recorded_at=at(1),
            recorded_by=office,
        )
