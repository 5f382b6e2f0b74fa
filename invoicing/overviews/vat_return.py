"""Figures for the VAT return of a period, with the documents behind each: what was charged, at which key and rate.

A credit note counts in its own period. The VAT of a deposit counts on the day its payment came, or on that of its
invoice, as the nursery's setting says; what the law asks where you are, your accountant knows.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

from django.db.models import Q, QuerySet

from invoicing.deposits import Deposit
from invoicing.models import (
    Allocation,
    CreditLine,
    CreditNote,
    CreditTax,
    Invoice,
    InvoiceLine,
    InvoiceTax,
    WriteOff,
)
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
    to_deposit: bool = False


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
    """All of a period; `by_documents` is the VAT by the days of all documents, as the journal books it."""

    period: Period
    rows: tuple[VatRow, ...]
    written_off: tuple[WrittenOff, ...]
    at_receipt: bool
    by_documents: Decimal

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
    """The figures of the period in a fixed number of queries, however many documents."""
    at_receipt = Nursery.here().deposit_vat_on == AT_RECEIPT
    documents = [*_invoices(period), *_credit_notes(period)]
    rows = [row for row in documents if not (at_receipt and row.to_deposit)]
    rows += _deposits_received(period) if at_receipt else ()
    return VatReturn(
        period=period,
        rows=tuple(sorted(rows, key=lambda one: (one.day, one.document, one.key))),
        written_off=tuple(_written_off(period, at_receipt=at_receipt)),
        at_receipt=at_receipt,
        by_documents=sum((row.tax for row in documents), ZERO),
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


def _invoices(period: Period) -> Iterator[VatRow]:
    taxes = InvoiceTax.objects.filter(period.of("invoice__issued_on"), invoice__issued_at__isnull=False)
    for one in taxes.select_related("invoice__payer"):
        bill = one.invoice
        assert bill.issued_on is not None
        told = (bill.issued_on, str(bill.number), bill.get_kind_display(), str(bill.payer))
        yield VatRow(*told, one.vat_key, one.percent, one.net, one.tax, bill.pk, bill.is_deposit)


def _credit_notes(period: Period) -> Iterator[VatRow]:
    taxes = CreditTax.objects.filter(period.of("credit__issued_on"))
    for one in taxes.select_related("credit__payer", "credit__invoice"):
        note = one.credit
        told = (note.issued_on, note.number, f"Credit note to {note.invoice.number}", str(note.payer))
        sums = (-one.net, -one.tax)
        yield VatRow(*told, one.vat_key, one.percent, *sums, note.invoice_id, note.invoice.is_deposit)


def _deposits_received(period: Period) -> Iterator[VatRow]:
    """What was paid on deposits, and what was taken off them again, each with the VAT it contains.

    What counts of a deposit at any time is what was paid on it, or, where that was taken off again, at least what bills
    deducted: their own VAT is less by that. Each event bears the difference it makes, so that nothing counts twice.
    """
    moved = Allocation.objects.filter(period.of("since_on"), kind__in=IN_MONEY, invoice__kind="deposit")
    deducted = InvoiceLine.objects.filter(period.of("invoice__issued_on"), deducts__isnull=False)
    back = CreditLine.objects.filter(period.of("credit__issued_on"), line__deducts__isnull=False)
    touched = Q(pk__in=moved.values("invoice")) | Q(pk__in=deducted.values("deducts__invoice"))
    touched |= Q(pk__in=back.values("line__deducts__invoice"))
    deposits = Invoice.objects.filter(touched, kind=Invoice.Kind.DEPOSIT, issued_at__isnull=False)
    events = _events_of_deposits(deposits, period)
    for deposit in deposits.select_related("payer").prefetch_related("taxes").order_by("pk"):
        (rate,) = deposit.taxes.all()
        kept = Deposit(deposit.pk, rate.vat_key, rate.percent, rate.net, rate.tax)
        before = (ZERO, ZERO)
        for event in sorted(events[deposit.pk]):
            paid, taken = (
                kept.paid + event.paid,
                (*kept.deducted, *((event.deducted,) if event.deducted else ())),
            )
            kept = replace(kept, paid=paid, deducted=taken)
            now = kept.declared
            sums, before = (now[0] - before[0], now[1] - before[1]), now
            if any(sums) and event.day >= period.from_on:
                told = (event.day, event.document or str(deposit.number), event.words, str(deposit.payer))
                yield VatRow(*told, rate.vat_key, rate.percent, *sums, deposit.pk)


class _Event(NamedTuple):
    """Something that changes what counts of a deposit; those of one day in the order of their kinds."""

    day: dt.date
    kind: int
    pk: int
    paid: Decimal
    deducted: Decimal
    document: str
    words: str


def _events_of_deposits(deposits: QuerySet[Invoice], period: Period) -> dict[int, list[_Event]]:
    """By deposit, all that happened to it until the end of the period."""
    found: dict[int, list[_Event]] = defaultdict(list)
    notes = _notes_to_deposits(period)
    rows = Allocation.objects.filter(invoice__in=deposits, kind__in=IN_MONEY, since_on__lte=period.until_on)
    for row in rows.select_related("invoice"):
        assert row.invoice is not None
        note = notes.get((row.invoice.pk, row.since_on), "") if row.amount_gross < 0 else ""
        words = "Deposit received" if row.amount_gross > 0 else "Deposit, taken off again"
        words = f"Credit note to {row.invoice.number}" if note else words
        found[row.invoice.pk].append(_Event(row.since_on, 1, row.pk, row.amount_gross, ZERO, note, words))
    lines = InvoiceLine.objects.filter(deducts__invoice__in=deposits, invoice__issued_at__isnull=False)
    for line in lines.filter(invoice__issued_on__lte=period.until_on).select_related("invoice", "deducts"):
        assert line.deducts is not None
        assert line.invoice.issued_on is not None
        words = f"Deposit, deducted by {line.invoice}"
        event = _Event(line.invoice.issued_on, 2, line.pk, ZERO, -line.net, "", words)
        found[line.deducts.invoice_id].append(event)
    parts = CreditLine.objects.filter(
        line__deducts__invoice__in=deposits, credit__issued_on__lte=period.until_on
    )
    for part in parts.select_related("credit", "line__deducts"):
        assert part.line.deducts is not None
        words = f"Deposit, given free by {part.credit}"
        event = _Event(part.credit.issued_on, 3, part.pk, ZERO, part.net, "", words)
        found[part.line.deducts.invoice_id].append(event)
    return found


def _notes_to_deposits(period: Period) -> dict[tuple[int, dt.date], str]:
    notes = CreditNote.objects.filter(period.of("issued_on"), invoice__kind=Invoice.Kind.DEPOSIT)
    return {(row.invoice_id, row.issued_on): row.number for row in notes}


def _written_off(period: Period, *, at_receipt: bool) -> Iterable[WrittenOff]:
    rows = WriteOff.objects.filter(period.of("on")).select_related("invoice__payer").order_by("on", "pk")
    for row in rows:
        bill = row.invoice
        none = not bill.gross or (at_receipt and bill.is_deposit)  # what was never paid was never declared
        tax = ZERO if none else cents(row.amount_gross * bill.tax / bill.gross)
        yield WrittenOff(row.on, bill.pk, str(bill.number), str(bill.payer), row.amount_gross, tax)
