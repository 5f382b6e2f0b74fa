"""The verbs of a stay between the gates: announced, away, ready, back into care, and the sad ones."""

import datetime as dt
from decimal import Decimal

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding import querysets
from boarding.actions import places, standings
from boarding.actions.steps import locked, reason_given, require, require_free_to_leave, step
from boarding.models import Absence, FreeNight, StandingRow, Stay
from boarding.overviews.now import final_look_of
from boarding.states import IN_CUSTODY, OPEN, WORDS, StayState, StayVerb
from nursery import audit, clock, words
from nursery.models import Bench, Ownership, Party, PartyLink, Person, Tree
from nursery.permissions import DESK
from nursery.refusals import Refused

ONCE_MORE = "In care once more: it was declared clean and ready, then found infested"
AGREED_CLASS = 5  # has no prices on the rate card
LEAST_AGREED_WEIGHT = 7  # in rounds: that of class 4, the heaviest on the card


@transaction.atomic
def announce(
    *,
    owner: Party,
    tree: Tree,
    expected_in_on: dt.date,
    at: dt.datetime,
    by: Person,
    expected_out_on: dt.date | None = None,
) -> Stay:
    """Expect a tree at the gate. Refused: "open-stay", "not-theirs", "in-the-past", "out-before-in"."""
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    require_owner(tree, owner)
    require_no_open_stay(tree)
    if expected_in_on < clock.day_of(at):
        raise Refused("in-the-past", "Expect the tree today or on a later day.", field="expected_in_on")
    if expected_out_on is not None and expected_out_on < expected_in_on:
        raise Refused("out-before-in", "The tree cannot go home before it came.", field="expected_out_on")
    stay = Stay.objects.create(
        tree=tree,
        owner=owner,
        payer=payer_of(tree, owner),
        state="announced",
        announced_at=at,
        expected_in_on=expected_in_on,
        expected_out_on=expected_out_on,
        size_class=tree.size_class,
    )
    audit.record(by=by, at=at, verb="announced", subject=stay, after={"expected_in_on": expected_in_on})
    return stay


@transaction.atomic
def turn_away(*, stay: Stay, reason: str, at: dt.datetime, by: Person) -> Stay:
    """Not taken in: from an announcement or at the gate, with a reason. A hold keeps a tree that stands here."""
    stay, reason = locked(stay), reason_given(reason)
    if stay.lifeline is StayState.BEING_RECEIVED:
        require_free_to_leave(stay, StayVerb.TURN_AWAY, at)
    step(stay, StayVerb.TURN_AWAY, at=at, by=by, reason=reason, end_reason=reason)
    places.leave_place(tree=stay.tree, at=at, by=by)
    return stay


@transaction.atomic
def mark_never_came(*, stay: Stay, at: dt.datetime, by: Person) -> Stay:
    """An announced tree did not come; possible from the day after it was expected."""
    stay = locked(stay)
    require(stay, StayVerb.NOT_COME)
    if stay.expected_in_on is not None and clock.day_of(at) <= stay.expected_in_on:
        raise Refused(
            "still-expected",
            f"The tree is expected on {words.day(stay.expected_in_on)}: it can be marked as never come the day after.",
        )
    return step(stay, StayVerb.NOT_COME, at=at, by=by)


@transaction.atomic
def send_away(*, stay: Stay, reason: str, place_kept: bool, at: dt.datetime, by: Person) -> Absence:
    """The tree leaves for a while within its stay; its bench is free at once, its room only if not kept."""
    stay, reason = locked(stay), reason_given(reason)
    require(stay, StayVerb.SEND_AWAY)
    require_free_to_leave(stay, StayVerb.SEND_AWAY, at)
    step(stay, StayVerb.SEND_AWAY, at=at, by=by, reason=reason)
    absence = Absence.objects.create(stay=stay, left_at=at, place_kept=place_kept, reason=reason)
    places.leave_place(tree=stay.tree, at=at, by=by)
    return absence


