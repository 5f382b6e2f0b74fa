"""A plan of treatment: drawn up, agreed means by means, run step by step and round by round, ended."""

import pytest
from django.db import IntegrityError, transaction

from boarding.actions.stays import bring_back, send_away
from care.actions import due, entries, following, plans, rounds
from care.models import DueItem, Plan
from care.states import PlanVerb
from nursery.models import AuditRow, Tree
from tests.factories import BareTreeFactory, OwnershipFactory
from tests.factories_care import clocked, jet, scrub
from tests.plan_scenes import (
    BRUSH,
    JET,
    SOAP_BY_WARMTH,
    SOAP_NEXT_DAY,
    determined,
    look,
    on,
    open_item,
    programme,
    read_june,
    refusal,
    running,
    says,
    spray,
    thermometer,
    treated,
)
from tests.scenes import Scene, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return treated()


# ---- drawing up and agreeing -------------------------------------------------------------------------------------


def test_a_plan_keeps_its_own_copy_of_the_steps(scene) -> None:
    made = programme(BRUSH, JET, SOAP_NEXT_DAY, expected_rounds=3)
    plan = plans.draw_up(tree=scene.tree, programme=made, at=at(4), by=scene.grower, organism=scene.scale)
    made.steps.filter(order=3).update(best_days=2)
    assert [(step.kind, step.activity.code, step.best_days) for step in plan.steps.all()] == [
        ("brush", "scrub", 0),
        ("jet", "jet", 0),
        ("soap", "spray", 1),
    ]
    assert (plan.state, plan.expected_rounds, plan.stay) == ("drafted", 3, scene.stay)
    assert DueItem.objects.count() == 0
    assert AuditRow.objects.filter(verb="drew up a plan").count() == 1


def test_a_plan_is_agreed_only_with_a_yes_to_each_means(scene) -> None:
    says(scene, scene.grower, at(4, 8), oil="ask")
    oil = {"kind": "oil", "waits": "days", "best_days": 7, "most_days": 7}
    plan = plans.draw_up(
        tree=scene.tree, programme=programme(BRUSH, oil, {"kind": "contact"}), at=at(4, 9), by=scene.grower
    )
    refused = refusal(plans.agree, plan=plan, at=at(4, 9), by=scene.grower)
    assert refused.code == "no-consent"
    assert refused.sentence == (
        "A plan needs a yes to each means it uses. Missing: oil (wants to be asked first), contact spray"
        " (not asked yet). Ask the customer and write the answer down, or draw up a plan without that step."
    )
    says(scene, scene.grower, at(4, 10), oil="yes", contact="yes")
    assert plans.agree(plan=plan, at=at(4, 11), by=scene.grower).state == "running"


def test_an_owner_who_forbids_chemicals_has_a_plan_without_them(scene) -> None:
    says(scene, scene.grower, at(4, 8), soap="no", oil="no", contact="no", systemic="no")
    made = programme(BRUSH, JET, SOAP_NEXT_DAY, {"kind": "prune"})
    with_soap = plans.draw_up(tree=scene.tree, programme=made, at=at(4, 9), by=scene.grower)
    assert "soap (said no)" in refusal(plans.agree, plan=with_soap, at=at(4, 9), by=scene.grower).sentence
    plans.end(plan=with_soap, verb=PlanVerb.CALL_OFF, why="Without soap", at=at(4, 9), by=scene.grower)
    plan = plans.draw_up(tree=scene.tree, programme=made, without=[3], at=at(4, 10), by=scene.grower)
    plans.agree(plan=plan, at=at(4, 10), by=scene.grower)
    assert [step.kind for step in plan.steps.all()] == ["brush", "jet", "prune"]
    assert open_item().activity.code == "scrub"


def test_the_nurserys_own_tree_needs_nobodys_word(scene) -> None:
    own = OwnershipFactory(tree=determined(BareTreeFactory()), party=None).tree
    plan = plans.draw_up(tree=own, programme=programme({"kind": "oil"}), at=at(4), by=scene.grower)
    assert plans.agree(plan=plan, at=at(4), by=scene.grower).state == "running"


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"without": [1, 2]}, "no-steps"),
        ({"retired_on": on(4)}, "retired"),
        ({"steps": [{"kind": "beneficials"}]}, "no-work"),
    ],
)
def test_what_no_plan_can_be_drawn_up_of(scene, told, code) -> None:
    made = programme(*told.get("steps", [BRUSH, JET]), retired_on=told.get("retired_on"))
    refused = refusal(
        plans.draw_up,
        tree=scene.tree,
        programme=made,
        at=at(4),
        by=scene.grower,
        without=told.get("without", ()),
    )
    assert refused.code == code


