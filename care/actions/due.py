"""What is to be done by a day: made by a rule, by a look or by hand; ended as done, put off or fallen away.

A re-treatment rule keeps one open item: due so many days after the last treatment that stands. The item's `earliest_on`
is that day; putting it off leaves it as it was, so that a later treatment is still told from an earlier one.
"""

import datetime as dt
import uuid
from typing import Required, TypedDict, Unpack

from django.db import transaction

from boarding.models import Look, Stay
from care import querysets
from care.actions import steps
from care.models import Activity, DueItem, PlanStep, Retreatment, TimeEntry
from care.states import DUE_WORDS, PLAN_ON, DueState, DueVerb, due_next
from nursery import audit, clock, words
from nursery.models import Person, Tree
from nursery.refusals import Refused

State, Kind = DueItem.State, DueItem.Kind
MOST_DAYS = 365
WHY = 300


class Told(TypedDict, total=False):
    """What an item says besides its tree, kind and day."""

    what: Required[str]
    why: Required[str]
    earliest_on: dt.date
    latest_on: dt.date | None
    earliest_why: str
    latest_why: str
    stay: Stay | None
    rule: Retreatment | None
    plan_step: PlanStep | None
    round_no: int
    since_on: dt.date | None
    meanwhile: bool
    activity: Activity | None
    put_off_from: DueItem | None


@transaction.atomic
def set_retreatment(*, tree: Tree, activity: Activity, days: int, at: dt.datetime, by: Person) -> Retreatment:
    """Treat this tree again so many days after each treatment; a rule set before for the same work ends.

    Refused: "days", "not-a-treatment", "not-here", "means-refused".
    """
    if not 1 <= days <= MOST_DAYS:
        raise Refused("days", f"Write a number of days from 1 to {MOST_DAYS}.", field="days")
    if not activity.is_treatment:
        raise Refused(
            "not-a-treatment", f"{activity} is no treatment: choose another kind.", field="activity"
        )
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    steps.require_workable(tree, at)
    steps.require_consent(tree, activity)
    _require_not_planned(tree, activity)
    earlier = Retreatment.objects.filter(tree=tree, activity=activity, ended_at=None).first()
    if earlier is not None and earlier.days == days:
        _follow_rule(earlier, at, by, None)  # its item may have been let fall away
        return earlier
    if earlier is not None:
        end_retreatment(rule=earlier, why=f"Now every {days} days", at=at, by=by)
    rule = Retreatment.objects.create(tree=tree, activity=activity, days=days, set_at=at, set_by=by)
    audit.record(by=by, at=at, verb="set a re-treatment", subject=rule, after={"tree": tree.pk, "days": days})
    _follow_rule(rule, at, by, None)
    return rule


@transaction.atomic
def end_retreatment(*, rule: Retreatment, why: str, at: dt.datetime, by: Person | None) -> Retreatment:
    """End the rule; its open item falls away with the same reason."""
    why = steps.reason_given(why)
    rule = Retreatment.objects.select_for_update(no_key=True).get(pk=rule.pk)
    if rule.ended_at is not None:
        raise Refused("ended", "This rule has already ended.")
    rule.ended_at, rule.ended_why = at, why
    rule.save(update_fields=["ended_at", "ended_why"])
    for item in querysets.open_items().filter(rule=rule):
        end_item(item, DueVerb.FALL_AWAY, at, by, why=why)
    audit.record(by=by, at=at, verb="ended a re-treatment", subject=rule, reason=why)
    return rule


@transaction.atomic
def add_item(*, tree: Tree, what: str, why: str, due_on: dt.date, at: dt.datetime, by: Person) -> DueItem:
    """Something to be done for a tree by a day, written by hand."""
    if not what.strip():
        raise Refused("nothing", "Write what is to be done.", field="what")
    if due_on < clock.day_of(at):
        raise Refused("in-the-past", "This day is over: choose today or a later day.", field="due_on")
    steps.require_workable(tree, at)
    item = open_item(
        tree, Kind.OTHER, what=what.strip(), why=why.strip() or "Written by hand", due_on=due_on, at=at
    )
    audit.record(by=by, at=at, verb="wrote down what is due", subject=item, after={"due_on": due_on})
    return item


@transaction.atomic
def ask_for_look(
    *, tree: Tree, stay: Stay | None, what: str, why: str, due_on: dt.date, at: dt.datetime
) -> DueItem:
    """A look that is due by a day, whatever else is due; any look from now on does it."""
    return open_item(
        tree, Kind.LOOK, what=what, why=why, due_on=due_on, at=at, earliest_on=clock.day_of(at), stay=stay
    )


