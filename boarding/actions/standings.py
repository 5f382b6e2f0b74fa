"""Writing a tree's standing: a dated row with its reason; the row before ends the same instant."""

import datetime as dt

from boarding.health import Standing
from boarding.models import Look, StandingRow
from nursery import audit
from nursery.models import Person, Tree


def set_standing(
    *, tree: Tree, standing: Standing, cause: str, reason: str, at: dt.datetime, by: Person, look: Look | None = None
) -> StandingRow:
    """End the open row and begin the next; call inside the transaction of what caused it."""
    current = StandingRow.objects.select_for_update().filter(tree=tree, until_at=None).first()
    if current is not None:
        current.until_at = at
        current.save(update_fields=["until_at"])
    row = StandingRow.objects.create(
        tree=tree, standing=standing.value, since_at=at, cause=cause, reason=reason[:300], look=look, by=by
    )
    before = {"standing": current.standing} if current else {}
    audit.record(
        by=by, at=at, verb="set_standing", subject=tree, before=before, after={"standing": row.standing}, reason=reason
    )
    return row


def arrive(*, tree: Tree, at: dt.datetime, by: Person) -> StandingRow | None:
    """A tree that comes through the gate is not yet examined; only a notifiable suspicion outlasts an absence."""
    row = StandingRow.objects.filter(tree=tree, until_at=None).first()
    if row is not None and row.standing in (Standing.NOT_EXAMINED, Standing.NOTIFIABLE):
        return None
    return set_standing(
        tree=tree,
        standing=Standing.NOT_EXAMINED,
        cause=StandingRow.Cause.ARRIVAL,
        reason="Arrived at the gate.",
        at=at,
        by=by,
    )
