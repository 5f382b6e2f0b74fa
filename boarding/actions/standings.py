"""Writing a tree's standing: a dated row with its reason; the row before ends the same instant."""

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding import querysets
from boarding.actions.holds import hold_on_suspicion, lift_hold
from boarding.health import Happening, Standing, after
from boarding.models import Hold, Look, StandingRow
from boarding.overviews.now import standing_of, standing_row_of
from nursery import audit
from nursery.models import Person, Role, Tree
from nursery.overviews import tag_of
from nursery.refusals import Refused

SUSPICION = "Suspected notifiable organism: "
IN_ONE_AREA = "Stands in one area with a suspected notifiable organism, "


def set_standing(
    *,
    tree: Tree,
    to: Standing,
    cause: str,
    reason: str,
    at: dt.datetime,
    by: Person,
    look: Look | None = None,
) -> StandingRow:
    """End the open row and begin the next; call inside the transaction of what caused it."""
    current = StandingRow.objects.select_for_update(no_key=True).filter(tree=tree, until_at=None).first()
    if current is not None:
        current.until_at = at
        current.save(update_fields=["until_at"])
    row = StandingRow.objects.create(
        tree=tree, standing=to.value, since_at=at, cause=cause, reason=reason[:300], look=look, by=by
    )
    before = {"standing": current.standing} if current else {}
    audit.record(
        by=by,
        at=at,
        verb="changed standing",
        subject=tree,
        before=before,
        after={"standing": to.value},
        reason=reason,
    )
    return row


@transaction.atomic
def suspect_by_contact(*, tree: Tree, reason: str, at: dt.datetime, by: Person) -> StandingRow | None:
    """Named in a contact case; None where that changes nothing."""
    return _happen(tree, Happening.NAMED_IN_CONTACT, StandingRow.Cause.CONTACT, reason, at, by)


@transaction.atomic
def suspect_notifiable(*, tree: Tree, reason: str, at: dt.datetime, by: Person) -> StandingRow | None:
    """A notifiable organism is suspected: the tree is held, and only the authority's word ends it.

    Whoever sees it writes it down, so that nothing leaves meanwhile. None where it is suspected already.
    """
    row = _happen(tree, Happening.NOTIFIABLE_SUSPECTED, StandingRow.Cause.AUTHORITY, reason, at, by)
    if row is not None:
        hold_on_suspicion(tree=tree, suspicion=row, reason=f"{SUSPICION}{reason.strip()}", at=at, by=by)
    return row


@transaction.atomic
def hold_unit(*, tree: Tree, at: dt.datetime, by: Person) -> list[Hold]:
    """Hold every tree that stands in one area with a tree under suspicion. Refused: "not-notifiable"."""
    beside = list(querysets.in_one_area_with(tree))
    together = [tree.pk, *(place.tree_id for place in beside)]
    # All at once in the order of their keys: two suspicions in one area are held side by side.
    list(Tree.objects.select_for_update(no_key=True).filter(pk__in=together).order_by("pk"))
    row = standing_row_of(tree)
    if row is None or row.standing != Standing.NOTIFIABLE:
        raise Refused("not-notifiable", f"{tree} is under no suspicion of a notifiable organism.")
    tag = tag_of(tree)
    reason = f"{IN_ONE_AREA}{tag.short if tag else tree}"
    return [
        hold_on_suspicion(tree=place.tree, suspicion=row, reason=reason, at=at, by=by) for place in beside
    ]


@transaction.atomic
def release_by_authority(*, tree: Tree, reason: str, at: dt.datetime, by: Person) -> StandingRow:
    """The authority released the tree: it is not yet examined, and every hold that went back to it is lifted.

    Refused: "not-notifiable".
    """
    _require_proprietor(by)
    suspicion = standing_row_of(tree)
    row = _happen(tree, Happening.RELEASED, StandingRow.Cause.AUTHORITY, reason, at, by)
    if row is None:
        raise Refused("not-notifiable", f"{tree} is under no suspicion of a notifiable organism.")
    for hold in Hold.objects.filter(because_of=suspicion, lifted_at=None).order_by("pk"):
        lift_hold(hold=hold, why=reason, at=at, by=by)
    return row


@transaction.atomic
def arrive(*, tree: Tree, at: dt.datetime, by: Person) -> StandingRow | None:
    """A tree that comes through the gate is not yet examined, whatever it was when it left."""
    reason = "Came through the gate: nobody has looked at it yet"
    return _unexamined(tree, StandingRow.Cause.ARRIVAL, reason, at, by)


@transaction.atomic
def come_back(*, tree: Tree, at: dt.datetime, by: Person) -> StandingRow | None:
    """A tree back from an absence is not yet examined."""
    reason = "Back from an absence: what it met there is not known"
    return _unexamined(tree, StandingRow.Cause.RETURN, reason, at, by)


def _unexamined(tree: Tree, cause: str, reason: str, at: dt.datetime, by: Person) -> StandingRow | None:
    """Only a suspicion of a notifiable organism outlasts an absence."""
    row = standing_row_of(tree)
    if row is not None and row.standing in (Standing.NOT_EXAMINED, Standing.NOTIFIABLE):
        return None
    return set_standing(tree=tree, to=Standing.NOT_EXAMINED, cause=cause, reason=reason, at=at, by=by)


def _happen(
    tree: Tree, happening: Happening, cause: str, reason: str, at: dt.datetime, by: Person
) -> StandingRow | None:
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    if not reason.strip():
        raise Refused("no-reason", "Write the reason in a few words.", field="reason")
    now = standing_of(tree)
    to = after(now, happening)
    if to is now:
        return None
    return set_standing(tree=tree, to=to, cause=cause, reason=reason.strip(), at=at, by=by)


def _require_proprietor(by: Person) -> None:
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor writes the word of the authority")
