"""Which bills, taken back whole, a new bill stands in the place of."""

from django.db.models import Q

from invoicing.models import CreditNote, Invoice, InvoiceLine
from invoicing.overviews.facts import KEEPING
from invoicing.querysets import taken_back


def replaced_by(invoice: Invoice) -> list[CreditNote]:
    """The credit notes to bills of the same customer whose facts are on it: entries that were opened again, and keeping
    that is billed for the first time since. The oldest first; one query where no bill was taken back."""
    kept = InvoiceLine.objects.filter(invoice=invoice, kind__in=KEEPING, turn__gt=0).values("stay")
    entries = Q(reopened__entry__line_entry__invoice=invoice)
    keeping = Q(invoice__lines__stay__in=kept, invoice__lines__kind__in=KEEPING)
    notes = taken_back().filter(entries | keeping, payer=invoice.payer).select_related("invoice")
    found = list(notes.distinct().order_by("issued_at", "pk"))
    if not found:
        return []
    others = InvoiceLine.objects.filter(stay__in=kept, kind__in=KEEPING, invoice__issued_at__isnull=False)
    since = (
        others.exclude(invoice=invoice)
        .order_by("-invoice__issued_at")
        .values_list("invoice__issued_at", flat=True)
        .first()
    )
    by_entries = set(CreditNote.objects.filter(entries).values_list("pk", flat=True))
    return [one for one in found if one.pk in by_entries or since is None or one.issued_at > since]
