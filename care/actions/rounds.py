"""The one open step of a running plan: which it is, when it is due, and what did it.

`follow` may be asked at any time and twice: it reads how far the plan has come from the work and the looks that stand,
and makes the open item say the same. So work struck out, moved to another tree or taken back is followed as well.
"""

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q, QuerySet

from boarding.health import Standing
from boarding.models import Look
from boarding.overviews import standing_of
from care import querysets
from care.actions import due
from care.due_days import DueDays
from care.models import MECHANICAL, Activity, DueItem, Plan, PlanStep, StepKind, TimeEntry, Waits
from care.overviews.step_days import StepDays
from care.states import DueVerb, PlanState
from nursery import clock, words
from nursery.models import Person, Tree

Kind, State = DueItem.Kind, DueItem.State
REMEMBERED = dt.timedelta(days=60)
DECIDE = "Another round, or end the plan?"


@dataclass(frozen=True)
class Place:
    """Where a plan has come to: the step that is next, in which round, and since which day it waits."""

    step: PlanStep
    round_no: int
    since: dt.date
    decide: bool = False
    at_once: bool = False

    @property
    def since_on(self) -> dt.date | None:
        """The day its wait is counted from; None for the first step of all, which has nothing to wait for."""
        return None if self.at_once else self.since


@transaction.atomic
def follow(*, plan: Plan, at: dt.datetime, by: Person | None) -> DueItem | None:
    """Keep the open item of a running plan where the work done puts it; None while nothing is to be done."""
    plan = Plan.objects.select_for_update(of=("self",), no_key=True).select_related("tree").get(pk=plan.pk)
    if plan.state != PlanState.RUNNING:
        return None
    place = next_place(plan)
    if not querysets.is_here(plan.tree, clock.day_of(at)):
        place = None
    item = open_items(plan).filter(meanwhile=False).first()
    if item is not None and (place is None or not _says(item, place)):
        due.end_item(item, DueVerb.FALL_AWAY, at, by, why=_why_anew(plan, place))
        item = None
    if item is None:
        _end_meanwhile(plan, at, by)
    if place is None or item is not None:
        return item
    return _open(plan, place, at)


def next_place(plan: Plan) -> Place | None:
    """The step that comes next; None while a look is waited for."""
    steps = list(plan.steps.select_related("activity"))
    last = _last_done(plan)
    if last is None or last.plan_step is None:
        return _first_place(plan, steps[0])
    day, round_no = done_on(last), last.round_no
    repeated = [step for step in steps if step.each_round] or steps
    of_round = steps if round_no == 1 else repeated
    later = [step for step in of_round if step.order > last.plan_step.order]
    if later:
        return Place(later[0], round_no, day)
    if standing_of(plan.tree) in (Standing.OBSERVED, Standing.CLEAN):
        return None
    return Place(repeated[0], round_no + 1, day, decide=round_no >= plan.expected_rounds)


def _first_place(plan: Plan, step: PlanStep) -> Place:
    """The first step of all waits since the last treatment before the plan; without one only a hatch is waited for.

    One so long ago that the step would be too late before it begins is none.
    """
    begun = plan.begun_at or plan.drawn_at
    works = plan.steps.values("activity")
    done = querysets.not_struck_out().filter(tree=plan.tree, activity__in=works, stopped_at__isnull=False)
    recent = done.filter(started_at__lt=begun, started_at__gte=begun - REMEMBERED)
    last = recent.order_by("-started_at").values_list("started_at", flat=True).first()
    if last is not None and not _would_be_over(step, clock.day_of(last), clock.day_of(begun)):
        return Place(step, 1, clock.day_of(last))
    return Place(step, 1, clock.day_of(begun), at_once=step.waits != Waits.HATCH)


def _would_be_over(step: PlanStep, since: dt.date, begun: dt.date) -> bool:
    """Whether the most days of a step had passed when its plan began."""
    return step.waits == Waits.DAYS and since + dt.timedelta(days=step.most_days) < begun


def done_on(item: DueItem) -> dt.date:
    """The day of the work or of the look that did it; a step left out counts from what it waited for."""
    if item.done_entry is not None:
        return clock.day_of(item.done_entry.started_at)
    if item.done_look is not None:
        return clock.day_of(item.done_look.at)
    return item.since_on or item.due_on


