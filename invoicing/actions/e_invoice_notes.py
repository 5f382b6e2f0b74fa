"""An e-invoice that the recipient's system refused: noted, and that the same file went out again. It never changes."""

import datetime as dt

from django.db import transaction

from invoicing.actions import allocating
from invoicing.models import EInvoiceNote, Invoice
from nursery import audit, clock, words
from nursery.models import Person
from nursery.refusals import Refused


@transaction.atomic
def note_e_invoice(
    *, invoice: Invoice, what: str, told: str, on: dt.date, at: dt.datetime, by: Person
) -> EInvoiceNote:
    """Write down a refusal, with what their system said, or that it went out again, with how.

    Raises Refused: "no-e-invoice", "no-words", "future", "before-invoice", "not-refused".
    """
    allocating.lock_party(invoice.payer)
    if invoice.paper is None or invoice.issued_on is None or not invoice.paper.words.get("e_invoice"):
        raise Refused("no-e-invoice", "There is no e-invoice of this that a system could refuse.")
    if not told.strip():
        raise Refused("no-words", "Write what their system said, or which way it went out again.", "told")
    if on > clock.day_of(at):
        raise Refused("future", "It cannot have happened on a day that has not been.", "on")
    last = EInvoiceNote.objects.filter(invoice=invoice).last()
    first = last.on if last else invoice.issued_on
    if on < first:
        raise Refused("before-invoice", f"Write {words.day(first)} or a later day.", "on")
    if what == EInvoiceNote.What.SENT_AGAIN and (last is None or last.what != EInvoiceNote.What.REFUSED):
        raise Refused("not-refused", "It was not refused; write down first what their system said.", "what")
    row = EInvoiceNote.objects.create(invoice=invoice, what=what, on=on, told=told.strip(), at=at, by=by)
    after = {"what": row.get_what_display(), "on": on}
    audit.record(by=by, at=at, verb="noted of an e-invoice", subject=invoice, after=after, reason=row.told)
    return row
