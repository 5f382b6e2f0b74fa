"""Payments: money received is set against invoices, named or oldest first; what is over stays as the payer's credit.

Money whose payer is not known waits, set against nothing, until a person gives it to a customer.
"""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.rounding import round_off, undo_rounding
from invoicing.models import Invoice, InvoiceAccount, Payment, PaymentAccount
from nursery import audit, clock, words
from nursery.models import Nursery, Party, Person
from nursery.money import ZERO, cents
from nursery.refusals import Refused

JUST_NOW = dt.timedelta(minutes=1)


@transaction.atomic
def record_payment(
    *,
    party: Party | None,
    amount: Decimal,
    on: dt.date,
    way: str,
    at: dt.datetime,
    by: Person,
    reference: str = "",
    invoice: Invoice | None = None,
    payer_words: str = "",
    again: bool = False,
) -> Payment:
    """Write down money received. It goes to the invoice the payer named, else to the oldest open ones first.

    Without a party it waits until somebody knows whose it is. Cash settles a bill but for coins that are not used.
    `again`: the same may have come just before, as the bank itself lists both.
    Raises Refused: "no-amount", "future", "just-recorded", "no-invoice", "other-payer", "settled".
    """
    if party:
        allocating.lock_party(party)
    refuse_impossible(amount, on, at)
    told = {"party": party, "received_on": on, "amount_gross": amount, "way": way}
    told |= {"reference": reference, "payer_words": payer_words}
    if not again:
        refuse_same_again(party, told, at)
    payment = Payment.objects.create(**told, recorded_at=at, recorded_by=by)
    holder = PaymentAccount.objects.create(payment=payment, party=party, gross=amount)
    if party:
        _use(holder, party, invoice, at)
    after = {"received_on": on, "set_against": _told(holder)}
    audit.record(by=by, at=at, verb="recorded a payment", subject=payment, after=after)
    return payment


@transaction.atomic
def give_payment(
    *, payment: Payment, party: Party, at: dt.datetime, by: Person, invoice: Invoice | None = None
) -> None:
    """Say whose money it is that came without anybody knowing; it is then used like any payment of theirs.

    Raises Refused: "given", "reversed", "no-invoice", "other-payer", "settled".
    """
    allocating.lock_party(party)
    if invoice:
        allocating.named(invoice, party)
    holder = allocating.lock_holder(payment.pk)
    if holder.party_id:
        raise Refused("given", f"This payment is {holder.payment.party}'s already; see their account.")
    if holder.reversed_on:
        raise Refused("reversed", "This payment was reversed; there is nothing left to give to anybody.")
    Payment.objects.filter(pk=payment.pk).update(party=party, given_on=clock.day_of(at))
    PaymentAccount.objects.filter(pk=holder.pk).update(party=party)
    payment.party = holder.payment.party = holder.party = party
    _use(holder, party, invoice, at)
    after = {"payer": str(party), "set_against": _told(holder)}
    audit.record(by=by, at=at, verb="gave a payment to a customer", subject=payment, after=after)


@transaction.atomic
def use_credit(*, invoice: Invoice, at: dt.datetime, by: Person) -> Decimal:
    """Set what the payer paid too much against an open invoice; returns how much.

    Raises Refused: "no-invoice", "settled", "no-credit".
    """
    allocating.lock_party(invoice.payer)
    account = allocating.named(invoice, invoice.payer)
    used = set_off(account=account, at=at, on=clock.day_of(at))
    if not used:
        raise Refused("no-credit", f"{invoice.payer} has no credit to set against {invoice.number}.")
    audit.record(by=by, at=at, verb="set credit against an invoice", subject=invoice, after={"amount": used})
    return used


def set_off(*, account: InvoiceAccount, at: dt.datetime, on: dt.date) -> Decimal:
    """Set the party's credits against one account, the oldest first; call inside the caller's transaction. A security
    is none."""
    before = account.paid_gross
    held = PaymentAccount.objects.select_for_update(of=("self",), no_key=True).select_related("payment")
    held = held.filter(party_id=account.party_id, used_up_on=None, is_secured=False)
    for holder in held.filter(payment__received_on__lte=on).order_by("payment__received_on", "pk"):
        allocating.allocate(holder, account, at)
    return account.paid_gross - before


def use_securities(*, account: InvoiceAccount, at: dt.datetime, on: dt.date) -> None:
    """The bill that ends a stay takes what was held as security; what is over is a credit like any other."""
    held = PaymentAccount.objects.select_for_update(of=("self",), no_key=True).select_related("payment")
    held = held.filter(party_id=account.party_id, is_secured=True, payment__received_on__lte=on)
    for holder in held.order_by("payment__received_on", "pk"):
        holder.is_secured = False
        holder.save(update_fields=["is_secured"])
        allocating.allocate(holder, account, at)


