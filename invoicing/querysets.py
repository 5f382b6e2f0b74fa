"""Rows of invoicing by the question that is asked. The day comes first; it is a date at the nursery."""

import datetime as dt
from collections.abc import Iterable

from django.db.models import Q, QuerySet

from boarding.models import Stay
from boarding.states import StayState
from care.models import LedgerEntry
from invoicing.models import CreditNote, Invoice, InvoiceAccount, InvoiceLine, LineEntry, PaymentAccount

NEVER_KEPT = (
    StayState.ANNOUNCED.value,
    StayState.BEING_RECEIVED.value,
    StayState.TURNED_AWAY.value,
    StayState.NEVER_CAME.value,
)


def drafts() -> QuerySet[Invoice]:
    """Invoices drawn up and not issued."""
    return Invoice.objects.filter(issued_at=None).order_by()


def lines_standing(day: dt.date | None = None) -> QuerySet[InvoiceLine]:
    """Lines of issued bills but for those that were taken back whole, to be billed anew; with a day, as it was at its
    end."""
    lines = InvoiceLine.objects.filter(invoice__issued_at__isnull=False)
    if day is not None:
        lines = lines.filter(invoice__issued_on__lte=day)
    return lines.exclude(invoice__in=taken_back(day).values("invoice"))


def taken_back(day: dt.date | None = None) -> QuerySet[CreditNote]:
    """The credit notes that take a whole bill back, after which what was on it is open again; of all days, or until
    the end of one."""
    notes = CreditNote.objects.filter(bills_anew=True)
    return notes if day is None else notes.filter(issued_on__lte=day)


def stays_unbilled() -> QuerySet[Stay]:
    """Stays that began and are not finally billed.

    Which of them had begun by a day is asked of the few rows found: asked here, it would lead the database to the index
    of all arrivals ever instead of that of the open ones. For the same reason they come in no order.
    """
    return (
        Stay.objects.filter(final_bill="", received_at__isnull=False).exclude(state__in=NEVER_KEPT).order_by()
    )


def stays_billed_after(day: dt.date) -> QuerySet[Stay]:
    """Stays whose final bill came after the day: they were unbilled at its end."""
    lines = InvoiceLine.objects.filter(invoice__issued_on__gt=day)
    return Stay.objects.filter(pk__in=lines.values("stay")).exclude(final_bill="").order_by()


def entries_unbilled() -> QuerySet[LedgerEntry]:
    """Ledger entries that no document has locked."""
    return LedgerEntry.objects.filter(lock="").exclude(quantity=0).order_by()


def entries_billed_after(day: dt.date) -> QuerySet[LedgerEntry]:
    """Ledger entries that were locked after the day."""
    lines = LineEntry.objects.filter(invoice__issued_on__gt=day)
    return LedgerEntry.objects.filter(pk__in=lines.values("entry")).order_by()


def entries_settled_after(day: dt.date) -> QuerySet[LedgerEntry]:
    """Corrections that a credit note of a later day settled."""
    return LedgerEntry.objects.filter(credit_entry__line__credit__issued_on__gt=day).order_by()


def not_reopened_after(rows: QuerySet[LedgerEntry], day: dt.date) -> QuerySet[LedgerEntry]:
    """Without the entries that stand in the place of others since a bill was taken back on a later day."""
    return rows.exclude(reopened_by__credit__issued_on__gt=day)


def deposit_lines(payers: Iterable[int] | None, day: dt.date | None = None) -> QuerySet[InvoiceLine]:
    """The lines of deposit invoices, the oldest first; with a day, of those issued by its end."""
    rows = InvoiceLine.objects.filter(invoice__kind="deposit", invoice__issued_at__isnull=False)
    if payers is not None:
        rows = rows.filter(invoice__payer__in=payers)
    if day is not None:
        rows = rows.filter(invoice__issued_on__lte=day)
    return rows.select_related("invoice__payer").order_by("invoice__issued_on", "pk")


def accounts_open(day: dt.date | None = None) -> QuerySet[InvoiceAccount]:
    """Accounts of invoices not settled; with a day, as it was at its end."""
    if day is None:
        return InvoiceAccount.objects.filter(settled_on=None)
    open_then = Q(settled_on=None) | Q(settled_on__gt=day)
    return InvoiceAccount.objects.filter(open_then, invoice__issued_on__lte=day)


def credits_held(day: dt.date | None = None) -> QuerySet[PaymentAccount]:
    """Payments with a rest that is set against nothing; with a day, as it was at its end."""
    if day is None:
        return PaymentAccount.objects.filter(used_up_on=None)
    held_then = Q(used_up_on=None) | Q(used_up_on__gt=day)
    return PaymentAccount.objects.filter(held_then, payment__received_on__lte=day)
