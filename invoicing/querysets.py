"""Rows of invoicing by the question that is asked. The day comes first; it is a date at the nursery."""

import datetime as dt

from django.db.models import Q, QuerySet

from boarding.models import Stay
from boarding.states import StayState
from care.models import LedgerEntry
from invoicing.isolation import midnight_after
from invoicing.models import Invoice, InvoiceAccount, PaymentAccount
from nursery import clock

NEVER_KEPT = (
    StayState.ANNOUNCED.value,
    StayState.BEING_RECEIVED.value,
    StayState.TURNED_AWAY.value,
    StayState.NEVER_CAME.value,
)


def issued() -> QuerySet[Invoice]:
    """Invoices with a number."""
    return Invoice.objects.filter(issued_at__isnull=False)


def drafts() -> QuerySet[Invoice]:
    """Invoices drawn up and not issued."""
    return Invoice.objects.filter(issued_at=None)


def stays_unbilled(up_to_on: dt.date, as_at: dt.date | None = None) -> QuerySet[Stay]:
    """Stays that had begun by the day and are not finally billed; with `as_at`, as it was at the end of that day."""
    unbilled = (
        Q(final_bill="") if as_at is None else Q(final_bill="") | Q(final_bill__in=_numbers_after(as_at))
    )
    began = Stay.objects.filter(unbilled, received_at__lt=midnight_after(up_to_on, clock.zone()))
    return began.exclude(state__in=NEVER_KEPT)


def entries_unbilled(up_to_on: dt.date, as_at: dt.date | None = None) -> QuerySet[LedgerEntry]:
    """Ledger entries of days up to the day that no document has locked; with `as_at`, as it was at its end."""
    unlocked = Q(lock="") if as_at is None else Q(lock="") | Q(lock__in=_numbers_after(as_at))
    return LedgerEntry.objects.filter(unlocked, day__lte=up_to_on).exclude(quantity=0)


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


def _numbers_after(day: dt.date) -> QuerySet[Invoice, str | None]:
    return Invoice.objects.filter(issued_on__gt=day).values_list("number", flat=True)
