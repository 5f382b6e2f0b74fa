"""A plan of treatment for one tree: drawn up from a programme, agreed means by means, run round by round, ended.

The plan keeps one step open at a time (`care.actions.rounds`); which state allows which verb stands in `care.states`.
"""

import datetime as dt
from collections.abc import Collection, Iterable

from django.db import transaction

from boarding.health import Rule, Standing, next_standing
from boarding.overviews import standing_of
from boarding.overviews.health import dated, looks_in_order
from care import querysets
from care.actions import due, rounds, steps
from care.models import (
    SPRAYS,
    WORK_OF,
    Activity,
    Plan,
    PlanStep,
    Programme,
    ProgrammeStep,
    Retreatment,
    StepKind,
    Waits,
)
from care.models.programmes import Step
from care.states import PLAN_NEXT, PLAN_OVER, PLAN_WORDS, PlanState, PlanVerb, plan_next
from nursery import audit, clock
from nursery.models import Consent, Organism, Ownership, Person, Question, Tree
from nursery.refusals import Refused

MOST_ROUNDS = 20
WHY_ENDED = 200
TWO_TWIGS = "Test the spray on two twigs"
THEIR_LOOK = "Look at the two twigs sprayed"
VERB_WORDS = {
    PlanVerb.OFFER: "be offered",
    PlanVerb.AGREE: "be agreed",
    PlanVerb.BEGIN: "begin",
    PlanVerb.PAUSE: "be paused",
    PlanVerb.GO_ON: "go on",
    PlanVerb.SUCCEED: "end with success",
    PlanVerb.GIVE_UP: "end without success",
    PlanVerb.CALL_OFF: "be called off",
}


@transaction.atomic
def draw_up(
    *,
    tree: Tree,
    programme: Programme,
    at: dt.datetime,
    by: Person,
    organism: Organism | None = None,
    without: Collection[int] = (),
    tells_customer: bool = False,
) -> Plan:
    """A plan with the programme's steps as they are now, those left out that are named by their order.

    A tree whose kind nobody has determined is sprayed only after a test on two twigs.
    Refused: "not-here", "retired", "no-steps", "planned", "no-work".
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    steps.require_workable(tree, at)
    organism = organism or programme.organism
    chosen = [step for step in programme.steps.all() if step.order not in without]
    if tree.taxon_id is None:
        chosen = _tested_first(chosen)
    _require_possible(tree, programme, organism, chosen, clock.day_of(at))
    works = _works(chosen, clock.day_of(at))
    plan = _written(tree, programme, organism, tells_customer, at, by)
    PlanStep.objects.bulk_create(_copy(step, plan, works[step.kind], n) for n, step in enumerate(chosen, 1))
    audit.record(
        by=by, at=at, verb="drew up a plan", subject=plan, after={"tree": tree.pk, "steps": len(chosen)}
    )
    return plan


@transaction.atomic
def offer(*, plan: Plan, at: dt.datetime, by: Person) -> Plan:
    """The customer was told of it and has not answered yet."""
    return _go(plan, PlanVerb.OFFER, at, by)


@transaction.atomic
def agree(*, plan: Plan, at: dt.datetime, by: Person) -> Plan:
    """Agreed: the customer said yes to each means it uses. It begins at once where the tree is in the house.

    Refused: "no-consent" with the means that lack a yes, and what to do.
    """
    plan = _locked(plan)
    lacking = means_lacking(plan.tree, plan.steps.all(), clock.day_of(at))
    if lacking:
        raise Refused("no-consent", _ask_first(lacking))
    plan = _go(plan, PlanVerb.AGREE, at, by, agreed_at=at)
    return begin(plan=plan, at=at, by=by) if querysets.is_here(plan.tree, clock.day_of(at)) else plan


@transaction.atomic
def begin(*, plan: Plan, at: dt.datetime, by: Person | None) -> Plan:
    """Its first step becomes due. Refused: "not-here"."""
    steps.require_workable(plan.tree, at)
    plan = _go(plan, PlanVerb.BEGIN, at, by, begun_at=at)
    works = plan.steps.values("activity")
    for rule in Retreatment.objects.filter(tree=plan.tree, activity__in=works, ended_at=None).order_by("pk"):
        due.end_retreatment(rule=rule, why=f"The plan {plan} does this now"[:WHY_ENDED], at=at, by=by)
    rounds.follow(plan=plan, at=at, by=by)
    return plan


@transaction.atomic
def pause(*, plan: Plan, cause: str, why: str, at: dt.datetime, by: Person) -> Plan:
    """Held up, by what; what was due falls away and is reckoned anew when it goes on."""
    why = steps.reason_given(why)
    plan = _go(plan, PlanVerb.PAUSE, at, by, why=why, pause_cause=cause)
    rounds.let_fall(plan=plan, why=f"The plan is paused: {why}", at=at, by=by)
    return plan


@transaction.atomic
def go_on(*, plan: Plan, at: dt.datetime, by: Person) -> Plan:
    """The plan goes on where it stood; its days are reckoned anew."""
    plan = _go(plan, PlanVerb.GO_ON, at, by, pause_cause="")
    rounds.follow(plan=plan, at=at, by=by)
    return plan


@transaction.atomic
def another_round(*, plan: Plan, why: str, at: dt.datetime, by: Person) -> Plan:
    """One round more than was expected, with the reason. Refused: "not-running", "rounds"."""
    why = steps.reason_given(why)
    plan = _locked(plan)
    if plan.state != PlanState.RUNNING:
        raise Refused("not-running", _not_possible(PlanState(plan.state), PlanVerb.PAUSE))
    if plan.expected_rounds >= MOST_ROUNDS:
        raise Refused("rounds", f"A plan has {MOST_ROUNDS} rounds at most: end it and draw up another.")
    plan.expected_rounds += 1
    plan.save(update_fields=["expected_rounds"])
    audit.record(
        by=by,
        at=at,
        verb="planned another round",
        subject=plan,
        after={"rounds": plan.expected_rounds},
        reason=why,
    )
    rounds.follow(plan=plan, at=at, by=by)
    rounds.say_rounds(plan=plan)
    return plan


@transaction.atomic
def end(*, plan: Plan, verb: PlanVerb, why: str, at: dt.datetime, by: Person | None) -> Plan:
    """Ended with success, without, or called off, with the reason; what was due falls away. Refused: "live-seen"."""
    why = steps.reason_given(why)
    if verb is PlanVerb.SUCCEED and standing_of(plan.tree) is Standing.INFESTED:
        raise Refused(
            "live-seen",
            f"{plan.tree} is infested: live was seen at its last look. End the plan without success, or call it off.",
            field="verb",
        )
    plan = _go(plan, verb, at, by, why=why, ended_at=at, ended_why=why[:200], pause_cause="")
    rounds.let_fall(plan=plan, why=f"Plan {PLAN_WORDS[PlanState(plan.state)]}: {why}", at=at, by=by)
    return plan


@transaction.atomic
def end_of_tree(*, tree: Tree, why: str, at: dt.datetime, by: Person | None) -> int:
    """The tree left the nursery's hands: its plans are called off. Returns how many."""
    running = list(Plan.objects.filter(tree=tree).exclude(state__in=PLAN_OVER).order_by("pk"))
    for plan in running:
        end(plan=plan, verb=PlanVerb.CALL_OFF, why=why, at=at, by=by)
    return len(running)


