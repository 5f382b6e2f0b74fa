"""Goodwill: a gift on the bill of a stay, with its reason. What was never owed is "not charged" instead."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Sum

from boarding.models import Stay
from invoicing.actions.estimates import locked_stay
from invoicing.models import Goodwill
from invoicing.overviews.drawn import drawn_for_tree
from nursery import audit, clock, words
from nursery.models import Nursery, Party, Person, Role
from nursery.money import ZERO, cents
from nursery.refusals import Refused


@transaction.atomic
def give_goodwill(
    *, stay: Stay, payer: Party, amount: Decimal, reason: str, at: dt.datetime, by: Person
) -> Goodwill:
    """Take so much off the next bill of the payer for this stay.

    Above the limit of the house for one stay it is the proprietor's to give. Raises Refused: "no-amount", "no-reason",
    "billed", "over-limit", "more-than-unbilled".
    """
    stay = locked_stay(stay)
    if amount <= 0:
        raise Refused("no-amount", "Write how much is given, more than nothing.", "amount")
    if not reason.strip():
        raise Refused("no-reason", "Write why it is given; it stands on the bill.", "reason")
    if stay.final_bill:
        raise Refused(
            "billed", f"This stay is billed to its end on {stay.final_bill}; give it back by a credit note."
        )
    _refuse_over_limit(stay, amount, by)
    left = unbilled_net(stay, payer, clock.day_of(at))
    if amount > left:
        raise Refused(
            "more-than-unbilled",
            f"Only {max(left, ZERO)} without VAT is unbilled of this stay for {payer}; give that or less.",
            "amount",
        )
    given = Goodwill.objects.create(
        stay=stay,
        payer=payer,
        amount_net=amount,
        reason=reason.strip(),
        given_on=clock.day_of(at),
        given_at=at,
        given_by=by,
    )
    after = {"amount_net": amount, "payer": str(payer)}
    audit.record(by=by, at=at, verb="gave goodwill", subject=given, after=after, reason=given.reason)
    return given


@transaction.atomic
def take_goodwill_back(*, goodwill: Goodwill, at: dt.datetime, by: Person) -> Goodwill:
    """It was written down by mistake. Raises Refused: "taken-back", "billed"."""
    locked_stay(goodwill.stay)
    goodwill = Goodwill.objects.select_for_update(of=("self",), no_key=True).get(pk=goodwill.pk)
    if goodwill.taken_back_at:
        raise Refused("taken-back", "This was taken back already.")
    line = getattr(goodwill, "line", None)
    if line is not None and not line.invoice.is_draft:
        raise Refused("billed", f"It stands on invoice {line.invoice.number}, and that never changes.")
    goodwill.taken_back_at, goodwill.taken_back_by = at, by
    goodwill.save(update_fields=["taken_back_at", "taken_back_by"])
    audit.record(by=by, at=at, verb="took goodwill back", subject=goodwill, reason=goodwill.reason)
    return goodwill


def unbilled_net(stay: Stay, payer: Party, day: dt.date) -> Decimal:
    """What a bill drawn up now would say of the stay for the payer."""
    drawn = drawn_for_tree(stay.tree, up_to_on=day, work_before=day)
    lines = (line for one in drawn if one.payer == payer for line in one.lines if line.stay == stay.pk)
    return sum((line.net for line in lines), ZERO)


def _refuse_over_limit(stay: Stay, amount: Decimal, by: Person) -> None:
    """The limit is for the whole of a stay, so that it cannot be passed in small pieces."""
    limit = Nursery.here().goodwill_limit_net
    given = Goodwill.objects.filter(stay=stay, taken_back_at=None, again=None).aggregate(
        sum=Sum("amount_net")
    )["sum"]
    before = cents(given or ZERO)
    if by.role != Role.PROPRIETOR and before + amount > limit:
        already = f", and {before} was given already" if before else ""
        raise Refused(
            "over-limit",
            f"Up to {words.cash(limit)} for one stay the office may give{already}; the proprietor may give more.",
            "amount",
        )