@transaction.atomic
def bring_back(*, stay: Stay, to: Bench, at: dt.datetime, by: Person) -> Stay:
    """The tree returns from an absence: not yet examined, whatever it was before, and needs a look."""
    stay = locked(stay)
    require(stay, StayVerb.BRING_BACK)
    absence = Absence.objects.select_for_update(no_key=True).get(stay=stay, back_at=None)
    if at < absence.left_at:
        raise Refused("back-before-left", "The tree cannot come back before it left.", field="at")
    step(stay, StayVerb.BRING_BACK, at=at, by=by)
    absence.back_at = at
    absence.save(update_fields=["back_at"])
    standings.come_back(tree=stay.tree, at=at, by=by)
    places.move_tree(tree=stay.tree, to=to, at=at, by=by)
    return stay


@transaction.atomic
def make_ready(*, stay: Stay, at: dt.datetime, by: Person) -> Stay:
    """Ready for collection: after a final inspection, with no hold and no re-entry time running."""
    stay = locked(stay)
    require(stay, StayVerb.MAKE_READY)
    require_free_to_leave(stay, StayVerb.MAKE_READY, at)
    _require_final_look(stay)
    free_nights_once_more(stay=stay, at=at)
    return step(stay, StayVerb.MAKE_READY, at=at, by=by, ready_at=at)


@transaction.atomic
def take_back(*, stay: Stay, why: str, at: dt.datetime, by: Person) -> Stay:
    """Back into care at the last moment; it needs a new final inspection to be ready again."""
    stay, why = locked(stay), reason_given(why, field="why")
    return step(stay, StayVerb.TAKE_BACK, at=at, by=by, reason=why, ready_at=None, taken_back_at=at)


@transaction.atomic
def record_death(*, stay: Stay, reason: str, at: dt.datetime, by: Person) -> Stay:
    """The tree died in care: nights end with this day; remains and pot are kept for the owner's answer."""
    stay, reason = locked(stay), reason_given(reason)
    return step(stay, StayVerb.RECORD_DEATH, at=at, by=by, reason=reason, died_at=at, end_reason=reason)


@transaction.atomic
def hand_over_remains(*, stay: Stay, to_whom: str, at: dt.datetime, by: Person) -> Stay:
    """The owner, or whom the owner sent, takes the remains and the pot home."""
    stay = locked(stay)
    require(stay, StayVerb.HAND_OVER_REMAINS)
    require_free_to_leave(stay, StayVerb.HAND_OVER_REMAINS, at)
    if not to_whom.strip():
        raise Refused("to-nobody", "Write who took the remains.", field="to_whom")
    step(stay, StayVerb.HAND_OVER_REMAINS, at=at, by=by, reason=f"Taken by {to_whom.strip()}", left_at=at)
    places.leave_place(tree=stay.tree, at=at, by=by)
    return stay


@transaction.atomic
def dispose_of_remains(*, stay: Stay, consent: str, at: dt.datetime, by: Person) -> Stay:
    """Remains disposed of with the owner's consent, whose words, way and day are kept."""
    stay = locked(stay)
    require(stay, StayVerb.DISPOSE_OF_REMAINS)
    require_free_to_leave(stay, StayVerb.DISPOSE_OF_REMAINS, at)
    if not consent.strip():
        raise Refused("no-consent", "Write how and when the owner agreed to it.", field="consent")
    step(stay, StayVerb.DISPOSE_OF_REMAINS, at=at, by=by, reason=consent.strip(), left_at=at)
    places.leave_place(tree=stay.tree, at=at, by=by)
    return stay


