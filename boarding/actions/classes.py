"""Another size class within a stay: repotted, grown, or measured again."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from boarding.actions.stays import AGREED_CLASS
from boarding.actions.steps import locked, reason_given
from boarding.models import ClassChange, Stay
from nursery import audit, clock, words
from nursery.actions.trees import change_tree
from nursery.models import Person
from nursery.permissions import DESK
from nursery.refusals import Refused

Wish = ClassChange.Wish


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
    """Another class from a night on. At the owner's wish its nights are charged by it; at the nursery's the class
    charged stays, and only the room it takes follows. Class 5 is agreed by the office.

    Raises Refused: "not-here", "billed", "no-reason", "future", "not-a-night", "same-class", "no-price".
    """
    stay, reason = locked(stay), reason_given(reason)
    _refuse_night(stay, from_night, clock.day_of(at))
    asked = Wish(wish)
    agreed = _agreed(size_class, asked, night_net, by)
    before = class_on(stay, from_night)
    if asked is Wish.OWNER and (size_class, agreed) == (before, None):
        raise Refused("same-class", f"That night is charged by class {before} already.", "size_class")
    row = ClassChange.objects.create(
        stay=stay, from_night=from_night, size_class=size_class, wish=asked, reason=reason,
        agreed_night_net=agreed, noted_at=at, noted_by=by,
    )  # fmt: skip
    if stay.left_at is None:
        change_tree(tree=stay.tree, fields={"size_class": size_class}, at=at, by=by)
    after = {"size_class": size_class, "from_night": from_night, "wish": asked.value, "night_net": agreed}
    verb = "changed the class of a stay"
    audit.record(
        by=by, at=at, verb=verb, subject=stay, before={"size_class": before}, after=after, reason=reason
    )
    return row


def class_on(stay: Stay, night: dt.date) -> int:
    """The class by which a night of the stay is charged."""
    row = stay.class_changes.charged().filter(from_night__lte=night).last()
    return row.size_class if row else stay.size_class


def _refuse_night(stay: Stay, from_night: dt.date, today: dt.date) -> None:
    if stay.received_at is None:
        raise Refused("not-here", "The tree was not taken in yet; its class is written down at the gate.")
    if stay.final_bill:
        raise Refused(
            "billed", f"{stay.final_bill} is the final bill of this stay: its class stays as it is."
        )
    if from_night > today:
        raise Refused("future", "Write the change down on the day it is made, or later.", "from_night")
    first = clock.day_of(stay.received_at)
    end = stay.died_at or stay.left_at
    if from_night < first or (end and from_night >= clock.day_of(end)):
        raise Refused(
            "not-a-night",
            f"The tree did not stay that night: it came on {words.day(first)}"
            + (f" and its nights ended on {words.day(clock.local(end))}." if end else "."),
            "from_night",
        )


def _agreed(size_class: int, wish: ClassChange.Wish, night_net: Decimal | None, by: Person) -> Decimal | None:
    """The night price of class 5, which the card has not; of every other class none."""
    if size_class != AGREED_CLASS or wish is not Wish.OWNER:
        return None
    if by.role not in DESK:
        raise Refused(
            "no-price",
            "Class 5 has no price on the rate card: the office agrees it with the owner.",
            "size_class",
        )
    if night_net is None or night_net <= 0:
        raise Refused(
            "no-price", "Class 5: write what one night costs, as agreed with the owner.", "night_net"
        )
    return night_net
