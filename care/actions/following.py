"""What follows from work, a look and a leaving, in the transaction of what happened: rules, plans, looks to come."""

import datetime as dt

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from boarding.models import Look, Stay
from boarding.states import IN_HOUSE
from care import querysets
from care.actions import due, plans, rounds
from care.models import Activity, DueItem, Plan, TimeEntry
from care.states import PLAN_OVER, PlanState
from nursery.models import Ownership, Person, Tree


def after_work(
    *, tree: Tree, activity: Activity, at: dt.datetime, by: Person | None, entry: TimeEntry | None = None
) -> None:
    """Work on a tree ended, moved or was struck out."""
    if not activity.is_treatment:
        return
    rounds.after_work(tree=tree, activity=activity, at=at, by=by, entry=entry)
    due.after_work(tree=tree, activity=activity, at=at, by=by, entry=entry)


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
    """Items and plans of trees whose stay has ended fall away; the sweep for what no action ended."""
    gone: dict[int, Stay] = {}
    left = Plan.objects.filter(stay__state__in=querysets.GONE).exclude(state__in=PLAN_OVER)
    found: list[DueItem | Plan] = [*querysets.items_of_gone(), *left.select_related("stay__tree")]
    for one in found:
        if one.stay is not None:
            gone[one.tree_id] = one.stay
    for stay in gone.values():
        end_care(tree=stay.tree, why=f"The stay ended: {stay.get_state_display()}", at=at, by=None)
    return len(gone)


def follow_plans(*, at: dt.datetime) -> int:
    """Running plans whose tree went away or came back since: what is due falls away, or is reckoned anew.

    A plan with nothing to do waits for a look: one is asked for where none is due. One that was agreed while its tree
    was away begins.
    """
    waiting = DueItem.objects.filter(
        plan_step__plan=OuterRef("pk"), state=DueItem.State.OPEN, meanwhile=False
    )
    here = Stay.objects.filter(tree=OuterRef("tree"), state__in=IN_HOUSE)
    own = Ownership.objects.filter(tree=OuterRef("tree"), party=None, until_on=None)
    agreed = Plan.objects.filter(Exists(here), state=PlanState.AGREED).select_related("tree").order_by("pk")
    begun = [plans.begin(plan=plan, at=at, by=None) for plan in agreed]
    rows = Plan.objects.filter(state=PlanState.RUNNING).select_related("tree")
    rows = rows.annotate(waits=Exists(waiting), here=Exists(here), own=Exists(own))
    idle = Q(waits=False) & (Q(here=True) | Q(own=True))
    changed = rows.filter(Q(waits=True, here=False, own=False) | idle).order_by("pk")
    for plan in changed:
        if rounds.follow(plan=plan, at=at, by=None) is None:
            rounds.ask_for_look(plan=plan, at=at)
    return len(begun) + len(changed)
