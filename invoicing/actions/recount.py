"""Recounting: what is open on each invoice and payment, counted anew from the history of allocations."""

import datetime as dt
import logging

from django.db import transaction
from django.db.models import F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from invoicing.models import Allocation, InvoiceAccount, PaymentAccount
from nursery import audit, clock
from nursery.money import ZERO, cents

log = logging.getLogger(__name__)


@transaction.atomic
def recount(*, at: dt.datetime) -> int:
    """Put right every account that differs from its allocations; returns how many did, which should be none."""
    wrong = 0
    for account in _differing(InvoiceAccount.objects.all(), "invoice", "paid_gross"):
        wrong += _put_right(account, "paid_gross", "settled_on", at)
    for holder in _differing(PaymentAccount.objects.all(), "payment", "allocated_gross"):
        wrong += _put_right(holder, "allocated_gross", "used_up_on", at)
    return wrong


def _differing(accounts: QuerySet, of: str, column: str) -> QuerySet:
    """Accounts whose column is not the sum of their rows of history, each with `counted`."""
    sums = Allocation.objects.filter(**{of: OuterRef(of)}).order_by().values(of)
    counted = Coalesce(Subquery(sums.annotate(total=Sum("amount_gross")).values("total")), ZERO)
    return accounts.annotate(counted=counted).exclude(**{column: F("counted")})


def _put_right(account: InvoiceAccount | PaymentAccount, column: str, closed: str, at: dt.datetime) -> int:
    counted = cents(account.counted)  # type: ignore[union-attr]  # annotated above
    before = getattr(account, column)
    if counted == before:  # SQLite compares sums in binary
        return 0
    full = counted == account.gross
    setattr(account, column, counted)
    setattr(account, closed, (getattr(account, closed) or clock.day_of(at)) if full else None)
    account.save(update_fields=[column, closed])
    audit.record(
        by=None, at=at, verb="recounted", subject=account, before={column: before}, after={column: counted}
    )
    log.error("%s stood at %s and counts %s", account, before, counted)
    return 1