@transaction.atomic
def mark_done(
    *,
    item: DueItem,
    at: dt.datetime,
    by: Person | None,
    entry: TimeEntry | None = None,
    look: Look | None = None,
) -> DueItem:
    """Done, by the work or the look that did it where there is one. A treatment is done by its clock alone."""
    if item.kind == Kind.TREAT and entry is None:
        raise Refused("by-clock", "Start the clock for this work: its end marks this as done.")
    if item.kind == Kind.OTHER and item.plan_step_id is not None:
        raise Refused("by-plan", "Decide at the plan: another round, or its end.")
    if item.kind == Kind.LOOK and look is None:
        raise Refused("by-look", "Write down the look: it marks this as done.")
    return end_item(item, DueVerb.DO, at, by, done_entry=entry, done_look=look)


@transaction.atomic
def put_off(*, item: DueItem, to: dt.date, why: str, at: dt.datetime, by: Person) -> DueItem:
    """Put off to a later day, with the reason; returns the new item, linked to the old one."""
    why = steps.reason_given(why)
    item = _locked(item)
    if to <= max(item.due_on, clock.day_of(at) - dt.timedelta(days=1)):
        raise Refused(
            "not-later", f"Choose a day after {words.day(item.due_on)}, today or later.", field="to"
        )
    end_item(item, DueVerb.PUT_OFF, at, by, why=why)
    return open_item(
        item.tree,
        item.kind,
        what=item.what,
        why=item.why,
        due_on=to,
        at=at,
        earliest_on=item.earliest_on,
        latest_on=item.latest_on if item.latest_on and item.latest_on >= to else None,
        latest_why=item.latest_why,
        stay=item.stay,
        rule=item.rule,
        plan_step=item.plan_step,
        round_no=item.round_no,
        since_on=item.since_on,
        meanwhile=item.meanwhile,
        activity=item.activity,
        put_off_from=item,
    )


@transaction.atomic
def fall_away(*, item: DueItem, why: str, at: dt.datetime, by: Person | None) -> DueItem:
    """No longer to be done, with the reason. A plan goes on without this step."""
    return end_item(item, DueVerb.FALL_AWAY, at, by, why=steps.reason_given(why), skipped=True)


@transaction.atomic
def end_care(*, tree: Tree, why: str, at: dt.datetime, by: Person | None) -> int:
    """The tree leaves: its rules end and everything open falls away, with the reason. Returns how many items."""
    waiting = querysets.open_items().filter(tree=tree).count()
    for rule in Retreatment.objects.filter(tree=tree, ended_at=None):
        end_retreatment(rule=rule, why=why, at=at, by=by)
    for item in querysets.open_items().filter(tree=tree):
        end_item(item, DueVerb.FALL_AWAY, at, by, why=why)
    return waiting


@transaction.atomic
def after_work(
    *, tree: Tree, activity: Activity, at: dt.datetime, by: Person | None, entry: TimeEntry | None = None
) -> None:
    """Work on the tree ended, moved or was struck out: its re-treatment follows the last treatment that stands."""
    if not activity.is_treatment:
        return
    rule = (
        Retreatment.objects.filter(tree=tree, activity=activity, ended_at=None)
        .select_for_update(no_key=True)
        .first()
    )
    if rule is not None:
        _follow_rule(rule, at, by, entry)


@transaction.atomic
def after_look(*, look: Look, needs_another: bool, days: int, at: dt.datetime, by: Person) -> DueItem | None:
    """A look does the open 'look again' it was due for; `needs_another` opens the next, so many days later."""
    day = clock.day_of(look.at)
    looks = querysets.open_items().filter(tree=look.tree, kind=Kind.LOOK)
    waiting = looks.filter(plan_step=None, made_at__lte=look.at).select_for_update(no_key=True)
    for item in waiting:
        if item.earliest_on <= day:
            end_item(item, DueVerb.DO, at, by, done_look=look)
        elif not needs_another:
            end_item(
                item, DueVerb.FALL_AWAY, at, by, why=f"The look of {words.day(day)} has changed the standing"
            )
    if not needs_another or querysets.open_items().filter(tree=look.tree, kind=Kind.LOOK).exists():
        return None
    why = f"None seen alive on {words.day(day)}; one look is not enough"
    return open_item(
        look.tree,
        Kind.LOOK,
        what="Look again",
        why=why,
        due_on=day + dt.timedelta(days=days),
        at=at,
        stay=look.stay,
    )


