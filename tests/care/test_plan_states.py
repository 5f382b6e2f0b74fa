"""The lifeline of a plan: what each state allows, and what the database itself holds."""

import pytest
from django.db import IntegrityError, transaction

from care.actions import plans
from care.models import DueItem, Plan
from care.states import PLAN_OVER, PlanState, PlanVerb
from tests.plan_scenes import BRUSH, on, open_item, programme, refusal, running, treated
from tests.scenes import Scene, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return treated()


VERBS = {
    PlanVerb.OFFER: lambda plan, by: plans.offer(plan=plan, at=at(6), by=by),
    PlanVerb.AGREE: lambda plan, by: plans.agree(plan=plan, at=at(6), by=by),
    PlanVerb.BEGIN: lambda plan, by: plans.begin(plan=plan, at=at(6), by=by),
    PlanVerb.PAUSE: lambda plan, by: plans.pause(plan=plan, cause="cap", why="Cap", at=at(6), by=by),
    PlanVerb.GO_ON: lambda plan, by: plans.go_on(plan=plan, at=at(6), by=by),
    **{
        verb: lambda plan, by, verb=verb: plans.end(plan=plan, verb=verb, why="Over", at=at(6), by=by)
        for verb in (PlanVerb.SUCCEED, PlanVerb.GIVE_UP, PlanVerb.CALL_OFF)
    },
}
# What each state allows, and where it leads; agreeing begins at once while the tree is in the house.
ALLOWED = {
    PlanState.DRAFTED: {"offer": "offered", "agree": "running", "call_off": "called_off"},
    PlanState.OFFERED: {"agree": "running", "call_off": "called_off"},
    PlanState.AGREED: {"begin": "running", "call_off": "called_off"},
    PlanState.RUNNING: {
        "pause": "paused",
        "succeed": "success",
        "give_up": "no_success",
        "call_off": "called_off",
    },
    PlanState.PAUSED: {
        "go_on": "running",
        "succeed": "success",
        "give_up": "no_success",
        "call_off": "called_off",
    },
    PlanState.SUCCESS: {},
    PlanState.NO_SUCCESS: {},
    PlanState.CALLED_OFF: {},
}


@pytest.mark.parametrize("verb", list(PlanVerb))
@pytest.mark.parametrize("state", list(PlanState))
def test_what_a_plan_may_do_in_each_state(scene, state, verb) -> None:
    plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(4), by=scene.grower)
    told = {"state": state, "agreed_at": at(4), "begun_at": at(4)}
    told |= {"pause_cause": "cap"} if state is PlanState.PAUSED else {}
    told |= {"ended_at": at(5), "ended_why": "Over"} if state in PLAN_OVER else {}
    Plan.objects.filter(pk=plan.pk).update(**told)
    expected = ALLOWED[state].get(verb.value)
    if expected is None:
        assert refusal(VERBS[verb], plan=plan, by=scene.grower).code == "not-now"
        return
    VERBS[verb](plan=plan, by=scene.grower)
    plan.refresh_from_db()
    assert plan.state == expected


@pytest.mark.engine
@pytest.mark.parametrize(
    ("told", "name"),
    [
        ({"state": "paused", "agreed_at": at(4)}, "a_paused_plan_says_by_what"),
        ({"state": "running"}, "a_plan_runs_once_agreed"),
        ({"state": "success"}, "an_ended_plan_says_when"),
        ({"state": "called_off", "ended_at": at(5)}, "an_ended_plan_says_why"),
    ],
)
def test_the_database_holds_the_rules_of_a_plan(scene, told, name) -> None:
    plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(4), by=scene.grower)
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Plan.objects.filter(pk=plan.pk).update(**told)


@pytest.mark.engine
@pytest.mark.parametrize(
    ("told", "name"),
    [
        ({"least_days": 9}, "a_plan_step_waits_least_best_most"),
        ({"waits": "degree_days", "base": None}, "a_plan_step_waits_for_a_sum_above_a_base"),
        ({"scale": "K"}, "a_plan_step_has_one_scale"),
        ({"method": "guess"}, "a_plan_step_has_a_method"),
    ],
)
def test_the_database_holds_the_rules_of_a_step(scene, told, name) -> None:
    plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(4), by=scene.grower)
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        plan.steps.update(**told)


@pytest.mark.engine
def test_the_three_days_of_an_item_stand_in_their_order_in_the_database(scene) -> None:
    running(scene, programme(BRUSH))
    item = DueItem.objects.filter(pk=open_item().pk)
    with pytest.raises(IntegrityError, match="latest_is_not_before_due"), transaction.atomic():
        item.update(latest_on=on(1))
