"""Money that goes back: a credit refunded by the way it came, a payment that the bank took back or that was none."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.payments import refuse_amount
from invoicing.actions.rounding import undo_rounding
from invoicing.models import Allocation, Payment, PaymentAccount, Refund, Reversal
from nursery import audit, clock, words
from nursery.models import Nursery, Person
from nursery.refusals import Refused


@transaction.atomic
def refund(
    *, payment: Payment, amount: Decimal, on: dt.date, at: dt.datetime, by: Person, reference: str = ""
) -> Refund:
    """Give back what is held of a payment, by the way it came.

    Raises Refused: "given", "no-amount", "future", "before-credit", "more-than-held".
    """
    if payment.party:
        allocating.lock_party(payment.party)
    holder = allocating.lock_holder_of(payment)
    refuse_amount(amount, "Write how much goes back, more than nothing.")
    if on > clock.day_of(at):
        raise Refused("future", "Money cannot have gone back on a day that has not been.", "on")
    if amount > holder.held_gross:
        held = words.money(max(holder.held_gross, Decimal(0)), Nursery.here().currency)
        raise Refused(
            "more-than-held",
            f"Only {held} of this payment is held; what stands against a bill is taken off it first.",
            "amount",
        )
    first = allocating.holds_from(amount=amount, holder=holder)
    if on < first:
        raise Refused(
            "before-credit",
            f"This credit is there since {words.day(first)}; write that day or a later one.",
            "on",
        )
    row = Refund.objects.create(
        payment=payment, on=on, amount_gross=amount, reference=reference, at=at, by=by
    )
    allocating.post(kind=Allocation.Kind.REFUND, amount=amount, since=on, at=at, holder=holder)
    after = {"amount": amount, "on": on, "way": payment.get_way_display()}
    audit.record(by=by, at=at, verb="gave a credit back", subject=payment, after=after)
    return row


@transaction.atomic
def reverse(*, payment: Payment, on: dt.date, why: str, reason: str, at: dt.datetime, by: Person) -> Reversal:
    """The bank took the payment back, or it was written down by mistake: what it had paid is open again from that day.

    Raises Refused: "given", "reversed", "future", "before-payment".
    """
    if payment.party:
        allocating.lock_party(payment.party)
    party = payment.party
    accounts = {one.invoice_id: one for one in allocating.lock_accounts(party)} if party else {}
    holder = allocating.lock_holder_of(payment)
    _refuse_reversal(holder, on, clock.day_of(at))
    row = Reversal.objects.create(payment=payment, on=on, why=why, reason=reason, at=at, by=by)
    undo_rounding(payment=payment, on=on, at=at, holder=holder, accounts=accounts)
    opened = allocating.set_against(holder)
    for key, amount in sorted(opened.items()):
        allocating.take_off(holder, accounts[key], amount, on=on, at=at)
    holder.reversed_on = on
    holder.save(update_fields=["reversed_on"])
    allocating.post(
        kind=Allocation.Kind.REVERSAL, amount=payment.amount_gross, since=on, at=at, holder=holder
    )
    if party:
        allocating.level(party, at, clock.day_of(at))
    after = {
        "on": on,
        "why": row.get_why_display(),
        "open_again": {str(accounts[key].invoice): str(amount) for key, amount in sorted(opened.items())},
    }
    audit.record(by=by, at=at, verb="reversed a payment", subject=payment, after=after, reason=reason)
    return row


def _refuse_reversal(holder: PaymentAccount, on: dt.date, today: dt.date) -> None:
    if holder.reversed_on:
        raise Refused("reversed", f"This payment was reversed on {words.day(holder.reversed_on)} already.")
    if on > today:
        raise Refused("future", "It cannot have gone back on a day that has not been.", "on")
    if on < holder.payment.received_on:
        raise Refused(
            "before-payment",
            f"The money came on {words.day(holder.payment.received_on)}; write that day or a later one.",
            "on",
        )