@transaction.atomic
def grant_free_night(*, stay: Stay, night_of: dt.date, reason: str, at: dt.datetime, by: Person) -> FreeNight:
    """A night that is not charged. Refused: outside the stay, free already, or the final bill is issued."""
    stay, reason = locked(stay), reason_given(reason)
    _refuse_billed(stay)
    first = clock.day_of(stay.received_at) if stay.received_at else None
    last = clock.day_of(stay.left_at) if stay.left_at else None
    if first is None or night_of < first or (last is not None and night_of >= last):
        raise Refused(
            "not-a-night", "The tree did not stay that night: choose a night of its stay.", field="night_of"
        )
    free, made = FreeNight.objects.get_or_create(
        stay=stay, night_of=night_of, defaults={"reason": reason, "granted_by": by}
    )
    if not made:
        raise Refused("already-free", "That night is free already.", field="night_of")
    audit.record(
        by=by, at=at, verb="granted a free night", subject=stay, after={"night_of": night_of}, reason=reason
    )
    return free


@transaction.atomic
def free_nights_once_more(*, stay: Stay, at: dt.datetime) -> int:
    """A tree declared clean and ready, then found infested, costs no night from that day to the day it is ready again.

    The night after that day is free with the others, so that its owner can come. Returns how many nights were added.
    """
    stay = locked(stay)
    if stay.taken_back_at is None or not querysets.once_more_for_nothing().filter(pk=stay.pk).exists():
        return 0
    found = StandingRow.objects.get(tree=stay.tree_id, since_at=stay.taken_back_at)
    first, last = clock.day_of(found.since_at), clock.day_of(at)
    free_already = set(stay.free_nights.values_list("night_of", flat=True))
    nights = [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]
    added = [
        FreeNight(stay=stay, night_of=night, reason=ONCE_MORE, granted_by=found.by)
        for night in nights
        if night not in free_already
    ]
    FreeNight.objects.bulk_create(added)
    if added:
        after = {"first": added[0].night_of, "last": added[-1].night_of}
        audit.record(by=None, at=at, verb="made nights free", subject=stay, after=after, reason=ONCE_MORE)
    return len(added)


def follow_once_more(*, at: dt.datetime) -> int:
    """The nights that have come since, of every stay in care once more. Returns how many were added."""
    return sum(free_nights_once_more(stay=stay, at=at) for stay in querysets.once_more_for_nothing())


@transaction.atomic
def agree_isolation(*, stay: Stay, on: dt.date, at: dt.datetime, by: Person) -> Stay:
    """The owner agreed to the isolation surcharge on this day; the first day agreed stays."""
    stay = locked(stay)
    if on > clock.day_of(at):
        raise Refused("in-the-future", "The day of the owner's answer cannot lie ahead.", field="on")
    if stay.isolation_agreed_on is not None:
        return stay
    _refuse_billed(stay)
    stay.isolation_agreed_on = on
    stay.save(update_fields=["isolation_agreed_on"])
    audit.record(
        by=by,
        at=at,
        verb="wrote down that isolation was agreed",
        subject=stay,
        after={"isolation_agreed_on": on},
    )
    return stay


@transaction.atomic
def agree_price(
    *, stay: Stay, night_net: Decimal, area_m2: Decimal, round_weight: int, at: dt.datetime, by: Person
) -> Stay:
    """What the office or the proprietor agrees with the owner of a class 5 tree at check-in: the night price, the room
    it takes, and its weight where the minutes and the product of a round are shared among many trees.

    Refused: "not-class-5", "no-price", "no-area", "light", "price-agreed" (once the tree is in care the price holds).
    """
    if by.role not in DESK:
        raise PermissionDenied("only the office agrees a price")
    stay = locked(stay)
    if stay.size_class != AGREED_CLASS:
        raise Refused(
            "not-class-5", f"{stay.tree} is class {stay.size_class}: its prices stand on the rate card."
        )
    if night_net <= 0:
        raise Refused("no-price", "Write what one night costs, more than nothing.", field="night_net")
    if area_m2 <= 0:
        raise Refused("no-area", "Write how many square metres of bench it takes.", field="area_m2")
    if round_weight < LEAST_AGREED_WEIGHT:
        raise Refused(
            "light",
            f"Its weight in rounds is {LEAST_AGREED_WEIGHT}, that of class 4, or more.",
            "round_weight",
        )
    if stay.received_at and stay.agreed_night_net is not None:
        raise Refused(
            "price-agreed", "The price was agreed at check-in and holds for this stay.", field="night_net"
        )
    before = _agreed(stay)
    stay.agreed_night_net, stay.agreed_round_weight, stay.tree.area_m2 = night_net, round_weight, area_m2
    stay.save(update_fields=["agreed_night_net", "agreed_round_weight"])
    stay.tree.save(update_fields=["area_m2"])
    audit.record(
        by=by, at=at, verb="wrote down an agreed price", subject=stay, before=before, after=_agreed(stay)
    )
    return stay


