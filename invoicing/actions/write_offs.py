"""Bad debts: written off by the proprietor, with a reason, in the books alone. No credit note: the bill was right.

Whether VAT can be claimed back on one, your accountant knows.
"""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.payments import refuse_amount
from invoicing.models import Allocation, Invoice, InvoiceAccount, WriteOff
from nursery import audit, clock, words
from nursery.models import Person, Role
from nursery.refusals import Refused

KIND = Allocation.Kind.WRITE_OFF


@transaction.atomic
def write_off(*, invoice: Invoice, amount: Decimal, reason: str, at: dt.datetime, by: Person) -> WriteOff:
    """Give up what is open on an invoice, or a part of it.

    Raises Refused: "not-proprietor", "no-reason", "no-amount", "no-invoice", "settled", "more-than-open".
    """
    _refuse_person(by, reason)
    refuse_amount(amount, "Write how much is given up, more than nothing.")
    account = _locked(invoice)
    if amount > account.open_gross:
        open_now = words.money(account.open_gross, invoice.currency)
        raise Refused("more-than-open", f"Only {open_now} is open on {invoice.number}.", "amount")
    on = clock.day_of(at)
    row = WriteOff.objects.create(invoice=invoice, on=on, amount_gross=amount, reason=reason, at=at, by=by)
    allocating.post(kind=KIND, amount=amount, since=on, at=at, account=account)
    audit.record(
        by=by, at=at, verb="wrote a bad debt off", subject=invoice, after={"amount": amount}, reason=reason
    )
    return row


@transaction.atomic
def take_write_off_back(*, write_off: WriteOff, reason: str, at: dt.datetime, by: Person) -> WriteOff:
    """The debt is paid after all, or may be: the invoice is open again, as if nothing had been given up from today.

    Raises Refused: "not-proprietor", "no-reason", "taken-back".
    """
    _refuse_person(by, reason)
    invoice = write_off.invoice
    allocating.lock_party(invoice.payer)
    account = allocating.lock_accounts(invoice.payer).get(invoice=invoice)
    if write_off.undoes_id or WriteOff.objects.filter(undoes=write_off).exists():
        raise Refused("taken-back", "This was taken back already; see the invoice.")
    on, amount = clock.day_of(at), -write_off.amount_gross
    row = WriteOff.objects.create(
        invoice=invoice, undoes=write_off, on=on, amount_gross=amount, reason=reason, at=at, by=by
    )
    allocating.post(kind=KIND, amount=amount, since=on, at=at, account=account)
    audit.record(
        by=by, at=at, verb="took a write-off back", subject=invoice, after={"amount": -amount}, reason=reason
    )
    return row


def _locked(invoice: Invoice) -> InvoiceAccount:
    allocating.lock_party(invoice.payer)
    account = allocating.lock_accounts(invoice.payer).filter(invoice=invoice).first()
    if account is None:
        raise Refused("no-invoice", "This is a draft; discard it instead.")
    if account.settled_on:
        raise Refused("settled", f"Nothing is open on {invoice.number}; there is nothing to write off.")
    return account


def _refuse_person(by: Person, reason: str) -> None:
    if by.role != Role.PROPRIETOR:
        raise Refused("not-proprietor", "Only the proprietor writes a debt off or takes that back.")
    if not reason.strip():
        raise Refused("no-reason", "Write the reason in a few words.", "reason")
