"""Credit notes: what of an issued invoice is taken back, with a number of its own, and what becomes of its money."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from care.actions.ledger import lock_entries
from care.models import LedgerEntry
from invoicing import credit_documents, documents
from invoicing.actions import allocating
from invoicing.actions.rounding import undo_rounding
from invoicing.models import (
    Allocation,
    CreditEntry,
    CreditLine,
    CreditNote,
    CreditTax,
    Invoice,
    InvoiceAccount,
    PaymentAccount,
)
from invoicing.overviews.credits import Reckoned, reckon
from nursery import audit, clock, numbers, papers
from nursery.models import Nursery, Paper, Party, Person
from nursery.overviews import address_on
from nursery.refusals import Refused

KIND, TITLE = "credit", "Credit note"


@transaction.atomic
def issue_credit_note(
    *,
    invoice: Invoice,
    quantities: Mapping[int, Decimal],
    reason: str,
    gross_seen: Decimal | None,
    on: dt.date,
    at: dt.datetime,
    by: Person,
    bills_anew: bool = False,
    bill_to: Party | None = None,
) -> CreditNote:
    """Take so much of each line back, by line, in the line's own quantity; `gross_seen` is what the person was shown.

    What was paid beyond the rest is taken off the invoice again and held for the payer. Corrections of the ledger that
    wait for a line are settled when exactly as much of it is taken back; not with `bills_anew` (see `billing_anew`).
    Raises Refused: "draft", "no-reason", "future", "before-invoice", "nothing", "more-than-left", "look-again",
    "back-dated", "written-off", "no-address".
    """
    allocating.lock_party(invoice.payer)
    invoice = (
        Invoice.objects.select_for_update(of=("self",), no_key=True)
        .select_related("payer")
        .get(pk=invoice.pk)
    )
    _refuse_day(invoice, reason, on, clock.day_of(at))
    reckoned = reckon(invoice, quantities, anew=bills_anew)
    if gross_seen != reckoned.gross:
        raise Refused(
            "look-again", "It comes to another sum than was shown; look at it once more, then issue it."
        )
    note = _write(
        invoice, reckoned, reason.strip(), on, at, by, {"bills_anew": bills_anew, "bill_to": bill_to}
    )
    if not bills_anew:
        _settle_corrections(note, reckoned)
    _set_against(note, on, at)
    after = {"invoice": invoice.number, "gross": note.gross}
    audit.record(by=by, at=at, verb="issued a credit note", subject=note, after=after, reason=note.reason)
    return note


def _refuse_day(invoice: Invoice, reason: str, on: dt.date, today: dt.date) -> None:
    if invoice.issued_on is None:
        raise Refused("draft", "This is a draft: draw it up anew instead, or discard it.")
    if not reason.strip():
        raise Refused("no-reason", "Write why it is given back; it stands on the credit note.", "reason")
    if on > today:
        raise Refused(
            "future", "A credit note is not dated ahead; choose today or an earlier day.", "issued_on"
        )
    if on < invoice.issued_on:
        raise Refused(
            "before-invoice",
            f"The invoice is of {invoice.issued_on:%-d %B %Y}; date the credit note that day or later.",
            "issued_on",
        )
    if address_on(invoice.payer, on) is None:
        raise Refused("no-address", f"{invoice.payer} has no address; write it on the customer's page.")


def _write(
    invoice: Invoice,
    reckoned: Reckoned,
    reason: str,
    on: dt.date,
    at: dt.datetime,
    by: Person,
    anew: dict[str, Any],
) -> CreditNote:
    note = CreditNote(
        invoice=invoice,
        payer=invoice.payer,
        number=numbers.next_number(KIND, on),
        issued_on=on,
        issued_at=at,
        issued_by=by,
        reason=reason,
        **anew,
        seller=papers.letterhead(),
        buyer=documents.buyer(invoice.payer, on),
        currency=Nursery.here().currency,
        net=reckoned.net,
        tax=reckoned.tax,
        gross=reckoned.gross,
    )
    note.paper = _paper(note, reckoned, on, at, by)
    note.save()
    _write_lines(note, reckoned)
    return note


def _write_lines(note: CreditNote, reckoned: Reckoned) -> None:
    CreditLine.objects.bulk_create(
        CreditLine(credit=note, position=position, line=one.row, quantity=part.quantity, net=part.net)
        for position, (one, part) in enumerate(reckoned.parts, start=1)
    )
    CreditTax.objects.bulk_create(
        CreditTax(
            credit=note,
            vat_key=one.vat_key,
            percent=one.percent,
            net=one.net,
            tax=one.tax,
            wording=one.wording,
        )
        for one in reckoned.taxes
    )


def _paper(note: CreditNote, reckoned: Reckoned, on: dt.date, at: dt.datetime, by: Person) -> Paper:
    words = credit_documents.words_of(note, reckoned)
    return papers.issue(kind=KIND, title=TITLE, words=words, on=on, at=at, by=by, number=note.number)


def _settle_corrections(note: CreditNote, reckoned: Reckoned) -> None:
    """What the ledger took off is settled where just that is given back; else it waits for the next bill."""
    lines = {line.line_id: line for line in note.lines.all()}
    settled = [
        CreditEntry(line=lines[one.row.pk], entry=entry)
        for one, part in reckoned.parts
        if one.corrections and abs(part.quantity) == one.corrected
        for entry in one.corrections
    ]
    CreditEntry.objects.bulk_create(settled)
    entries = LedgerEntry.objects.filter(pk__in=[row.entry_id for row in settled])
    lock_entries(entries=entries, number=note.number)


def _set_against(note: CreditNote, on: dt.date, at: dt.datetime) -> None:
    """The invoice is covered by the note; payments beyond the rest are taken off it, the latest first."""
    if not note.gross:
        return
    accounts = {one.invoice_id: one for one in allocating.lock_accounts(note.payer)}
    account = accounts[note.invoice_id]
    for holder in _payers_of(account):
        if note.gross <= account.open_gross:
            break
        undo_rounding(payment=holder.payment, on=on, at=at, holder=holder, accounts=accounts)
        there = allocating.set_against(holder).get(note.invoice_id, Decimal(0))
        less = min(there, note.gross - account.open_gross)
        if less > 0:
            allocating.take_off(holder, account, less, on=on, at=at)
    if note.gross > account.open_gross:
        raise Refused(
            "written-off",
            f"A part of {note.invoice.number} is written off; take that back first, then credit it.",
        )
    first = allocating.holds_from(amount=note.gross, account=account)
    if on < first:
        raise Refused(
            "before-opening",
            f"{note.invoice.number} was paid until {first:%-d %B %Y}; date the credit note that day or later.",
            "issued_on",
        )
    allocating.post(kind=Allocation.Kind.CREDIT, amount=note.gross, since=on, at=at, account=account)
    allocating.level(note.payer, at, on)


def _payers_of(account: InvoiceAccount) -> list[PaymentAccount]:
    paid = Allocation.objects.filter(invoice=account.invoice, payment__isnull=False)
    payments = paid.order_by().values_list("payment", flat=True).distinct()
    return [allocating.lock_holder(pk) for pk in sorted(payments, reverse=True)]
