"""What is disputed of bills, as at the end of a day."""

import datetime as dt
from collections.abc import Collection, Sequence
from decimal import Decimal

from django.db.models import Q, QuerySet

from invoicing.models import Dispute, Invoice
from nursery.models import Party


def disputes_on(day: dt.date) -> QuerySet[Dispute]:
    """Disputes that lasted at the end of the day."""
    return Dispute.objects.filter(Q(ended_on=None) | Q(ended_on__gt=day), since_on__lte=day)


def amounts_disputed(invoices: Collection[int], day: dt.date) -> dict[int, list[Decimal]]:
    """The amounts disputed by invoice; one query."""
    found: dict[int, list[Decimal]] = {}
    rows = disputes_on(day).filter(invoice__in=invoices).order_by()
    for invoice, amount in rows.values_list("invoice", "amount_gross"):
        found.setdefault(invoice, []).append(amount)
    return found


def disputes_of(invoice: Invoice) -> Sequence[Dispute]:
    """All of an invoice, the ended ones too."""
    return list(invoice.disputes.select_related("by", "ended_by").prefetch_related("lines"))


def disputes_with(party: Party) -> Sequence[Dispute]:
    """Those that last with a customer now."""
    rows = Dispute.objects.filter(invoice__payer=party, ended_on=None).select_related("invoice")
    return list(rows.exclude(invoice__account__settled_on__isnull=False))