def test_one_plan_against_a_pest_at_a_time(scene) -> None:
    made = programme(BRUSH)
    running(scene, made)
    again = {"tree": scene.tree, "programme": made, "organism": scene.scale, "at": at(5), "by": scene.grower}
    assert refusal(plans.draw_up, **again).code == "planned"
    with pytest.raises(IntegrityError, match="one_plan|UNIQUE"), transaction.atomic():
        Plan.objects.create(
            tree=scene.tree,
            organism=scene.scale,
            name="Twice",
            expected_rounds=1,
            drawn_at=at(5),
            drawn_by=scene.grower,
        )


def test_a_rule_for_the_same_work_ends_when_a_plan_begins_and_is_refused_beside_it(scene) -> None:
    made = programme(BRUSH, JET)
    rule = due.set_retreatment(tree=scene.tree, activity=scrub(), days=10, at=at(3, 12), by=scene.grower)
    running(scene, made)
    rule.refresh_from_db()
    assert rule.ended_why == "The plan Scale series does this now"
    again = refusal(due.set_retreatment, tree=scene.tree, activity=jet(), days=10, at=at(5), by=scene.grower)
    assert again.code == "planned"


# ---- from step to step -------------------------------------------------------------------------------------------


def test_each_step_follows_the_one_before_and_rounds_repeat(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    made = programme(
        {"kind": "prune", "each_round": False}, {**BRUSH, **wait}, SOAP_NEXT_DAY, expected_rounds=2
    )
    running(scene, made, at(4, 7))
    seen = []
    for activity, when in (
        ("prune", at(4, 8)),
        ("scrub", at(11, 8)),
        ("spray", at(12, 8)),
        ("scrub", at(19, 8)),
        ("spray", at(21, 8)),
    ):
        item = open_item()
        assert item.activity.code == activity
        seen.append((item.what, item.earliest_on.day, item.due_on.day, item.latest_on.day))
        clocked(scene.grower, scene.tree, item.activity, when, 10)
    assert seen == [
        ("Prune out, round 1 of 2", 4, 4, 9),
        ("Brush by hand, round 1 of 2", 11, 11, 14),
        ("Spray soap, round 1 of 2", 12, 12, 13),
        ("Brush by hand, round 2 of 2", 19, 19, 22),
        ("Spray soap, round 2 of 2", 20, 20, 21),
    ]
    assert DueItem.objects.filter(state="done", done_entry__isnull=False).count() == 5
    last = open_item()
    assert (last.what, last.kind, last.due_on) == ("Another round, or end the plan?", "other", on(21))


def test_eighty_degree_days_from_5_june_make_the_soap_due_on_16_june(scene) -> None:
    read_june(thermometer(), scene.grower)
    plan = running(scene, programme(BRUSH, SOAP_BY_WARMTH), at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    item = open_item()
    # On 5 June the readings of the days after it are not known: nothing tells how the year goes on.
    assert (item.due_on, item.since_on) == (on(15), on(5))
    plans.pause(plan=plan, cause="weather", why="Rain", at=at(17, 7), by=scene.grower)
    plans.go_on(plan=plan, at=at(17, 8), by=scene.grower)
    again = open_item()
    assert (again.earliest_on, again.due_on, again.latest_on) == (on(16), on(16), on(19))
    assert again.why == "82.0 of 80 degree-days C above 10 since Fri 5 June 2026"


def test_work_struck_out_opens_its_step_again(scene) -> None:
    running(scene, programme(BRUSH, JET))
    entry = clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    assert open_item().activity.code == "jet"
    entries.strike_out(entry=entry, why="On another tree", at=at(5, 12), by=scene.proprietor)
    item = open_item()
    assert item.activity.code == "scrub"
    fallen = DueItem.objects.get(state="fell_away")
    assert fallen.closed_why == "Reckoned anew: what was done before it has changed"


def test_a_step_let_fall_by_a_person_is_left_out(scene) -> None:
    running(scene, programme(BRUSH, JET))
    due.fall_away(item=open_item(), why="Bark too soft", at=at(5), by=scene.grower)
    following.follow_plans(at=at(5, 10))
    item = open_item()
    assert (item.activity.code, item.since_on) == ("jet", on(4))


def test_a_step_put_off_stays_where_a_person_put_it(scene) -> None:
    plan = running(scene, programme(BRUSH, JET))
    later = due.put_off(item=open_item(), to=on(9), why="Too wet", at=at(5), by=scene.grower)
    rounds.follow(plan=plan, at=at(6), by=None)
    assert open_item() == later
    clocked(scene.grower, scene.tree, scrub(), at(9, 8), 60)
    assert open_item().activity.code == "jet"


def test_the_first_step_of_all_waits_since_the_treatment_before_the_plan(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    made = programme({**BRUSH, **wait})
    clocked(scene.grower, scene.tree, scrub(), at(4, 6), 60)
    running(scene, made, at(6, 7))
    assert (open_item().since_on, open_item().due_on) == (on(4), on(11))


def test_following_twice_changes_nothing(scene) -> None:
    plan = running(scene, programme(BRUSH, JET))
    before = list(DueItem.objects.values_list("pk", "state"))
    rounds.follow(plan=plan, at=at(6), by=None)
    following.follow_plans(at=at(6, 1))
    assert list(DueItem.objects.values_list("pk", "state")) == before


def test_a_label_that_holds_the_spray_back_lets_brush_meanwhile(scene) -> None:
    # The sum is passed on 16 June, the label allows the next spray from 18 June, fourteen days after that of 4 June.
    read_june(thermometer(), scene.grower)
    made = programme({**BRUSH, "each_round": False}, {**SOAP_BY_WARMTH, "label_days": 14, "most_days": 20})
    clocked(scene.grower, scene.tree, spray(), at(4, 8), 10)
    plan = running(scene, made, at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    plans.pause(plan=plan, cause="capacity", why="Nobody free", at=at(17, 6), by=scene.grower)
    plans.go_on(plan=plan, at=at(17, 7), by=scene.grower)
    brush, soap = DueItem.objects.filter(state="open").order_by("due_on")
    assert (brush.activity.code, brush.due_on, brush.meanwhile) == ("scrub", on(16), True)
    assert brush.why == (
        "The best day is Tue 16 June 2026; by the label from Thu 18 June 2026, 14 days after Thu 4 June 2026"
    )
    assert (soap.earliest_on, soap.due_on) == (on(18), on(18))
    clocked(scene.grower, scene.tree, scrub(), at(17, 9), 30)
    assert open_item() == soap


def test_a_tree_of_unknown_kind_is_tested_on_two_twigs_before_it_is_sprayed(scene) -> None:
    Tree.objects.filter(pk=scene.tree.pk).update(taxon=None)
    scene.tree.refresh_from_db()
    running(scene, programme(BRUSH, SOAP_NEXT_DAY))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    test = open_item()
    assert (test.what, test.activity.code, test.due_on) == (
        "Test the spray on two twigs, round 1 of 3",
        "spray",
        on(5),
    )
    clocked(scene.grower, scene.tree, spray(), at(5, 10), 5)
    their_look = open_item()
    assert (their_look.what, their_look.earliest_on) == ("Look at the two twigs sprayed, round 1 of 3", on(7))
    look(scene, at(7, 11), live=2)
    assert open_item().what == "Spray soap, round 1 of 3"


# ---- looks, absence, ends ----------------------------------------------------------------------------------------


def test_with_none_alive_seen_the_round_is_finished_and_no_other_begins(scene) -> None:
    look(scene, at(4, 6), live=14)
    running(scene, programme(BRUSH, SOAP_NEXT_DAY))
    clocked(scene.grower, scene.tree, scrub(), at(18, 8), 28)
    look(scene, at(18, 9))
    assert sorted(DueItem.objects.filter(state="open").values_list("what", "due_on")) == [
        ("Look again", on(25)),
        ("Spray soap, round 1 of 3", on(19)),
    ]
    clocked(scene.grower, scene.tree, spray(), at(19, 8), 10)
    assert open_item().what == "Look again"
    look(scene, at(26, 9))
    plan = Plan.objects.get()
    assert (plan.state, plan.ended_why) == (
        "success",
        "2 looks in a row, 7 days and more apart, with none alive seen",
    )
    assert not DueItem.objects.filter(state="open").exists()


def test_live_seen_again_begins_the_next_round(scene) -> None:
    look(scene, at(4, 6), live=14)
    running(scene, programme(BRUSH))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    look(scene, at(12, 9))
    assert open_item().what == "Look again"
    look(scene, at(19, 9), live=2)
    item = open_item()
    assert (item.what, item.since_on) == ("Brush by hand, round 2 of 3", on(5))


def test_a_step_of_inspection_is_done_by_the_look(scene) -> None:
    seven = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 9}
    running(scene, programme(BRUSH, {"kind": "inspect", **seven}))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    item = open_item()
    assert (item.kind, item.due_on) == ("look", on(12))
    look(scene, at(12, 9), live=3)
    item.refresh_from_db()
    assert (item.state, item.done_look is not None) == ("done", True)
    assert open_item().what == "Brush by hand, round 2 of 3"


def test_a_tree_away_has_nothing_due_and_on_return_it_is_reckoned_anew(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    running(scene, programme({**BRUSH, **wait}))
    first = open_item()
    send_away(stay=scene.stay, place_kept=True, reason="Show", at=at(6), by=scene.grower)
    assert following.follow_plans(at=at(6, 10)) == 1
    first.refresh_from_db()
    assert (first.state, first.closed_why) == (
        "fell_away",
        "The tree is not here: reckoned anew when it is back",
    )
    scene.stay.refresh_from_db()
    bring_back(stay=scene.stay, to=scene.entrance, at=at(9), by=scene.grower)
    assert following.follow_plans(at=at(9, 10)) == 1
    again = open_item()
    assert again != first
    assert again.due_on == on(9)


def test_a_tree_that_leaves_ends_its_plan_with_the_reason(scene) -> None:
    plan = running(scene, programme(BRUSH))
    assert following.end_care(tree=scene.tree, why="Handed back", at=at(8), by=scene.grower) == 1
    plan.refresh_from_db()
    assert (plan.state, plan.ended_why) == ("called_off", "Handed back")
    assert DueItem.objects.get().closed_why == "Plan called off: Handed back"


def test_another_round_needs_a_reason_and_is_counted(scene) -> None:
    plan = running(scene, programme(BRUSH, expected_rounds=1))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    decide = open_item()
    assert refusal(due.mark_done, item=decide, at=at(6), by=scene.grower).code == "by-plan"
    assert refusal(plans.another_round, plan=plan, why=" ", at=at(6), by=scene.grower).code == "no-reason"
    plans.another_round(plan=plan, why="Two live under one cover", at=at(6), by=scene.proprietor)
    assert open_item().what == "Brush by hand, round 2 of 2"
    decide.refresh_from_db()
    assert decide.state == "fell_away"


@pytest.mark.parametrize("verb", [PlanVerb.GIVE_UP, PlanVerb.CALL_OFF, PlanVerb.SUCCEED])
def test_an_ended_plan_ends_once(scene, verb) -> None:
    plan = running(scene, programme(BRUSH))
    plans.end(plan=plan, verb=verb, why="Owner's wish", at=at(6), by=scene.grower)
    assert not DueItem.objects.filter(state="open").exists()
    refused = refusal(plans.end, plan=plan, verb=verb, why="Again", at=at(7), by=scene.grower)
    assert refused.code == "not-now"
    assert "only while it is" in refused.sentence


def test_an_infested_tree_does_not_end_its_plan_with_success(scene) -> None:
    plan = running(scene, programme(BRUSH))
    look(scene, at(5, 9), live=9)
    refused = refusal(plans.end, plan=plan, verb=PlanVerb.SUCCEED, why="Done", at=at(6), by=scene.grower)
    assert (refused.code, refused.field) == ("live-seen", "verb")
    plans.end(plan=plan, verb=PlanVerb.GIVE_UP, why="Too many", at=at(6), by=scene.grower)


def test_the_open_step_says_how_many_rounds_are_expected_now(scene) -> None:
    plan = running(scene, programme(BRUSH, expected_rounds=3))
    plans.another_round(plan=plan, why="Two live under one cover", at=at(6), by=scene.proprietor)
    assert open_item().what == "Brush by hand, round 1 of 4"