@transaction.atomic
def after_work(
    *, tree: Tree, activity: Activity, at: dt.datetime, by: Person | None, entry: TimeEntry | None
) -> None:
    """Work on a tree ended, moved or was struck out: it does the step that was due, and the next one follows."""
    for plan in _running(tree):
        if entry is not None and _stands(entry, tree, activity):
            for item in _done_by(entry, plan).order_by("meanwhile", "due_on", "pk")[:1]:
                due.end_item(item, DueVerb.DO, at, by, done_entry=entry)
        follow(plan=plan, at=at, by=by)


def _done_by(entry: TimeEntry, plan: Plan) -> QuerySet[DueItem]:
    """What ended work may do of a plan: one step only, and none that waits since a later day."""
    waiting = open_items(plan).filter(activity=entry.activity, kind=Kind.TREAT)
    if DueItem.objects.filter(plan_step__plan=plan, done_entry=entry, activity=entry.activity).exists():
        return waiting.none()
    return waiting.filter(Q(since_on=None) | Q(since_on__lte=clock.day_of(entry.started_at)))


@transaction.atomic
def after_look(*, look: Look, at: dt.datetime, by: Person | None) -> None:
    """A look was written down: a step of inspection is done by it, and the plan goes on by what was found.

    A look before the first day of the step, or before the work that it is to judge, does not do it.
    """
    day = clock.day_of(look.at)
    for plan in _running(look.tree):
        for item in open_items(plan).filter(kind=Kind.LOOK, earliest_on__lte=day, made_at__lte=look.at):
            due.end_item(item, DueVerb.DO, at, by, done_look=look)
        follow(plan=plan, at=at, by=by)