def _agreed(stay: Stay) -> dict[str, object]:
    return {
        "agreed_night_net": stay.agreed_night_net,
        "area_m2": stay.tree.area_m2,
        "agreed_round_weight": stay.agreed_round_weight,
    }


@transaction.atomic
def mark_day_work(*, stay: Stay, day_work: bool, at: dt.datetime, by: Person) -> Stay:
    """The tree comes only for work while somebody waits: no boarding is charged. Not after a bill was made final."""
    stay = locked(stay)
    if stay.day_work == day_work:
        return stay
    _refuse_billed(stay)
    stay.day_work = day_work
    stay.save(update_fields=["day_work"])
    audit.record(by=by, at=at, verb="marked as day work", subject=stay, after={"day_work": day_work})
    return stay


@transaction.atomic
def expect_out(*, stay: Stay, on: dt.date | None, at: dt.datetime, by: Person) -> Stay:
    """Change the day the tree is expected to go home. Refused: "ended", "out-before-in"."""
    stay = locked(stay)
    if stay.lifeline not in OPEN:
        raise Refused("ended", f"This stay is {WORDS[stay.lifeline]}: nothing is expected of it any more.")
    if on is not None and on < clock.day_of(stay.received_at or at):
        raise Refused("out-before-in", "The tree cannot go home before it came.", field="expected_out_on")
    before = {"expected_out_on": stay.expected_out_on}
    stay.expected_out_on = on
    stay.save(update_fields=["expected_out_on"])
    audit.record(
        by=by,
        at=at,
        verb="changed the expected collection",
        subject=stay,
        before=before,
        after={"expected_out_on": on},
    )
    return stay


def _refuse_billed(stay: Stay) -> None:
    """After its final bill a stay is charged nothing more and credited nothing by itself."""
    if stay.final_bill:
        raise Refused(
            "billed", f"{stay.final_bill} is the final bill of this stay: it says what was charged."
        )


def require_owner(tree: Tree, owner: Party) -> None:
    """Refused unless the tree belongs to the party now."""
    row = Ownership.objects.filter(tree=tree, until_on=None).select_related("party").first()
    if row is None or row.party_id != owner.pk:
        whose = row.party if row and row.party else "the nursery"
        raise Refused(
            "not-theirs",
            f"{tree} belongs to {whose}, not to {owner}: choose {owner}'s tree, or write down the new owner first.",
            field="tree",
        )


def require_no_open_stay(tree: Tree) -> None:
    """Refused while the tree has an open stay."""
    stay = querysets.still_open().filter(tree=tree).first()
    if stay is not None:
        where = "at the tree's page" if stay.lifeline in IN_CUSTODY else "at the Gate"
        raise Refused("open-stay", f"{tree} is already {WORDS[stay.lifeline]}: go on {where}.", field="tree")


def payer_of(tree: Tree, owner: Party) -> Party:
    """Who pays for the tree: the linked payer, else its owner."""
    link = PartyLink.objects.filter(tree=tree, role="payer", until_on=None).select_related("party").first()
    return link.party if link else owner


def _require_final_look(stay: Stay) -> None:
    if final_look_of(stay) is None:
        raise Refused(
            "no-final-look",
            f"{stay.tree} needs a final inspection first: write down a look with the purpose final.",
        )
