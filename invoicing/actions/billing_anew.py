"""An invoice with wrong content is taken back whole by a credit note, and what was on it is open again for a new one.

An issued invoice never changes, and a fact is on one issued line only. So each ledger entry gets a counter-entry that
the credit note locks, and a new entry in its place; the keeping of its stays counts as not billed.
"""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from boarding.models import Stay
from care.actions.ledger import lock_stays, reopen
from care.models import LedgerEntry
from invoicing.actions.credits import issue_credit_note
from invoicing.models import CreditNote, Goodwill, Invoice, InvoiceLine, ReopenedEntry
from invoicing.overviews.credits import in_full
from invoicing.querysets import lines_standing
from nursery import audit
from nursery.models import Party, Person
from nursery.refusals import Refused


@transaction.atomic
def take_back_to_bill_anew(
    *,
    invoice: Invoice,
    reason: str,
    gross_seen: Decimal | None,
    on: dt.date,
    at: dt.datetime,
    by: Person,
    bill_to: Party | None = None,
) -> CreditNote:
    """Give all of the invoice back that is left, and open what was on it again: work, materials, keeping, goodwill.

    With `bill_to` another customer pays: for the work on this invoice, and for the whole keeping of its trees.
    Raises Refused: "deposit", "billed-since" and those of `issue_credit_note`.
    """
    if invoice.is_deposit:
        raise Refused("deposit", "A deposit is given back, and then asked for anew on the customer's page.")
    note = issue_credit_note(
        invoice=invoice,
        quantities=in_full(invoice),
        reason=reason,
        gross_seen=gross_seen,
        on=on,
        at=at,
        by=by,
        bills_anew=True,
    )
    lines = InvoiceLine.objects.filter(invoice=invoice)
    kept = Q(pk__in=lines.values("stay")) | Q(final_bill=invoice.number)
    stays = list(Stay.objects.filter(kept).order_by("pk"))
    lock_stays(*stays)
    _refuse_billed_since(invoice)
    _open_stays(invoice, stays, bill_to)
    _reopen_entries(note, bill_to, at, by)
    _give_again(invoice, bill_to, at)
    if bill_to is not None:
        verb, before = "billed to another customer", {"payer": str(invoice.payer)}
        audit.record(by=by, at=at, verb=verb, subject=note, before=before, after={"payer": str(bill_to)})
    return note


def _refuse_billed_since(invoice: Invoice) -> None:
    """A later bill of the stay reads "less what was billed before", so bills are taken back the latest first."""
    stays = InvoiceLine.objects.filter(invoice=invoice).values("stay")
    later = (
        lines_standing()
        .filter(stay__in=stays, invoice__issued_at__gte=invoice.issued_at)
        .exclude(invoice=invoice)
    )
    first = later.select_related("invoice").order_by("-invoice__issued_at", "-invoice").first()
    if first is not None:
        raise Refused(
            "billed-since",
            f"{first.tree_words} was billed on {first.invoice} since, which counts on this one. "
            f"Take {first.invoice} back first, the latest bill before the others.",
        )


def _open_stays(invoice: Invoice, stays: list[Stay], bill_to: Party | None) -> None:
    Stay.objects.filter(pk__in=[stay.pk for stay in stays]).update(final_bill="")
    if bill_to is not None:
        keeping = InvoiceLine.objects.filter(
            invoice=invoice, kind__in=(InvoiceLine.Kind.INTAKE, InvoiceLine.Kind.BOARDING)
        )
        Stay.objects.filter(pk__in=keeping.values("stay")).update(payer=bill_to)


def _reopen_entries(note: CreditNote, bill_to: Party | None, at: dt.datetime, by: Person) -> None:
    """With what earlier credit notes settled, so that the rows of each fact go on adding up to it."""
    on_it = Q(line_entry__invoice=note.invoice) | Q(credit_entry__line__credit__invoice=note.invoice)
    around = ("stay", "payer", "activity", "material")
    rows = (
        LedgerEntry.objects.filter(on_it).select_related(*around).select_for_update(of=("self",), no_key=True)
    )
    entries = list(rows.order_by("pk"))
    ReopenedEntry.objects.bulk_create(
        ReopenedEntry(credit=note, counter=counter, entry=entry)
        for counter, entry in reopen(entries=entries, payer=bill_to, number=note.number, at=at, by=by)
    )


def _give_again(invoice: Invoice, bill_to: Party | None, at: dt.datetime) -> None:
    """The gifts on it stand on the new bill too, as they were given."""
    given = Goodwill.objects.filter(line__invoice=invoice).select_related("payer", "given_by").order_by("pk")
    Goodwill.objects.bulk_create(
        Goodwill(
            stay_id=row.stay_id,
            payer=bill_to or row.payer,
            amount_net=row.amount_net,
            reason=row.reason,
            given_on=row.given_on,
            given_at=at,
            given_by=row.given_by,
            again_of=row,
        )
        for row in given
    )
