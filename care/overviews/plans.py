"""Plans of treatment: the page of one, the lines on the page of a tree, all that run, and what holds them up."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from care.actions.plans import means_lacking
from care.degree_days import METHOD_WORDS, Method
from care.due_days import DueDays, figure
from care.models import DueItem, Plan, PlanStep, Waits
from care.models.programmes import Step
from care.overviews.day_lines import tags_of
from care.overviews.step_days import StepDays
from care.states import PLAN_NEXT, PLAN_OVER, PLAN_WORDS, PlanState, PlanVerb
from nursery.models import Consent, Question


@dataclass(frozen=True)
class StepLine:
    """A step in words, and the customer's answer about its means; `answer` is empty where nobody is asked."""

    step: Step
    words: str
    waits: str
    means: str = ""
    answer: str = ""
    lacks: bool = False

    @property
    def in_full(self) -> str:
        """'Spray soap, after 1 to 2 days, best 1 (soap: not asked yet)'."""
        asked = f" ({self.means.lower()}: {self.answer})" if self.lacks else ""
        return f"{self.words}, {self.waits}{asked}"


@dataclass(frozen=True)
class PlanPage:
    """One plan: its steps, what is due with its reasons as of today, what was done, and what can be done now."""

    plan: Plan
    state: str
    steps: tuple[StepLine, ...]
    due: tuple[tuple[DueItem, DueDays | None], ...]
    history: tuple[DueItem, ...]
    lacking: tuple[str, ...]
    ask_next: str
    verbs: frozenset[str]


@dataclass(frozen=True)
class PlanLine:
    """A plan on one line: its state in words, and what is next."""

    plan: Plan
    tag: str
    state: str
    held_by: str
    next: DueItem | None


def plan_page(plan: Plan, day: dt.date) -> PlanPage:
    """Everything about one plan."""
    steps = list(plan.steps.select_related("activity"))
    lacking = dict(means_lacking(plan.tree, steps, day))
    items = DueItem.objects.filter(plan_step__plan=plan).select_related(
        "plan_step", "done_entry", "done_look"
    )
    return PlanPage(
        plan=plan,
        state=PLAN_WORDS[PlanState(plan.state)],
        steps=tuple(step_lines(steps, lacking)),
        due=tuple(_due(items.filter(state=DueItem.State.OPEN), plan, day)),
        history=tuple(items.exclude(state=DueItem.State.OPEN).order_by("-closed_at", "-pk")),
        lacking=tuple(question.label.lower() for question in lacking),
        ask_next=next((question.value for question in lacking), ""),
        verbs=_verbs(plan),
    )


def step_lines(steps: Iterable[Step], lacking: dict[Question, Consent | None]) -> list[StepLine]:
    """Steps in words, each with the answer about its means."""
    return [_step_line(step, lacking) for step in steps]


def plans_of_tree(tree: int) -> list[PlanLine]:
    """The plans of a tree, the newest first."""
    return lines(Plan.objects.filter(tree=tree))


def lines(plans: QuerySet[Plan]) -> list[PlanLine]:
    """Plans as lines; three queries."""
    waiting = DueItem.objects.filter(state=DueItem.State.OPEN, meanwhile=False).order_by("due_on")
    steps = Prefetch(
        "steps", PlanStep.objects.prefetch_related(Prefetch("due_items", waiting, to_attr="waiting"))
    )
    found = list(plans.select_related("tree", "stay__owner", "organism").prefetch_related(steps))
    tags = tags_of(plan.tree_id for plan in found)
    return [_line(plan, tags.get(plan.tree_id, "")) for plan in found]


def held_up(day: dt.date) -> list[PlanLine]:
    """Plans that wait for somebody: paused, or not agreed yet, or agreed and not begun."""
    waiting = [PlanState.PAUSED, PlanState.DRAFTED, PlanState.OFFERED, PlanState.AGREED]
    return lines(Plan.objects.filter(state__in=waiting).order_by("drawn_at", "pk"))


def running() -> list[PlanLine]:
    """Plans that are not over, what is due first on top."""
    found = lines(Plan.objects.exclude(state__in=PLAN_OVER))
    return sorted(found, key=lambda line: (line.next.due_on if line.next else dt.date.max, line.plan.pk))


def waits_words(step: Step) -> str:
    """What a step waits for, in words: 'after 5 to 10 days, best 7'."""
    told = [_waits(step)]
    if step.label_days:
        told.append(f"{step.label_days} days between two uses by the label")
    if not step.each_round:
        told.append("in the first round only")
    return "; ".join(told)


def _waits(step: Step) -> str:
    calendar = _days(step)
    if step.waits == Waits.DEGREE_DAYS and step.degree_days is not None and step.base is not None:
        total = f"{figure(float(step.degree_days))} degree-days {step.scale} above {figure(float(step.base))}"
        return f"at {total} ({METHOD_WORDS[Method(step.method)]}), by the calendar {calendar}"
    if step.waits == Waits.HATCH:
        return f"at the hatch of generation {step.generation}, by the calendar {calendar}"
    return calendar if step.waits == Waits.DAYS and step.most_days else "at once"


def _days(step: Step) -> str:
    if step.least_days == step.most_days:
        return f"after {step.best_days} days" if step.best_days != 1 else "after 1 day"
    return f"after {step.least_days} to {step.most_days} days, best {step.best_days}"


def _step_line(step: Step, lacking: dict[Question, Consent | None]) -> StepLine:
    words = step.note or step.get_kind_display()
    if not step.means:
        return StepLine(step, words, waits_words(step))
    question = Question(step.means)
    if question not in lacking:
        return StepLine(step, words, waits_words(step), question.label, "yes")
    said = lacking[question]
    answer = said.get_answer_display().lower() if said else "not asked yet"
    return StepLine(step, words, waits_words(step), question.label, answer, lacks=True)


def _due(items: QuerySet[DueItem], plan: Plan, day: dt.date) -> Iterable[tuple[DueItem, DueDays | None]]:
    """What is due, with the days as they would be reckoned today; none for what a person put off."""
    reckoned = StepDays(day)
    for item in items.order_by("due_on", "pk"):
        fresh = (
            item.since_on and item.kind != DueItem.Kind.OTHER and not (item.meanwhile or item.put_off_from_id)
        )
        yield (
            item,
            reckoned.of(item.plan_step, plan, item.since_on)
            if fresh and item.plan_step and item.since_on
            else None,
        )


def _line(plan: Plan, tag: str) -> PlanLine:
    waiting = [item for step in plan.steps.all() for item in getattr(step, "waiting", [])]
    return PlanLine(
        plan=plan,
        tag=tag,
        state=PLAN_WORDS[PlanState(plan.state)],
        held_by=plan.get_pause_cause_display() if plan.pause_cause else "",
        next=min(waiting, key=lambda item: item.due_on, default=None),
    )


def _verbs(plan: Plan) -> frozenset[str]:
    state = PlanState(plan.state)
    possible = {verb.value for verb in PlanVerb if (state, verb) in PLAN_NEXT}
    return frozenset(possible | ({"another_round"} if state is PlanState.RUNNING else set()))
