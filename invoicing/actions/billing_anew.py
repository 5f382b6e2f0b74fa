"""An invoice with wrong content is taken back whole by a credit note, and what was on it is open again for a new one.

An issued invoice never changes, and a fact is on one issued line only. So each ledger entry gets a counter-entry that
the credit note locks, and a new entry in its place; the keeping of its stays counts as not billed.
"""

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from boarding.models import Stay
from care.actions.ledger import lock_stays, reopen
from care.models import LedgerEntry
from invoicing.actions.credits import issue_credit_note
from invoicing.models import (
    Allocation,
    CreditNote,
    Goodwill,
    Invoice,
    InvoiceLine,
    PaymentAccount,
    ReopenedEntry,
)
from invoicing.overviews.credits import in_full
from invoicing.overviews.facts import KEEPING
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

    With `bill_to` another customer pays: for the work on this invoice, for the whole keeping of its trees, and for what
    of them is open already because a bill was taken back.
    Raises Refused: "deposit", "billed-since", "billed-before" and those of `issue_credit_note`.
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
        bill_to=bill_to,
    )
    _open_stays(invoice, bill_to)
    _reopen_entries(note, bill_to, at, by)
    _give_again(invoice, bill_to, at)
    if bill_to is not None:
        verb, before = "billed to another customer", {"payer": str(invoice.payer)}
        audit.record(by=by, at=at, verb=verb, subject=note, before=before, after={"payer": str(bill_to)})
    return note


def _open_stays(invoice: Invoice, bill_to: Party | None) -> None:
    """Keeping that stood on it counts as not billed, and is another customer's from now on."""
    lines = InvoiceLine.objects.filter(invoice=invoice)
    stays = list(
        Stay.objects.filter(Q(pk__in=lines.values("stay")) | Q(final_bill=invoice.number)).order_by("pk")
    )
    lock_stays(*stays)
    kept = set(lines.filter(kind__in=KEEPING).values_list("stay", flat=True))
    _refuse_billed_since(invoice, kept)
    if bill_to is None:
        _hold_security_again(invoice, stays)
    else:
        _refuse_billed_before(invoice, kept)
        _pass_on(invoice, kept, bill_to)
    Stay.objects.filter(pk__in=[stay.pk for stay in stays]).update(final_bill="")


def _refuse_billed_since(invoice: Invoice, kept: set[int]) -> None:
    """A later bill of a stay or of a limited job reads "less what was billed before": the latest goes back first."""
    after = Q(invoice__issued_at__gt=invoice.issued_at)
    after |= Q(invoice__issued_at=invoice.issued_at, invoice__number__gt=invoice.number)
    jobs = InvoiceLine.objects.filter(invoice=invoice, estimate__isnull=False).values("estimate")
    counts_on_it = Q(stay__in=kept, kind__in=KEEPING) | Q(estimate__in=jobs)
    later = lines_standing().filter(after, counts_on_it).select_related("invoice")
    last = later.order_by("-invoice__issued_at", "-invoice__number").first()
    if last is not None:
        raise Refused(
            "billed-since",
            f"{last.tree_words} was billed on {last.invoice} since, which counts on this one. "
            f"Take {last.invoice} back first, the latest bill before the others.",
        )


def _refuse_billed_before(invoice: Invoice, kept: set[int]) -> None:
    """The price of a whole stay is one customer's."""
    others = lines_standing().filter(stay__in=kept, kind__in=KEEPING).exclude(invoice=invoice)
    first = others.select_related("invoice").order_by("-invoice__issued_at", "-invoice__number").first()
    if first is not None:
        raise Refused(
            "billed-before",
            f"Nights of {first.tree_words} stand on {first.invoice} too. Take {invoice} back for {invoice.payer} as "
            f"before, and then {first.invoice} for the other customer: what is open of the tree goes with it.",
            "bill_to",
        )


def _pass_on(invoice: Invoice, kept: set[int], bill_to: Party) -> None:
    Stay.objects.filter(pk__in=kept).update(payer=bill_to)
    waiting = LedgerEntry.objects.filter(
        stay__in=kept, payer=invoice.payer, lock="", reopened_by__isnull=False
    )
    waiting.update(payer=bill_to)


def _hold_security_again(invoice: Invoice, stays: Iterable[Stay]) -> None:
    """What the bill that ended a stay took as security waits for the one that will end it."""
    if any(stay.final_bill == invoice.number for stay in stays):
        took = Allocation.objects.filter(invoice=invoice, payment__is_security=True).values("payment")
        PaymentAccount.objects.filter(payment__in=took, used_up_on=None).update(is_secured=True)


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
