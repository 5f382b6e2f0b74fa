"""Interest for late payment: the dated terms, and money of a payment kept for what a reminder asked.

Booked when money comes, not when it is asked for: what nobody pays or what is waived leaves no trace in the accounts.
"""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.payments import refuse_amount
from invoicing.models import Allocation, Invoice, LateInterest, LateTerms, Payment, PaymentAccount
from invoicing.overviews.late_interest import still_claimed
from nursery import audit, clock, words
from nursery.actions.changing import plainly
from nursery.models import Nursery, Person, Role
from nursery.money import ZERO
from nursery.refusals import Refused

KIND = Allocation.Kind.INTEREST
BANDS = (("second_from", "second_sum"), ("third_from", "third_sum"))


@transaction.atomic
def add_terms(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> LateTerms:
    """Write down what late payment costs from a day on. Raises Refused: "not-proprietor", "day-taken", "band"."""
    _refuse_other_than_proprietor(by)
    if LateTerms.objects.filter(valid_from=fields["valid_from"]).exists():
        raise Refused("day-taken", "There are terms from this day already; drop those first.", "valid_from")
    least = ZERO
    for start, amount in BANDS:
        if (fields.get(start) is None) != (fields.get(amount) is None):
            raise Refused("band", "A band needs both: from which debt, and its sum.", start)
        if fields.get(start) is not None:
            if fields[start] <= least:
                raise Refused("band", "Each band begins above the one before it.", start)
            least = fields[start]
    terms = LateTerms.objects.create(**fields, at=at, by=by)
    audit.record(by=by, at=at, verb="wrote late terms down", subject=terms, after=plainly(fields))
    return terms


@transaction.atomic
def drop_terms(*, terms: LateTerms, at: dt.datetime, by: Person) -> None:
    """They were written down by mistake; reminders issued keep what they say. Raises Refused: "not-proprietor"."""
    _refuse_other_than_proprietor(by)
    before = {"percent": terms.percent, "lump_sum": terms.lump_sum}
    audit.record(by=by, at=at, verb="dropped late terms", subject=terms, before=before)
    terms.delete()


@transaction.atomic
def keep_interest(
    *, payment: Payment, invoice: Invoice, amount: Decimal, at: dt.datetime, by: Person
) -> LateInterest:
    """Keep so much of what a payment holds as interest or lump sum for a bill paid late.

    Raises Refused: "unclear", "reversed", "security", "other-payer", "no-amount", "more-than-held", "more-than-asked".
    """
    if payment.party is None:
        raise Refused("unclear", "Nobody knows yet whose money this is; give it to a customer first.")
    allocating.lock_party(payment.party)
    holder = allocating.lock_holder_of(payment)
    _refuse(holder, invoice, amount)
    since = allocating.holds_from(amount=amount, holder=holder)
    row = LateInterest.objects.create(payment=payment, invoice=invoice, on=since, amount=amount, at=at, by=by)
    allocating.post(kind=KIND, amount=amount, since=since, at=at, holder=holder)
    after = {"amount": amount, "for": str(invoice)}
    audit.record(by=by, at=at, verb="kept late interest", subject=payment, after=after)
    return row


@transaction.atomic
def give_interest_up(*, interest: LateInterest, reason: str, at: dt.datetime, by: Person) -> LateInterest:
    """It is waived after all: the money is the payer's credit again from today.

    Raises Refused: "no-reason", "given-up".
    """
    if not reason.strip():
        raise Refused("no-reason", "Write the reason in a few words.", "reason")
    payment = interest.payment
    assert payment.party is not None
    allocating.lock_party(payment.party)
    holder = allocating.lock_holder_of(payment)
    if interest.undoes_id or LateInterest.objects.filter(undoes=interest).exists():
        raise Refused("given-up", "This was given up already; see the payment.")
    on = max(clock.day_of(at), allocating.last_day(payment.allocations.all()))
    amount = -interest.amount
    row = LateInterest.objects.create(
        payment=payment, invoice=interest.invoice, undoes=interest, on=on, amount=amount, at=at, by=by
    )
    allocating.post(kind=KIND, amount=amount, since=on, at=at, holder=holder)
    after = {"amount": -amount, "for": str(interest.invoice)}
    audit.record(by=by, at=at, verb="gave late interest up", subject=payment, after=after, reason=reason)
    return row


def _refuse(holder: PaymentAccount, invoice: Invoice, amount: Decimal) -> None:
    refuse_amount(amount, "Write how much is kept, more than nothing.")
    if holder.reversed_on:
        raise Refused("reversed", "This payment was reversed; there is nothing of it to keep.")
    if holder.is_secured:
        raise Refused("security", "This is a security; no bill has released it yet.")
    if invoice.payer_id != holder.party_id:
        raise Refused("other-payer", f"Invoice {invoice} is not a bill of {holder.payment.party}.", "invoice")
    currency = Nursery.here().currency
    if amount > holder.held_gross:
        held = words.money(max(holder.held_gross, ZERO), currency)
        raise Refused("more-than-held", f"Only {held} of this payment is held.", "amount")
    most = still_claimed(invoice.pk, holder.payment.received_on)
    if amount > most:
        raise Refused(
            "more-than-asked",
            f"Reminders of {invoice} asked for {words.money(max(most, ZERO), currency)} that is not kept yet; no more "
            "can be kept.",
            "amount",
        )


def _refuse_other_than_proprietor(by: Person) -> None:
    if by.role != Role.PROPRIETOR:
        raise Refused("not-proprietor", "Only the proprietor writes what late payment costs.")
