"""What follows from work, a look and a leaving, in the transaction of what happened: rules, plans, looks to come."""

import datetime as dt

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from boarding.models import Look, Stay
from boarding.states import IN_HOUSE
from care import querysets
from care.actions import due, plans, rounds
from care.models import Activity, DueItem, Plan, TimeEntry
from care.states import PlanState
from nursery.models import Person, Tree


def after_work(
    *, tree: Tree, activity: Activity, at: dt.datetime, by: Person | None, entry: TimeEntry | None = None
) -> None:
    """Work on a tree ended, moved or was struck out."""
    if not activity.is_treatment:
        return
    due.after_work(tree=tree, activity=activity, at=at, by=by, entry=entry)
    rounds.after_work(tree=tree, activity=activity, at=at, by=by, entry=entry)


def after_look(*, look: Look, needs_another: bool, days: int, at: dt.datetime, by: Person) -> DueItem | None:
    """A look was written down: plans go on or end by it, and what is to be looked at again becomes due."""
    rounds.after_look(look=look, at=at, by=by)
    plans.end_by_looks(tree=look.tree, at=at, by=by)
    return due.after_look(look=look, needs_another=needs_another, days=days, at=at, by=by)


@transaction.atomic
def end_care(*, tree: Tree, why: str, at: dt.datetime, by: Person | None) -> int:
    """The tree leaves: plans and rules end, everything open falls away. Returns how many items were open."""
    waiting = querysets.open_items().filter(tree=tree).count()
    plans.end_of_tree(tree=tree, why=why, at=at, by=by)
    due.end_care(tree=tree, why=why, at=at, by=by)
    return waiting


def let_fall_of_gone(*, at: dt.datetime) -> int:
    """Items of trees whose stay has ended fall away; the sweep for what no action ended."""
    gone: dict[int, Stay] = {}
    for item in querysets.items_of_gone().select_related("tree"):
        if item.stay is not None:
            gone[item.tree_id] = item.stay
    for stay in gone.values():
        end_care(tree=stay.tree, why=f"The stay ended: {stay.get_state_display()}", at=at, by=None)
    return len(gone)


def follow_plans(*, at: dt.datetime) -> int:
    """Running plans whose tree went away or came back since: what is due falls away, or is reckoned anew."""
    waiting = DueItem.objects.filter(plan_step__plan=OuterRef("pk"), state=DueItem.State.OPEN)
    here = Stay.objects.filter(tree=OuterRef("tree"), state__in=IN_HOUSE)
    rows = Plan.objects.filter(state=PlanState.RUNNING).annotate(waits=Exists(waiting), here=Exists(here))
    changed = rows.filter(Q(waits=True, here=False, stay__isnull=False) | Q(waits=False, here=True))
    followed = [rounds.follow(plan=plan, at=at, by=None) for plan in changed.order_by("pk")]
    return len(followed)
