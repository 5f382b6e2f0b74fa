"""Another size class within a stay, as long as its nights are not billed."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from boarding.actions import classes
from boarding.actions.steps import locked
from boarding.models import ClassChange, Stay
from invoicing.models import InvoiceLine
from invoicing.querysets import lines_standing
from nursery import words
from nursery.models import Person
from nursery.refusals import Refused


@transaction.atomic
def change_class(
    *,
    stay: Stay,
    size_class: int,
    from_night: dt.date,
    wish: str,
    reason: str,
    at: dt.datetime,
    by: Person,
    night_net: Decimal | None = None,
) -> ClassChange:
    """As `boarding.actions.classes.change_class`; at the owner's wish only from nights that no bill has yet.

    Raises Refused("night-billed") besides.
    """
    stay = locked(stay)
    billed = last_night_billed(stay)
    if wish == ClassChange.Wish.OWNER and billed is not None and from_night <= billed:
        raise Refused(
            "night-billed",
            f"Nights up to {words.day(billed)} are billed, and a bill never changes: begin with a later night, and "
            "give the difference back by a credit note if there is one.",
            "from_night",
        )
    return classes.change_class(
        stay=stay, size_class=size_class, from_night=from_night, wish=wish, reason=reason, at=at, by=by,
        night_net=night_net,
    )  # fmt: skip


def last_night_billed(stay: Stay) -> dt.date | None:
    """The last night that an issued bill reaches."""
    rows = lines_standing().filter(stay=stay, kind=InvoiceLine.Kind.BOARDING)
    last: dt.date | None = rows.aggregate(last=Max("until_on"))["last"]
    return last
