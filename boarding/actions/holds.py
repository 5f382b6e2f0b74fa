"""Holds: while one stands on a tree, the tree leaves by no gate."""

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding.actions.steps import reason_given
from boarding.models import Hold, StandingRow
from nursery import audit
from nursery.models import Person, Role, Tree
from nursery.refusals import Refused


@transaction.atomic
def place_hold(
    *, tree: Tree, kind: str, reason: str, at: dt.datetime, by: Person, until_at: dt.datetime | None = None
) -> Hold:
    """Hold the tree from this instant, until an instant or until lifted. An official hold is the proprietor's.

    The same hold placed twice (kind, reason, end) is one hold.
    """
    _require_right(kind, by)
    if until_at is not None and until_at <= at:
        raise Refused("hold-over", "A hold must end later than it begins.", field="until_at")
    return _place(tree, kind, reason_given(reason), at, by, until_at=until_at)


@transaction.atomic
def hold_on_suspicion(
    *, tree: Tree, suspicion: StandingRow, reason: str, at: dt.datetime, by: Person
) -> Hold:
    """An official hold that goes back to a suspected notifiable organism.

    Whoever sees something holds at once; only the proprietor lifts it.
    """
    return _place(tree, Hold.Kind.OFFICIAL, reason_given(reason)[:300], at, by, because_of=suspicion)


def _place(
    tree: Tree,
    kind: str,
    reason: str,
    at: dt.datetime,
    by: Person,
    until_at: dt.datetime | None = None,
    because_of: StandingRow | None = None,
) -> Hold:
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    told = {"kind": kind, "reason": reason, "until_at": until_at, "because_of": because_of}
    same = Hold.objects.filter(tree=tree, lifted_at=None, **told).first()
    if same is not None:
        return same
    hold = Hold.objects.create(tree=tree, from_at=at, placed_by=by, **told)
    audit.record(
        by=by,
        at=at,
        verb="placed a hold",
        subject=tree,
        after={"kind": kind, "until_at": until_at},
        reason=reason,
    )
    return hold


@transaction.atomic
def lift_hold(*, hold: Hold, why: str, at: dt.datetime, by: Person) -> Hold:
    """Lift the hold before its end, with a reason. Refused when it was lifted before."""
    _require_right(hold.kind, by)
    why = reason_given(why, field="why")
    hold = Hold.objects.select_for_update(no_key=True).get(pk=hold.pk)
    if hold.lifted_at is not None:
        raise Refused("hold-lifted", "This hold was already lifted.")
    hold.lifted_at, hold.lifted_by, hold.lifted_why = at, by, why
    hold.save(update_fields=["lifted_at", "lifted_by", "lifted_why"])
    audit.record(
        by=by, at=at, verb="lifted a hold", subject=hold.tree, before={"kind": hold.kind}, reason=why
    )
    return hold


def _require_right(kind: str, by: Person) -> None:
    if kind == Hold.Kind.OFFICIAL and by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor places and lifts an official hold")