def end_by_looks(*, tree: Tree, at: dt.datetime, by: Person | None) -> int:
    """Plans whose end rule the looks since they began have met end with success. Returns how many."""
    running = Plan.objects.filter(tree=tree, state__in=[PlanState.RUNNING, PlanState.PAUSED])
    ended = [plan for plan in running.order_by("pk") if _is_met(plan)]
    for plan in ended:
        why = f"{plan.end_looks} looks in a row, {plan.end_days} days and more apart, with none alive seen"
        end(plan=plan, verb=PlanVerb.SUCCEED, why=why, at=at, by=by)
    return len(ended)


def _is_met(plan: Plan) -> bool:
    """Whether the looks since the plan began are enough for its own end rule."""
    looks = [look for look in looks_in_order(plan.tree) if plan.begun_at and look.at >= plan.begun_at]
    rule = Rule(looks=plan.end_looks, days=plan.end_days)
    return bool(looks) and next_standing(Standing.INFESTED, dated(looks), rule=rule) is Standing.CLEAN


def means_lacking(tree: Tree, chosen: Iterable[Step], day: dt.date) -> list[tuple[Question, Consent | None]]:
    """The means of the steps to which the customer has not said yes, with the latest answer; none for own stock.

    What an owner before them said holds no longer.
    """
    owner = querysets.owner_on(tree, day)
    if owner is None or owner.party_id is None:
        return []
    asked = dict.fromkeys(step.means for step in chosen if step.means)
    latest: dict[str, Consent] = {}
    before = Ownership.objects.filter(tree=tree, party__isnull=False).exclude(party=owner.party_id)
    answers = Consent.objects.filter(tree=tree, question__in=asked).exclude(party__in=before.values("party"))
    for consent in answers.order_by("at", "pk"):
        latest[consent.question] = consent
    given = {question for question, consent in latest.items() if consent.answer == Consent.Answer.YES}
    return [(Question(means), latest.get(means)) for means in asked if means not in given]


