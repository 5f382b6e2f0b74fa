"""The accountant's journal of a period: every document and movement of money as a balanced entry, by days.

Each source is read in its own order, a few hundred rows at a time, and they are merged, so that a long period takes no
more memory than a short one.
"""

import datetime as dt
import heapq
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Q, QuerySet

from invoicing.journal import DEFAULTS, Account, Booking, entry, moved
from invoicing.models import (
    Allocation,
    CashRounding,
    CreditNote,
    Invoice,
    InvoiceLine,
    JournalAccount,
    LateInterest,
    Payment,
    Refund,
    Reversal,
    WriteOff,
)
from nursery.money import ZERO

AT_ONCE = 500
A = Account
Kind = Allocation.Kind
# Rows of a security that are booked with their own document.
ELSEWHERE = (Kind.REFUND, Kind.REVERSAL, Kind.ROUNDING)


@dataclass(frozen=True)
class Entry:
    """One entry of the journal; `order` puts those of one day in order."""

    day: dt.date
    order: int
    key: int
    document: str
    words: str
    party: str
    bookings: tuple[Booking, ...]


@dataclass(frozen=True)
class AccountSum:
    """What an account moved by in the period."""

    number: str
    name: str
    debit: Decimal
    credit: Decimal


@dataclass(frozen=True)
class Period:
    """From one day to another, both included."""

    from_on: dt.date
    until_on: dt.date

    def of(self, column: str) -> Q:
        """Rows whose day lies within."""
        return Q(**{f"{column}__gte": self.from_on, f"{column}__lte": self.until_on})


def journal(period: Period) -> Iterator[Entry]:
    """Every entry of the period."""
    found = heapq.merge(
        *(source(period) for source in SOURCES), key=lambda one: (one.day, one.order, one.key)
    )
    return (one for one in found if one.bookings)


def accounts() -> dict[Account, tuple[str, str]]:
    """Number and name of each account, as the nursery wrote them, else our own."""
    own = {A(row.key): (row.number, row.name) for row in JournalAccount.objects.all()}
    return DEFAULTS | own


def account_sums(period: Period) -> list[AccountSum]:
    """The sums of each account that moved, in the order of their numbers."""
    debits: dict[Account, Decimal] = {}
    credits: dict[Account, Decimal] = {}
    for one in journal(period):
        for booking in one.bookings:
            debits[booking.account] = debits.get(booking.account, ZERO) + (booking.debit or ZERO)
            credits[booking.account] = credits.get(booking.account, ZERO) + (booking.credit or ZERO)
    named = accounts()
    return sorted(
        (AccountSum(*named[key], debits[key], credits[key]) for key in debits),
        key=lambda one: (one.number, one.name),
    )


# --- Documents --------------------------------------------------------------------------------------------------------


def invoices(period: Period) -> Iterator[Entry]:
    """Bills and deposit invoices: the customer owes; sales, deposits and VAT stand against it."""
    rows = Invoice.objects.filter(period.of("issued_on"), issued_at__isnull=False).select_related("payer")
    for row in _read(rows.prefetch_related("lines", "taxes").order_by("issued_on", "pk")):
        bookings = [Booking(A.CUSTOMERS, row.gross)]
        bookings += _nets(((line, line.net) for line in row.lines.all()), -1)
        bookings += [Booking(A.VAT, -one.tax, one.vat_key, one.percent) for one in row.taxes.all()]
        title = row.get_kind_display()
        yield Entry(row.issued_on, 0, row.pk, row.number, title, str(row.payer), entry(bookings))


def credit_notes(period: Period) -> Iterator[Entry]:
    """What of a bill is taken back, the other way round."""
    rows = CreditNote.objects.filter(period.of("issued_on")).select_related("payer", "invoice")
    for row in _read(rows.prefetch_related("lines__line", "taxes").order_by("issued_on", "pk")):
        bookings = [Booking(A.CUSTOMERS, -row.gross)]
        bookings += _nets(((part.line, part.net) for part in row.lines.all()), 1)
        bookings += [Booking(A.VAT, one.tax, one.vat_key, one.percent) for one in row.taxes.all()]
        told = f"Credit note to {row.invoice.number}"
        yield Entry(row.issued_on, 1, row.pk, row.number, told, str(row.payer), entry(bookings))


def _nets(parts: Iterable[tuple[InvoiceLine, Decimal]], sign: int) -> list[Booking]:
    """Nets by account, key and rate: sales, and deposits asked for or deducted."""
    sums: dict[tuple[Account, str, Decimal], Decimal] = {}
    for line, net in parts:
        deposit = line.kind in (InvoiceLine.Kind.DEPOSIT, InvoiceLine.Kind.DEDUCTED)
        key = (A.DEPOSITS if deposit else A.SALES, line.vat_key, line.vat_percent)
        sums[key] = sums.get(key, ZERO) + net
    return [Booking(account, sign * net, key, percent) for (account, key, percent), net in sums.items()]


# --- Money ------------------------------------------------------------------------------------------------------------