@transaction.atomic
def set_payment_against(
    *, payment: Payment, amounts: Mapping[int, Decimal], reason: str, at: dt.datetime, by: Person
) -> None:
    """Set a payment against invoices as its payer meant it: `amounts` by invoice; whatever else it paid is open again.

    What is set against nothing stays as credit. Raises Refused: "unclear", "reversed", "no-invoice", "more-than-open",
    "more-than-paid", "nothing-changed".
    """
    if payment.party is None:
        raise Refused("unclear", "Nobody knows yet whose money this is; give it to a customer first.")
    allocating.lock_party(payment.party)
    accounts = {one.invoice_id: one for one in allocating.lock_accounts(payment.party)}
    holder = allocating.lock_holder(payment.pk)
    if holder.reversed_on:
        raise Refused("reversed", "This payment was reversed; there is nothing of it to set against a bill.")
    now = allocating.set_against(holder)
    wanted = {key: cents(amount) for key, amount in amounts.items() if amount}
    if wanted == now:
        raise Refused("nothing-changed", "It stands so already; change an amount first.")
    before = _told(holder)
    undo_rounding(payment=payment, on=clock.day_of(at), at=at, holder=holder, accounts=accounts)
    _refuse_too_much(holder, accounts, now, wanted)
    for key in sorted(now):
        if (less := now[key] - wanted.get(key, ZERO)) > 0:
            allocating.take_off(holder, accounts[key], less, on=clock.day_of(at), at=at)
    for key in (key for key in accounts if key in wanted):
        if (more := wanted[key] - now.get(key, ZERO)) > 0:
            allocating.allocate(holder, accounts[key], at, more)
    audit.record(
        by=by,
        at=at,
        verb="set a payment against other invoices",
        subject=payment,
        before={"set_against": before},
        after={"set_against": _told(holder)},
        reason=reason,
    )


def refuse_amount(amount: Decimal, sentence: str) -> None:
    """An amount of money is above nothing, in whole cents."""
    if amount <= 0:
        raise Refused("no-amount", sentence, "amount")
    if amount != cents(amount):
        raise Refused("no-amount", "Write the amount with at most two decimals.", "amount")


def _use(holder: PaymentAccount, party: Party, invoice: Invoice | None, at: dt.datetime) -> None:
    """Against the bill that was named, else the oldest first; what is over first pays back what was given back."""
    accounts = [allocating.named(invoice, party)] if invoice else allocating.oldest_first(party)
    if holder.payment.way == Payment.Way.CASH:
        accounts = round_off(holder, accounts, at, Nursery.here().cash_step)
    allocating.spread(holder, accounts, at)
    allocating.level(party, at, clock.day_of(at))


def _told(holder: PaymentAccount) -> dict[str, str]:
    """Number of each invoice and what of the payment stands against it, for the trail."""
    now = allocating.set_against(holder)
    numbers = Invoice.objects.filter(pk__in=now).order_by("pk").values_list("pk", "number")
    return {str(number): str(now[key]) for key, number in numbers}


def refuse_impossible(amount: Decimal, on: dt.date, at: dt.datetime) -> None:
    refuse_amount(amount, "Write how much was received, more than nothing.")
    if on > clock.day_of(at):
        raise Refused("future", "Money cannot have come on a day that has not been.", "received_on")


def refuse_same_again(party: Party | None, told: Mapping[str, Any], at: dt.datetime) -> None:
    """A form fetched anew by the back button looks fresh; the same payment within a minute is the same press."""
    same = Payment.objects.filter(**told, recorded_at__gt=at - JUST_NOW)
    if same.exists():
        raise Refused(
            "just-recorded",
            f"This very payment{f' of {party}' if party else ''} was recorded a moment ago; see the account. "
            "If it came twice, give it another reference, or write it down in a minute.",
            "amount",
        )


def _refuse_too_much(
    holder: PaymentAccount,
    accounts: Mapping[int, InvoiceAccount],
    now: Mapping[int, Decimal],
    wanted: Mapping[int, Decimal],
) -> None:
    """Not more against a bill than is open on it, not more of a payment than is there."""
    for key, amount in wanted.items():
        account = accounts.get(key)
        if account is None:
            raise Refused("no-invoice", "One of these is no bill of this payer; open the page again.")
        room = account.open_gross + now.get(key, ZERO)
        if amount < 0 or amount > room:
            raise Refused(
                "more-than-open",
                f"Write from 0 to {words.cash(room)}: no more is open on {account.invoice.number}.",
                f"invoice_{key}",
            )
    there = holder.held_gross + sum(now.values(), ZERO)
    if sum(wanted.values(), ZERO) > there:
        raise Refused(
            "more-than-paid",
            f"Together no more than {words.cash(there)} of this payment can be set against bills.",
        )
