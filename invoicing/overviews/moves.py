"""What moves a customer's balance: each kind of document and of money is one query here, and one entry of SOURCES."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from invoicing.models import (
    CashRounding,
    CreditNote,
    Invoice,
    LateInterest,
    Payment,
    Refund,
    Reversal,
    WriteOff,
)
from nursery import words
from nursery.models import Party


@dataclass(frozen=True)
class Move:
    """One move: above nothing it adds to what the customer owes. `order` puts the moves of one day in order."""

    day: dt.date
    order: int
    key: int
    words: str
    amount: Decimal
    invoice: int | None = None
    payment: int | None = None


def moves_of(party: Party) -> list[Move]:
    """Every move of a customer in order of days; on one day documents first, then money, then what undoes it."""
    found = [move for source in SOURCES for move in source(party)]
    return sorted(found, key=lambda move: (move.day, move.order, move.key))


def invoices(party: Party) -> Iterable[Move]:
    """Bills add."""
    for row in Invoice.objects.filter(payer=party, issued_at__isnull=False):
        assert row.issued_on is not None
        yield Move(
            row.issued_on, 0, row.pk, f"{row.get_kind_display()} {row.number}", row.gross, invoice=row.pk
        )


def credit_notes(party: Party) -> Iterable[Move]:
    """What of a bill is taken back."""
    for row in CreditNote.objects.filter(payer=party).select_related("invoice"):
        told = f"Credit note {row.number} to {row.invoice.get_kind_display().lower()} {row.invoice.number}"
        yield Move(row.issued_on, 1, row.pk, told, -row.gross, invoice=row.invoice_id)


def payments(party: Party) -> Iterable[Move]:
    """Money received takes off, also what is held as credit."""
    for row in Payment.objects.filter(party=party):
        told = payment_words(row)
        yield Move(row.received_on, 2, row.pk, told, -row.amount_gross, payment=row.pk)


def roundings(party: Party) -> Iterable[Move]:
    """What coins could not pay; the second row of a payment for a bill takes the first one back."""
    before: set[tuple[int, int | None]] = set()
    for row in CashRounding.objects.filter(payment__party=party).order_by("pk"):
        key = (row.payment_id, row.invoice_id)
        told = "Cash rounding taken back" if key in before else "Cash rounding"
        before ^= {key}
        yield Move(row.on, 3, row.pk, told, -row.amount_gross, payment=row.payment_id)


def refunds(party: Party) -> Iterable[Move]:
    """Credit given back."""
    for row in Refund.objects.filter(payment__party=party).select_related("payment"):
        told = _with(f"Given back, {row.payment.get_way_display().lower()}", row.reference)
        yield Move(row.on, 4, row.pk, told, row.amount_gross, payment=row.payment_id)


def reversals(party: Party) -> Iterable[Move]:
    """Payments that are none."""
    for row in Reversal.objects.filter(payment__party=party).select_related("payment"):
        what = "taken back by the bank" if row.why == Reversal.Why.RETURNED else "written down by mistake"
        told = f"Payment of {words.day(row.payment.received_on)} {what}"
        yield Move(row.on, 5, row.pk, told, row.payment.amount_gross, payment=row.payment_id)


def write_offs(party: Party) -> Iterable[Move]:
    """Bad debts given up, and taken up again."""
    for row in WriteOff.objects.filter(invoice__payer=party).select_related("invoice"):
        back = " taken back" if row.undoes_id else ""
        told = f"Write-off of invoice {row.invoice.number}{back}"
        yield Move(row.on, 6, row.pk, told, -row.amount_gross, invoice=row.invoice_id)


def late_interest(party: Party) -> Iterable[Move]:
    """Money kept for a bill paid late, and given up again; it stands on no document of its own."""
    for row in LateInterest.objects.filter(payment__party=party).select_related("invoice"):
        what = "given up" if row.undoes_id else "kept"
        told = f"Late interest on invoice {row.invoice.number} {what}"
        yield Move(row.on, 7, row.pk, told, row.amount, payment=row.payment_id)


def payment_words(payment: Payment) -> str:
    """'Payment, bank transfer, I-2026-0047'."""
    what = "Security" if payment.is_security else "Payment"
    return _with(f"{what}, {payment.get_way_display().lower()}", payment.reference)


def _with(what: str, reference: str) -> str:
    return f"{what}, {reference}" if reference else what


SOURCES: tuple[Callable[[Party], Iterable[Move]], ...] = (
    invoices,
    credit_notes,
    payments,
    roundings,
    refunds,
    reversals,
    write_offs,
    late_interest,
)