def _ask_first(lacking: Iterable[tuple[Question, Consent | None]]) -> str:
    said = {
        None: "not asked yet",
        Consent.Answer.NO: "said no",
        Consent.Answer.ASK: "wants to be asked first",
    }
    told = [
        f"{question.label.lower()} ({said[Consent.Answer(consent.answer) if consent else None]})"
        for question, consent in lacking
    ]
    return (
        f"A plan needs a yes to each means it uses. Missing: {', '.join(told)}."
        " Ask the customer and write the answer down, or draw up a plan without that step."
    )


def _require_possible(
    tree: Tree, programme: Programme, organism: Organism | None, chosen: list[ProgrammeStep], day: dt.date
) -> None:
    if programme.retired_on is not None and programme.retired_on <= day:
        raise Refused(
            "retired", f"{programme} is no longer in use: choose another programme.", field="programme"
        )
    if not chosen:
        raise Refused("no-steps", "Choose at least one step.", field="steps")
    open_plans = Plan.objects.filter(tree=tree, organism=organism).exclude(state__in=PLAN_OVER)
    if open_plans.exists():
        against = organism or "an unknown pest"
        raise Refused(
            "planned", f"{tree} has a plan against {against} already: end that one first.", field="programme"
        )


def _works(chosen: list[ProgrammeStep], day: dt.date) -> dict[str, Activity]:
    """The kind of work that does each kind of step."""
    in_use = {activity.code: activity for activity in querysets.activities_on(day)}
    missing = [step for step in chosen if WORK_OF[step.kind] not in in_use]
    if missing:
        raise Refused(
            "no-work",
            f"No kind of work in use does this step: {missing[0]}. Add the kind of work, or leave the step out.",
            field="steps",
        )
    return {step.kind: in_use[WORK_OF[step.kind]] for step in chosen}


def _written(
    tree: Tree,
    programme: Programme,
    organism: Organism | None,
    tells_customer: bool,
    at: dt.datetime,
    by: Person,
) -> Plan:
    return Plan.objects.create(
        tree=tree,
        stay=querysets.stay_at(tree, at),
        organism=organism,
        programme=programme,
        name=programme.name,
        aim=programme.aim,
        expected_rounds=programme.expected_rounds,
        end_looks=programme.end_looks,
        end_days=programme.end_days,
        tells_customer=tells_customer,
        drawn_at=at,
        drawn_by=by,
    )


def _copy(step: ProgrammeStep, plan: Plan, activity: Activity, order: int) -> PlanStep:
    same = {field.name: getattr(step, field.name) for field in Step._meta.get_fields()}
    return PlanStep(plan=plan, activity=activity, **same | {"order": order})


def _tested_first(chosen: list[ProgrammeStep]) -> list[ProgrammeStep]:
    """Before the first spray a test of it on two twigs, and a look at them after 48 hours."""
    at = next((n for n, step in enumerate(chosen) if step.kind in SPRAYS), None)
    if at is None:
        return chosen
    test = ProgrammeStep(kind=chosen[at].kind, note=TWO_TWIGS, each_round=False)
    two_days = {"waits": Waits.DAYS, "least_days": 2, "best_days": 2, "most_days": 3}
    look = ProgrammeStep(kind=StepKind.INSPECT, note=THEIR_LOOK, each_round=False, **two_days)
    return [*chosen[:at], test, look, *chosen[at:]]


def _locked(plan: Plan) -> Plan:
    """The plan as the database has it; its tree is locked first, as by everything that changes what is due."""
    Tree.objects.select_for_update(no_key=True).get(pk=plan.tree_id)
    rows = Plan.objects.select_for_update(of=("self",), no_key=True).select_related(
        "tree", "stay", "organism"
    )
    return rows.get(pk=plan.pk)


def _go(
    plan: Plan, verb: PlanVerb, at: dt.datetime, by: Person | None, *, why: str = "", **told: object
) -> Plan:
    """Take the plan to where the verb leads, with what else is written then."""
    plan = _locked(plan)
    state = PlanState(plan.state)
    target = plan_next(state, verb)
    if target is None:
        raise Refused("not-now", _not_possible(state, verb))
    plan.state = target.value
    for name, value in told.items():
        setattr(plan, name, value)
    plan.save(update_fields=["state", *told])
    before, after = {"state": state}, {"state": target}
    audit.record(
        by=by, at=at, verb=f"plan {PLAN_WORDS[target]}", subject=plan, before=before, after=after, reason=why
    )
    return plan


def _not_possible(state: PlanState, verb: PlanVerb) -> str:
    allowed = [PLAN_WORDS[one] for (one, some) in PLAN_NEXT if some is verb]
    return f"This plan is {PLAN_WORDS[state]}; it can {VERB_WORDS[verb]} only while it is {' or '.join(allowed)}."
