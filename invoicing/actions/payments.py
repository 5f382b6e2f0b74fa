"""Payments: money received is set against invoices, named or oldest first; what is over stays as the payer's credit."""

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet

from invoicing.models import Allocation, Invoice, InvoiceAccount, Payment, PaymentAccount
from nursery import audit, clock
from nursery.models import Party, Person
from nursery.money import cents
from nursery.refusals import Refused

JUST_NOW = dt.timedelta(minutes=1)


@transaction.atomic
def record_payment(
    *,
    party: Party,
    amount: Decimal,
    on: dt.date,
    way: str,
    at: dt.datetime,
    by: Person,
    reference: str = "",
    invoice: Invoice | None = None,
) -> Payment:
    """Write down money received. It goes to the invoice the payer named, else to the oldest open ones first.

    Raises Refused: "no-amount", "future", "just-recorded", "no-invoice", "other-payer", "settled".
    """
    Party.objects.select_for_update(no_key=True).get(pk=party.pk)
    _refuse_amount(amount)
    if on > clock.day_of(at):
        raise Refused("future", "Money cannot have come on a day that has not been.", "received_on")
    _refuse_same_again(party, amount, on, way, reference, at)
    accounts = _named(invoice, party) if invoice else _oldest_first(party)
    payment = Payment.objects.create(
        party=party,
        received_on=on,
        amount_gross=amount,
        way=way,
        reference=reference,
        recorded_at=at,
        recorded_by=by,
    )
    _spread(PaymentAccount.objects.create(payment=payment, party=party, gross=amount), accounts, at)
    set_to = {
        one.invoice.number: str(one.amount_gross) for one in payment.allocations.select_related("invoice")
    }
    after = {"received_on": on, "set_against": set_to}
    audit.record(by=by, at=at, verb="recorded a payment", subject=payment, after=after)
    return payment


@transaction.atomic
def use_credit(*, invoice: Invoice, at: dt.datetime, by: Person) -> Decimal:
    """Set what the payer paid too much against an open invoice; returns how much.

    Raises Refused: "no-invoice", "settled", "no-credit".
    """
    account = _named(invoice, invoice.payer)[0]
    used = set_off(account=account, at=at, on=clock.day_of(at))
    if not used:
        raise Refused("no-credit", f"{invoice.payer} has no credit to set against {invoice.number}.")
    audit.record(by=by, at=at, verb="set credit against an invoice", subject=invoice, after={"amount": used})
    return used


def set_off(*, account: InvoiceAccount, at: dt.datetime, on: dt.date) -> Decimal:
    """Set the party's credits against one account, the oldest first; call inside the caller's transaction."""
    before = account.paid_gross
    held = PaymentAccount.objects.select_for_update(of=("self",), no_key=True).select_related("payment")
    held = held.filter(party_id=account.party_id, used_up_on=None, payment__received_on__lte=on)
    for holder in held.order_by("payment__received_on", "pk"):
        _allocate(holder, account, at)
    return account.paid_gross - before


def _refuse_same_again(
    party: Party, amount: Decimal, on: dt.date, way: str, reference: str, at: dt.datetime
) -> None:
    """A form fetched anew by the back button looks fresh; the same payment within a minute is the same press."""
    same = Payment.objects.filter(
        party=party,
        amount_gross=amount,
        received_on=on,
        way=way,
        reference=reference,
        recorded_at__gt=at - JUST_NOW,
    )
    if same.exists():
        raise Refused(
            "just-recorded",
            f"This very payment of {party} was recorded a moment ago; see the account. "
            "If it came twice, give it another reference, or write it down in a minute.",
            "amount",
        )


def _refuse_amount(amount: Decimal) -> None:
    if amount <= 0:
        raise Refused("no-amount", "Write how much was received, more than nothing.", "amount")
    if amount != cents(amount):
        raise Refused("no-amount", "Write the amount with at most two decimals.", "amount")


def _named(invoice: Invoice, party: Party) -> list[InvoiceAccount]:
    account = (
        InvoiceAccount.objects.select_for_update(of=("self",), no_key=True)
        .select_related("invoice")
        .filter(invoice=invoice)
        .first()
    )
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
    return [account]


def _oldest_first(party: Party) -> Iterable[InvoiceAccount]:
    open_ones = InvoiceAccount.objects.select_for_update(of=("self",), no_key=True).select_related("invoice")
    return list(open_ones.filter(party=party, settled_on=None).order_by("invoice__issued_on", "invoice_id"))


def _spread(holder: PaymentAccount, accounts: Iterable[InvoiceAccount], at: dt.datetime) -> None:
    for account in accounts:
        _allocate(holder, account, at)


def _allocate(holder: PaymentAccount, account: InvoiceAccount, at: dt.datetime) -> None:
    """Set as much as fits; both accounts and the row of history in step."""
    amount = min(holder.gross - holder.allocated_gross, account.gross - account.paid_gross)
    if amount <= 0:
        return
    Allocation.objects.create(payment=holder.payment, invoice=account.invoice, amount_gross=amount, at=at)
    now = (
        holder.payment.received_on,
        account.invoice.issued_on,
    )  # the invoice may not be saved as issued yet
    account.paid_gross += amount
    if account.paid_gross == account.gross:
        account.settled_on = _last_day(account.invoice.allocations.all(), now)
    account.save(update_fields=["paid_gross", "settled_on"])
    holder.allocated_gross += amount
    if holder.allocated_gross == holder.gross:
        holder.used_up_on = _last_day(holder.payment.allocations.all(), now)
    holder.save(update_fields=["allocated_gross", "used_up_on"])


def _last_day(allocations: QuerySet[Allocation], now: tuple[dt.date | None, ...]) -> dt.date:
    """The day from which all of them held: payments are written down in any order, and each holds once it was received
    and its invoice issued."""
    before = allocations.values_list("payment__received_on", "invoice__issued_on")
    return max(day for both in (*before, now) for day in both if day is not None)
