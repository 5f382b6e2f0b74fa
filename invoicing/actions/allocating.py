"""The history of money: each row and the accounts it bears on are written in step, here alone."""

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db.models import Max, QuerySet, Sum

from invoicing.models import Allocation, Invoice, InvoiceAccount, Payment, PaymentAccount
from nursery.models import Party
from nursery.money import ZERO, cents
from nursery.refusals import Refused

Kind = Allocation.Kind


def post(
    *,
    kind: str,
    amount: Decimal,
    since: dt.date,
    at: dt.datetime,
    holder: PaymentAccount | None = None,
    account: InvoiceAccount | None = None,
) -> None:
    """One row of history, and what is open on the invoice and left of the payment with it."""
    rows = Allocation.objects.all()
    rows.create(
        payment=holder.payment if holder else None,
        invoice=account.invoice if account else None,
        kind=kind,
        amount_gross=amount,
        since_on=since,
        at=at,
    )
    if account:
        account.paid_gross += amount
        account.settled_on = None if account.open_gross else last_day(rows.filter(invoice=account.invoice))
        account.save(update_fields=["paid_gross", "settled_on"])
    if holder:
        holder.allocated_gross += amount
        holder.used_up_on = None if holder.held_gross else last_day(rows.filter(payment=holder.payment))
        holder.save(update_fields=["allocated_gross", "used_up_on"])


def allocate(
    holder: PaymentAccount, account: InvoiceAccount, at: dt.datetime, most: Decimal | None = None
) -> None:
    """Set as much as fits of a payment against an invoice, at most so much."""
    amount = min(holder.held_gross, account.open_gross)
    amount = amount if most is None else min(amount, most)
    if amount > 0:
        since = holds_from(amount=amount, holder=holder, account=account)
        post(kind=Kind.SET, amount=amount, since=since, at=at, holder=holder, account=account)


def spread(holder: PaymentAccount, accounts: Iterable[InvoiceAccount], at: dt.datetime) -> None:
    """Set a payment against these invoices, one after the other."""
    for account in accounts:
        allocate(holder, account, at)


def take_off(
    holder: PaymentAccount, account: InvoiceAccount, amount: Decimal, *, on: dt.date, at: dt.datetime
) -> None:
    """Take a part of a payment off an invoice again, from a day on, but not before it was set against it."""
    joined = Allocation.objects.filter(payment=holder.payment, invoice=account.invoice)
    since = max(on, last_day(joined))
    post(kind=Kind.OFF, amount=-amount, since=since, at=at, holder=holder, account=account)


def holds_from(
    *, amount: Decimal, holder: PaymentAccount | None = None, account: InvoiceAccount | None = None
) -> dt.date:
    """The day from which a new row may hold: money and invoice were there, and on no later day there is too much.

    Payments are written down in any order; but where something was taken off again, a row that reached back before that
    day would count the same money twice in between.
    """
    rows = Allocation.objects.all()
    days: list[dt.date | None] = []
    if holder:
        room = _room_from(rows.filter(payment=holder.payment), holder.gross - amount)
        days += [holder.payment.received_on, room]
    if account:
        room = _room_from(rows.filter(invoice=account.invoice), account.gross - amount)
        days += [account.invoice.issued_on, room]  # which may not be saved as issued yet
    return max(day for day in days if day is not None)


def _room_from(rows: QuerySet[Allocation], most: Decimal) -> dt.date | None:
    """The day since which the rows add up to no more than that; None when they always did."""
    used, over, since = ZERO, False, None
    by_day = rows.order_by("since_on").values_list("since_on").annotate(total=Sum("amount_gross"))
    for day, total in by_day:
        used += cents(total)
        if over and used <= most:
            since = day
        over = used > most
    return since


def last_day(rows: QuerySet[Allocation]) -> dt.date:
    """The day from which all of the rows hold."""
    last: dt.date = rows.aggregate(last=Max("since_on"))["last"]
    return last


def set_against(holder: PaymentAccount) -> dict[int, Decimal]:
    """What of a payment stands against each invoice now."""
    rows = Allocation.objects.filter(payment=holder.payment, invoice__isnull=False).order_by()
    sums = rows.values_list("invoice").annotate(total=Sum("amount_gross"))
    return {key: amount for key, total in sums if (amount := cents(total))}


# --- Rows locked for it, always in this order: party, invoices, payments ---------------------------------------------


def lock_party(party: Party) -> None:
    """Nobody else deals with money of this customer until the transaction ends."""
    Party.objects.select_for_update(no_key=True).get(pk=party.pk)


def lock_accounts(party: Party) -> QuerySet[InvoiceAccount]:
    """Accounts of a customer's invoices, to be written."""
    rows = InvoiceAccount.objects.select_for_update(of=("self",), no_key=True).select_related("invoice")
    return rows.filter(party=party).order_by("invoice__issued_on", "invoice_id")


def lock_holder_of(payment: Payment) -> PaymentAccount:
    """The same for a payment as a page showed it; Refused("given") when it was given to a customer meanwhile."""
    holder = lock_holder(payment.pk)
    if holder.party_id != payment.party_id:
        raise Refused("given", f"This payment was just given to {holder.payment.party}; look at it again.")
    return holder


def lock_holder(payment_pk: int) -> PaymentAccount:
    """The account of a payment, to be written."""
    rows = PaymentAccount.objects.select_for_update(of=("self",), no_key=True)
    return rows.select_related("payment__party").get(payment=payment_pk)


def oldest_first(party: Party) -> Sequence[InvoiceAccount]:
    """Open invoices of a customer."""
    return list(lock_accounts(party).filter(settled_on=None))


def named(invoice: Invoice, party: Party) -> InvoiceAccount:
    """The account of the invoice a payer named; Refused: "no-invoice", "other-payer", "settled"."""
    rows = InvoiceAccount.objects.select_for_update(of=("self",), no_key=True).select_related("invoice")
    account = rows.filter(invoice=invoice).first()
    if account is None:
        raise Refused("no-invoice", "This is a draft; money is set against issued invoices only.", "invoice")
    if account.party_id != party.pk:
        raise Refused("other-payer", f"Invoice {invoice.number} is not a bill of {party}.", "invoice")
    if account.settled_on:
        raise Refused(
            "settled",
            f"Invoice {invoice.number} is paid already. Leave the invoice open: the money then goes to the oldest "
            "open one, or stays as credit.",
            "invoice",
        )
    return account


def level(party: Party, at: dt.datetime, on: dt.date) -> None:
    """What was given back of a payment that the bank took back afterwards is owed to us: money held pays it first."""
    rows = PaymentAccount.objects.select_for_update(of=("self",), no_key=True).select_related("payment")
    left = list(rows.filter(party=party, used_up_on=None).order_by("payment__received_on", "pk"))
    for short in (one for one in left if one.held_gross < 0):
        for holder in (one for one in left if one.held_gross > 0 and not one.is_secured):
            amount = min(holder.held_gross, -short.held_gross)
            if amount > ZERO:
                post(kind=Kind.LEVEL, amount=amount, since=on, at=at, holder=holder)
                post(kind=Kind.LEVEL, amount=-amount, since=on, at=at, holder=short)