@transaction.atomic
def ask_for_look(*, plan: Plan, at: dt.datetime) -> DueItem | None:
    """None alive was seen and nothing is to be done: a look ends the plan, or sets it going again.

    None where one is due, or where a person let one fall since the last look.
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=plan.tree_id)
    if standing_of(tree) not in (Standing.OBSERVED, Standing.CLEAN) or not querysets.is_here(
        tree, clock.day_of(at)
    ):
        return None
    asked = DueItem.objects.filter(tree=tree, kind=Kind.LOOK)
    last = Look.objects.filter(tree=tree).order_by("-at").values_list("at", flat=True).first()
    let_fall = asked.filter(skipped=True, closed_at__gte=last) if last else asked.none()
    if asked.filter(state=State.OPEN).exists() or let_fall.exists():
        return None
    day = clock.day_of(at)
    return due.open_item(
        tree,
        Kind.LOOK,
        at=at,
        what="Look again",
        why=f"The plan {plan} ends after {plan.end_looks} looks in a row with none alive seen",
        due_on=day + dt.timedelta(days=plan.end_days),
    )


@transaction.atomic
def say_rounds(*, plan: Plan) -> None:
    """The open steps name how many rounds are expected now."""
    for item in (
        open_items(plan)
        .exclude(kind=Kind.OTHER)
        .filter(meanwhile=False)
        .select_for_update(of=("self",), no_key=True)
    ):
        if item.plan_step is not None:
            item.what = what_of(item.plan_step, item.round_no, plan)[:120]
            item.save(update_fields=["what"])


@transaction.atomic
def let_fall(*, plan: Plan, why: str, at: dt.datetime, by: Person | None) -> None:
    """Everything open of a plan falls away, with the reason."""
    for item in open_items(plan):
        due.end_item(item, DueVerb.FALL_AWAY, at, by, why=why)


def open_items(plan: Plan) -> QuerySet[DueItem]:
    """What is due of a plan now."""
    return querysets.open_items().filter(plan_step__plan=plan).select_related("plan_step", "tree")


def _running(tree: Tree) -> list[Plan]:
    """Running plans of the tree, held before any of their items."""
    rows = Plan.objects.select_for_update(of=("self",), no_key=True).select_related("tree")
    return list(rows.filter(tree=tree, state=PlanState.RUNNING).order_by("pk"))


def _last_done(plan: Plan) -> DueItem | None:
    """The last step whose work or look still stands."""
    passed = Q(state=State.DONE) | Q(state=State.FELL_AWAY, skipped=True)
    rows = DueItem.objects.filter(passed, plan_step__plan=plan, meanwhile=False)
    rows = rows.exclude(kind=Kind.OTHER).select_related("plan_step", "done_entry__activity", "done_look")
    for item in rows.order_by("-round_no", "-plan_step__order", "-pk"):
        entry = item.done_entry
        if entry is None or (item.activity and _stands(entry, plan.tree, item.activity)):
            return item
    return None


def _stands(entry: TimeEntry, tree: Tree, activity: Activity) -> bool:
    ended = entry.stopped_at is not None and entry.struck_out_at is None
    return ended and entry.tree_id == tree.pk and entry.activity_id == activity.pk


def _says(item: DueItem, place: Place) -> bool:
    """Whether an open item is that of the place; one that a person put off keeps its day."""
    same = item.plan_step_id == place.step.pk and item.round_no == place.round_no
    return same and item.since_on == place.since_on and (item.kind == Kind.OTHER) == place.decide


def _why_anew(plan: Plan, place: Place | None) -> str:
    if place is not None:
        return "Reckoned anew: what was done before it has changed"
    if standing_of(plan.tree) in (Standing.OBSERVED, Standing.CLEAN):
        return "None alive seen: the next look decides"
    return "The tree is not here: reckoned anew when it is back"


def _open(plan: Plan, place: Place, at: dt.datetime) -> DueItem:
    step = place.step
    if place.decide:
        return _decide(plan, place, at)
    today = clock.day_of(at)
    since = max(place.since, today) if place.at_once or step.waits == Waits.AT_ONCE else place.since
    told = StepDays(today).of(step, plan, since, at_once=place.at_once)
    found_on = _found_since(plan, since) if step.waits == Waits.DAYS else None
    if found_on is not None and told.latest < found_on:  # its days were over when the find asked for it
        told = StepDays(today).of(step, plan, found_on, at_once=True)
    item = _item(plan, place, told, at)
    if told.best_by_warmth:
        _meanwhile(plan, place, told, at)
    return item


def _found_since(plan: Plan, day: dt.date) -> dt.date | None:
    """The day of the last live find on the tree, where it came after a day."""
    finds = Look.objects.filter(tree=plan.tree, live__gt=0).order_by("-at").values_list("at", flat=True)
    last = finds.first()
    return clock.day_of(last) if last and clock.day_of(last) > day else None


def _item(plan: Plan, place: Place, told: DueDays, at: dt.datetime) -> DueItem:
    step = place.step
    kind = Kind.LOOK if step.kind == StepKind.INSPECT else Kind.TREAT
    return due.open_item(
        plan.tree,
        kind,
        at=at,
        what=what_of(step, place.round_no, plan),
        due_on=told.best,
        earliest_on=told.earliest,
        latest_on=told.latest,
        why=told.best_why,
        earliest_why=told.earliest_why,
        latest_why=told.latest_why,
        plan_step=step,
        round_no=place.round_no,
        since_on=place.since_on,
        activity=step.activity,
    )


def what_of(step: PlanStep, round_no: int, plan: Plan) -> str:
    """'Spray soap, round 2 of 3'."""
    return f"{step.note or step.get_kind_display()}, round {round_no} of {plan.expected_rounds}"


def _decide(plan: Plan, place: Place, at: dt.datetime) -> DueItem:
    rounds = f"{plan.expected_rounds} rounds were expected and are done; none alive was not seen yet"
    day = clock.day_of(at)
    return due.open_item(
        plan.tree,
        Kind.OTHER,
        at=at,
        what=DECIDE,
        why=rounds,
        due_on=day,
        plan_step=place.step,
        round_no=place.round_no,
        since_on=place.since_on,
    )


def _end_meanwhile(plan: Plan, at: dt.datetime, by: Person | None) -> None:
    """What the label held back was done, or is reckoned anew: nothing stands in for it any more."""
    for item in open_items(plan).filter(meanwhile=True):
        due.end_item(item, DueVerb.FALL_AWAY, at, by, why="The step it stood in for is no longer waited for")


def _meanwhile(plan: Plan, place: Place, told: DueDays, at: dt.datetime) -> None:
    """A label holds the spray back beyond the hatch: brush or jet on its day, where the plan has such a step."""
    step = plan.steps.filter(kind__in=MECHANICAL).exclude(pk=place.step.pk).select_related("activity").first()
    if step is None or told.best_by_warmth is None or open_items(plan).filter(plan_step=step).exists():
        return
    day = max(told.best_by_warmth, place.since)
    due.open_item(
        plan.tree,
        Kind.TREAT,
        at=at,
        what=f"{step} meanwhile, round {place.round_no} of {plan.expected_rounds}",
        why=f"The best day is {words.day(told.best_by_warmth)}; {words.lowered(told.earliest_why)}",
        due_on=day,
        latest_on=told.best,
        latest_why="Then the spray may follow",
        plan_step=step,
        round_no=place.round_no,
        since_on=place.since_on,
        meanwhile=True,
        activity=step.activity,
    )
