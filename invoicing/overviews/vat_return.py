"""Figures for the VAT return of a period, with the documents behind each: what was charged, at which key and rate.

A credit note counts in its own period. The VAT of a deposit counts on the day its payment came, or on that of its
invoice, as the nursery's setting says; what the law asks where you are, your accountant knows.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from invoicing.deposits import parts_of
from invoicing.models import Allocation, CreditNote, CreditTax, Invoice, InvoiceTax, WriteOff
from invoicing.overviews.deposits import IN_MONEY
from invoicing.overviews.journal import Period
from nursery.models import Nursery
from nursery.money import ZERO, cents

AT_RECEIPT = "receipt"


@dataclass(frozen=True)
class VatRow:
    """One document, or one payment of a deposit, at one key and rate."""

    day: dt.date
    document: str
    words: str
    party: str
    key: str
    percent: Decimal
    net: Decimal
    tax: Decimal
    invoice: int


@dataclass(frozen=True)
class Figure:
    """What one key and rate come to."""

    key: str
    percent: Decimal
    net: Decimal
    tax: Decimal


@dataclass(frozen=True)
class WrittenOff:
    """A bad debt of the period: whether its VAT can be claimed back is not decided here."""

    day: dt.date
    invoice: int
    number: str
    party: str
    gross: Decimal
    tax: Decimal


@dataclass(frozen=True)
class VatReturn:
    """All of a period."""

    period: Period
    rows: tuple[VatRow, ...]
    written_off: tuple[WrittenOff, ...]
    at_receipt: bool

    @property
    def figures(self) -> list[Figure]:
        """By key and rate, the highest rate first."""
        sums: dict[tuple[str, Decimal], list[Decimal]] = defaultdict(lambda: [ZERO, ZERO])
        for row in self.rows:
            sums[row.key, row.percent][0] += row.net
            sums[row.key, row.percent][1] += row.tax
        ordered = sorted(sums.items(), key=lambda pair: (-pair[0][1], pair[0][0]))
        return [Figure(key, percent, net, tax) for (key, percent), (net, tax) in ordered]

    @property
    def net(self) -> Decimal:
        return sum((row.net for row in self.rows), ZERO)

    @property
    def tax(self) -> Decimal:
        return sum((row.tax for row in self.rows), ZERO)


def vat_return(period: Period) -> VatReturn:
    """The figures of the period: eight queries, however many documents."""
    at_receipt = Nursery.here().deposit_vat_on == AT_RECEIPT
    rows = [*_invoices(period, at_receipt), *_credit_notes(period, at_receipt)]
    rows += _deposits_received(period) if at_receipt else ()
    return VatReturn(
        period=period,
        rows=tuple(sorted(rows, key=lambda one: (one.day, one.document, one.key))),
        written_off=tuple(_written_off(period)),
        at_receipt=at_receipt,
    )


def period_of(day: dt.date, months: int) -> Period:
    """The whole period of so many months, counted from January, in which the day lies.

    >>> period_of(dt.date(2026, 6, 17), 2).from_on
    datetime.date(2026, 5, 1)
    """
    first = (day.month - 1) // months * months + 1
    begins, after = dt.date(day.year, first, 1), first + months
    ends = dt.date(day.year + (after - 1) // 12, (after - 1) % 12 + 1, 1) - dt.timedelta(days=1)
    return Period(begins, ends)


def _invoices(period: Period, at_receipt: bool) -> Iterator[VatRow]:
    taxes = InvoiceTax.objects.filter(period.of("invoice__issued_on"), invoice__issued_at__isnull=False)
    if at_receipt:
        taxes = taxes.exclude(invoice__kind=Invoice.Kind.DEPOSIT)
    for one in taxes.select_related("invoice__payer"):
        bill = one.invoice
        assert bill.issued_on is not None
        told = (bill.issued_on, str(bill.number), bill.get_kind_display(), str(bill.payer))
        yield VatRow(*told, one.vat_key, one.percent, one.net, one.tax, bill.pk)


def _credit_notes(period: Period, at_receipt: bool) -> Iterator[VatRow]:
    taxes = CreditTax.objects.filter(period.of("credit__issued_on"))
    if at_receipt:
        taxes = taxes.exclude(credit__invoice__kind=Invoice.Kind.DEPOSIT)
    for one in taxes.select_related("credit__payer", "credit__invoice"):
        note = one.credit
        told = (note.issued_on, note.number, f"Credit note to {note.invoice.number}", str(note.payer))
        yield VatRow(*told, one.vat_key, one.percent, -one.net, -one.tax, note.invoice_id)


def _deposits_received(period: Period) -> Iterator[VatRow]:
    """What was paid on deposits, and what was taken off them again, each with the VAT it contains.

    The VAT is that of all that is paid so far less what counted before, so that it never adds up to more than the
    deposit's. A credit note over a paid deposit takes its money off: that is its row.
    """
    paid: dict[int, Decimal] = defaultdict(lambda: ZERO)
    notes = _notes_to_deposits(period)
    moved = Allocation.objects.filter(period.of("since_on"), kind__in=IN_MONEY, invoice__kind="deposit")
    rows = Allocation.objects.filter(invoice__in=moved.values("invoice"), kind__in=IN_MONEY)
    rows = rows.filter(since_on__lte=period.until_on).select_related("invoice__payer")
    for row in rows.prefetch_related("invoice__taxes").order_by("since_on", "pk"):
        assert row.invoice is not None
        (rate,) = row.invoice.taxes.all()
        before = parts_of(paid[row.invoice.pk], rate.percent)
        paid[row.invoice.pk] += row.amount_gross
        after = parts_of(paid[row.invoice.pk], rate.percent)
        if row.since_on < period.from_on:
            continue
        number = str(row.invoice.number)
        note = notes.get((row.invoice.pk, row.since_on)) if row.amount_gross < 0 else None
        words = "Deposit received" if row.amount_gross > 0 else "Deposit, taken off again"
        told = (row.since_on, note or number, f"Credit note to {number}" if note else words)
        sums = (after[0] - before[0], after[1] - before[1])
        yield VatRow(*told, str(row.invoice.payer), rate.vat_key, rate.percent, *sums, row.invoice.pk)


def _notes_to_deposits(period: Period) -> dict[tuple[int, dt.date], str]:
    notes = CreditNote.objects.filter(period.of("issued_on"), invoice__kind=Invoice.Kind.DEPOSIT)
    return {(row.invoice_id, row.issued_on): row.number for row in notes}


def _written_off(period: Period) -> Iterable[WrittenOff]:
    rows = WriteOff.objects.filter(period.of("on")).select_related("invoice__payer").order_by("on", "pk")
    for row in rows:
        bill = row.invoice
        tax = cents(row.amount_gross * bill.tax / bill.gross) if bill.gross else ZERO
        yield WrittenOff(row.on, bill.pk, str(bill.number), str(bill.payer), row.amount_gross, tax)