def payments(period: Period) -> Iterator[Entry]:
    """Money that came: for a customer, as a security, or from nobody known."""
    for row in _read(_payments(period.of("received_on")).order_by("received_on", "pk")):
        against = A.UNCLEAR if row.given_on or not row.party_id else _stands_on(row, row.received_on)
        told = f"{'Security' if row.is_security else 'Payment'}, {row.get_way_display().lower()}"
        yield _money(row.received_on, 2, row.pk, row, told, moved(row.amount_gross, A(row.way), against))


def given(period: Period) -> Iterator[Entry]:
    """Money whose payer was found later."""
    rows = _payments(period.of("given_on")).prefetch_related("refunds").order_by("given_on", "pk")
    # What the bank took back before that day had nothing left to be given.
    for row in _read(rows.exclude(reversal__on__lt=F("given_on"))):
        back = sum((one.amount_gross for one in row.refunds.all() if one.on < row.given_on), ZERO)
        told = "Its payer is known now"
        bookings = moved(row.amount_gross - back, A.UNCLEAR, A.CUSTOMERS)
        yield _money(row.given_on, 3, row.pk, row, told, bookings)


def securities_used(period: Period) -> Iterator[Entry]:
    """Security that a bill took, or gave free again."""
    rows = Allocation.objects.filter(period.of("since_on"), payment__is_security=True)
    rows = rows.exclude(kind__in=ELSEWHERE).select_related("payment__party", "invoice")
    for row in _read(rows.order_by("since_on", "pk")):
        told = f"Security, {row.get_kind_display()}" + (f" {row.invoice.number}" if row.invoice else "")
        bookings = moved(row.amount_gross, A.SECURITIES, A.CUSTOMERS)
        yield _money(row.since_on, 4, row.pk, row.payment, told, bookings)


def roundings(period: Period) -> Iterator[Entry]:
    """What coins could not pay."""
    rows = CashRounding.objects.filter(period.of("on")).select_related("payment__party")
    for row in _read(rows.order_by("on", "pk")):
        bookings = moved(row.amount_gross, A.ROUNDING, A.CUSTOMERS)
        yield _money(row.on, 5, row.pk, row.payment, "Cash rounding", bookings)


def refunds(period: Period) -> Iterator[Entry]:
    """Money given back."""
    rows = Refund.objects.filter(period.of("on")).select_related("payment__party").order_by("on", "pk")
    for row in _read(rows):
        bookings = moved(row.amount_gross, _stands_on(row.payment, row.on), A(row.payment.way))
        yield _money(row.on, 6, row.pk, row.payment, "Given back", bookings)


def reversals(period: Period) -> Iterator[Entry]:
    """Payments that are none."""
    rows = Reversal.objects.filter(period.of("on")).select_related("payment__party").order_by("on", "pk")
    for row in _read(rows):
        bookings = moved(row.payment.amount_gross, _stands_on(row.payment, row.on), A(row.payment.way))
        yield _money(row.on, 7, row.pk, row.payment, row.get_why_display(), bookings)


def write_offs(period: Period) -> Iterator[Entry]:
    """Bad debts given up, and taken up again."""
    rows = WriteOff.objects.filter(period.of("on")).select_related("invoice__payer").order_by("on", "pk")
    for row in _read(rows):
        told = "Write-off taken back" if row.undoes_id else "Written off"
        bookings = moved(row.amount_gross, A.BAD_DEBTS, A.CUSTOMERS)
        yield Entry(row.on, 8, row.pk, row.invoice.number, told, str(row.invoice.payer), bookings)


def late_interest(period: Period) -> Iterator[Entry]:
    """Money kept for a bill paid late, without VAT, and given up again."""
    rows = LateInterest.objects.filter(period.of("on")).select_related("payment__party", "invoice")
    for row in _read(rows.order_by("on", "pk")):
        told = f"Late interest on {row.invoice.number}{' given up' if row.undoes_id else ''}"
        yield _money(row.on, 9, row.pk, row.payment, told, moved(row.amount, A.CUSTOMERS, A.INTEREST))


def _stands_on(payment: Payment, on: dt.date) -> Account:
    """The account on which what is left of a payment stands on a day."""
    if payment.is_security:
        return A.SECURITIES
    unknown = payment.party_id is None or (payment.given_on is not None and on < payment.given_on)
    return A.UNCLEAR if unknown else A.CUSTOMERS


def _payments(within: Q) -> QuerySet[Payment]:
    return Payment.objects.filter(within).select_related("party")


def _money(
    day: dt.date, order: int, key: int, payment: Payment, told: str, bookings: tuple[Booking, ...]
) -> Entry:
    who = str(payment.party) if payment.party else payment.payer_words
    return Entry(day, order, key, payment.reference or f"payment {payment.pk}", told, who, bookings)


def _read(rows: QuerySet[Any]) -> Iterator[Any]:
    return rows.iterator(chunk_size=AT_ONCE)


SOURCES: tuple[Callable[[Period], Iterator[Entry]], ...] = (
    invoices,
    credit_notes,
    payments,
    given,
    securities_used,
    roundings,
    refunds,
    reversals,
    write_offs,
    late_interest,
)