def _require_not_planned(tree: Tree, activity: Activity) -> None:
    """What a running plan does in its rounds needs no rule beside it."""
    planned = PlanStep.objects.filter(plan__tree=tree, activity=activity, plan__state__in=PLAN_ON)
    step = planned.select_related("plan").first()
    if step is not None:
        raise Refused(
            "planned",
            f"The plan {step.plan} does this in its rounds: change the plan instead.",
            field="activity",
        )


def _follow_rule(rule: Retreatment, at: dt.datetime, by: Person | None, entry: TimeEntry | None) -> None:
    """Keep the one open item of the rule where the last treatment puts it."""
    last = _last_treatment(rule)
    due_on = clock.day_of(rule.set_at) if last is None else clock.day_of(last.started_at) + _days(rule)
    item = querysets.open_items().filter(rule=rule).select_for_update(no_key=True).first()
    if item is not None and item.earliest_on == due_on:
        return
    if item is not None and last is not None and entry is not None and last.pk == entry.pk:
        end_item(item, DueVerb.DO, at, by, done_entry=entry)
    elif item is not None:
        end_item(item, DueVerb.FALL_AWAY, at, by, why="Reckoned anew: the last treatment has changed")
    open_item(
        rule.tree,
        Kind.TREAT,
        what=f"{rule.activity} again" if last else str(rule.activity),
        why=_why(rule, last),
        due_on=due_on,
        at=at,
        rule=rule,
        activity=rule.activity,
    )


def _last_treatment(rule: Retreatment) -> TimeEntry | None:
    done = querysets.not_struck_out().filter(tree=rule.tree, activity=rule.activity, stopped_at__isnull=False)
    return done.order_by("-started_at", "-pk").first()


def _days(rule: Retreatment) -> dt.timedelta:
    return dt.timedelta(days=rule.days)


def _why(rule: Retreatment, last: TimeEntry | None) -> str:
    if last is None:
        return "Not done yet"
    return f"{rule.days} days after {words.day(clock.day_of(last.started_at))}"


def open_item(tree: Tree, kind: str, *, at: dt.datetime, due_on: dt.date, **told: Unpack[Told]) -> DueItem:
    """A new open item in the transaction of the caller; earliest on its due day unless said, told of as it stands."""
    told["what"], told["why"] = told["what"][:120], told["why"][:WHY]
    told["earliest_why"], told["latest_why"] = (
        told.get("earliest_why", "")[:WHY],
        told.get("latest_why", "")[:WHY],
    )
    told.setdefault("earliest_on", due_on)
    stay = told.pop("stay", None) or querysets.stay_at(tree, at)
    put_off_from = told.get("put_off_from")
    uid = put_off_from.uid if put_off_from else uuid.uuid4()
    return DueItem.objects.create(
        tree=tree, kind=kind, made_at=at, due_on=due_on, told_on=due_on, stay=stay, uid=uid, **told
    )


def _locked(item: DueItem) -> DueItem:
    """The item as the database has it; its rule is locked before it, in the order in which a stopping clock locks."""
    if item.rule_id is not None:
        Retreatment.objects.select_for_update(no_key=True).get(pk=item.rule_id)
    rows = DueItem.objects.select_for_update(of=("self",), no_key=True)
    return rows.select_related("tree", "stay", "rule__activity", "activity").get(pk=item.pk)


def end_item(
    item: DueItem,
    verb: DueVerb,
    at: dt.datetime,
    by: Person | None,
    *,
    why: str = "",
    done_entry: TimeEntry | None = None,
    done_look: Look | None = None,
    skipped: bool = False,
) -> DueItem:
    """End an open item in the transaction of the caller, with what did it or the reason."""
    item = _locked(item)
    state = DueState(item.state)
    target = due_next(state, verb)
    if target is None:
        raise Refused("ended", f"This is already {DUE_WORDS[state]}: nothing is left to do.")
    item.state, item.closed_at, item.closed_by, item.closed_why = target.value, at, by, why[:200]
    item.done_entry, item.done_look, item.skipped = done_entry, done_look, skipped
    written = ["state", "closed_at", "closed_by", "closed_why", "done_entry", "done_look", "skipped"]
    item.save(update_fields=written)
    audit.record(
        by=by,
        at=at,
        verb=f"due item {DUE_WORDS[DueState(target)]}",
        subject=item,
        after={"state": target},
        reason=why,
    )
    return item
