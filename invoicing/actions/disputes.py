"""Disputes: what a customer does not agree with of a bill is written down, and how it was settled."""

import datetime as dt
from collections.abc import Collection
from decimal import Decimal

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.payments import refuse_amount
from invoicing.disputing import disputed_gross
from invoicing.models import CreditNote, Dispute, Invoice, InvoiceAccount, InvoiceLine
from invoicing.overviews.credits import creditable
from nursery import audit, clock, words
from nursery.models import Person
from nursery.money import ZERO
from nursery.refusals import Refused


@transaction.atomic
def dispute(
    *,
    invoice: Invoice,
    reason: str,
    on: dt.date,
    at: dt.datetime,
    by: Person,
    amount: Decimal | None = None,
    lines: Collection[int] = (),
) -> Dispute:
    """Write down that a part of an invoice is disputed since a day: an amount with VAT, or all that is left of lines.

    Raises Refused: "no-reason", "draft", "settled", "future", "before-invoice", "no-amount", "more-than-open".
    """
    account = _locked(invoice)
    _refuse_words(account.invoice, reason, on, clock.day_of(at))
    named = [one for one in creditable(invoice) if one.row.pk in lines]
    room = account.open_gross - sum(
        invoice.disputes.filter(ended_on=None).values_list("amount_gross", flat=True), ZERO
    )
    if amount is None:
        parts = ((one.line.left_net, one.row.vat_percent) for one in named)
        amount = min(disputed_gross(parts), room)
    _refuse_sum(amount, room, invoice)
    row = Dispute.objects.create(
        invoice=invoice, amount_gross=amount, reason=reason.strip(), since_on=on, at=at, by=by
    )
    row.lines.set(InvoiceLine.objects.filter(pk__in=[one.row.pk for one in named]))
    after = {"amount": amount, "since": on}
    audit.record(by=by, at=at, verb="wrote a dispute down", subject=invoice, after=after, reason=row.reason)
    return row


@transaction.atomic
def settle_dispute(
    *, dispute: Dispute, outcome: str, told: str, at: dt.datetime, by: Person, on: dt.date | None = None
) -> Dispute:
    """The dispute is over: what is still open of it is due like the rest.

    Raises Refused: "settled", "no-credit-note", "future", "before-dispute".
    """
    allocating.lock_party(dispute.invoice.payer)
    row = Dispute.objects.select_for_update(of=("self",), no_key=True).get(pk=dispute.pk)
    today = clock.day_of(at)
    on = on or today
    if row.outcome:
        raise Refused("settled", "This dispute is settled already; see the invoice.")
    if on > today:
        raise Refused("future", "It cannot have ended on a day that has not been.", "on")
    if on < row.since_on:
        raise Refused(
            "before-dispute", f"It began on {words.day(row.since_on)}; write that day or later.", "on"
        )
    if outcome == Dispute.Outcome.CREDITED and not _credited_since(row):
        raise Refused(
            "no-credit-note",
            f"No credit note to {dispute.invoice} was issued since it is disputed. Give the part back first.",
            "outcome",
        )
    row.outcome, row.ended_words = outcome, told.strip()
    row.ended_on, row.ended_at, row.ended_by = on, at, by
    row.save(update_fields=["outcome", "ended_words", "ended_on", "ended_at", "ended_by"])
    after = {"outcome": row.get_outcome_display()}
    audit.record(
        by=by, at=at, verb="settled a dispute", subject=row.invoice, after=after, reason=row.ended_words
    )
    return row


@transaction.atomic
def settle_by_credit(*, note: CreditNote, at: dt.datetime, by: Person) -> int:
    """Every dispute of the invoice ends by this credit note; returns how many there were."""
    rows = list(note.invoice.disputes.filter(outcome=""))
    for row in rows:
        settle_dispute(
            dispute=row, outcome=Dispute.Outcome.CREDITED, told=f"Credit note {note.number}", at=at, by=by
        )
    return len(rows)


def _credited_since(row: Dispute) -> bool:
    return CreditNote.objects.filter(invoice=row.invoice_id, issued_at__gte=row.at).exists()


def _locked(invoice: Invoice) -> InvoiceAccount:
    allocating.lock_party(invoice.payer)
    account = allocating.lock_accounts(invoice.payer).filter(invoice=invoice).first()
    if account is None:
        raise Refused("draft", "This is a draft: draw it up anew as it should be, or discard it.")
    if account.settled_on:
        raise Refused(
            "settled", f"Nothing is open on {invoice.number}. If a part was wrong, give that part back."
        )
    return account


def _refuse_words(invoice: Invoice, reason: str, on: dt.date, today: dt.date) -> None:
    if not reason.strip():
        raise Refused("no-reason", "Write in a few words what the customer does not agree with.", "reason")
    if on > today:
        raise Refused("future", "It cannot be disputed from a day that has not been.", "on")
    assert invoice.issued_on is not None
    if on < invoice.issued_on:
        raise Refused(
            "before-invoice",
            f"The invoice is of {words.day(invoice.issued_on)}; write that day or later.",
            "on",
        )


def _refuse_sum(amount: Decimal, room: Decimal, invoice: Invoice) -> None:
    refuse_amount(amount, "Tick the lines that are disputed, or write the amount, more than nothing.")
    if amount > room:
        left = words.money(max(room, ZERO), invoice.currency)
        raise Refused(
            "more-than-open", f"Only {left} of {invoice.number} is open and not yet disputed.", "amount"
        )
