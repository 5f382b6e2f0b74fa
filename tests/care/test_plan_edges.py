"""Plans at their edges: two steps of one kind open at once, looks that come too early, plans nobody would hear of."""

import pytest

from boarding.models import StandingRow, Stay
from care.actions import due, entries, following, looks, plans
from care.models import DueItem, Plan
from nursery.models import Ownership
from tests.factories import BareTreeFactory, OwnershipFactory
from tests.factories_care import clocked, scrub, written
from tests.plan_scenes import (
    BRUSH,
    JET,
    SOAP_BY_WARMTH,
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


def open_items() -> list[str]:
    return list(DueItem.objects.filter(state="open").order_by("due_on", "pk").values_list("what", flat=True))


def held_back(scene: Scene) -> Plan:
    """The label holds the soap of 16 June back until the 18th, so that brushing is open besides; it is the 17th."""
    read_june(thermometer(), scene.grower)
    soap = {**SOAP_BY_WARMTH, "label_days": 14, "most_days": 20}
    plan = running(scene, programme(soap, BRUSH), at(3, 12))
    clocked(scene.grower, scene.tree, spray(), at(4, 8), 10)
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    look(scene, at(6, 8), live=3)
    plans.pause(plan=plan, cause="capacity", why="Nobody free", at=at(17, 6), by=scene.grower)
    return plans.go_on(plan=plan, at=at(17, 7), by=scene.grower)


def test_the_spray_ends_what_was_to_be_brushed_meanwhile(scene) -> None:
    held_back(scene)
    brush, soap = DueItem.objects.filter(state="open").order_by("due_on")
    assert (brush.meanwhile, brush.activity.code, soap.activity.code) == (True, "scrub", "spray")
    clocked(scene.grower, scene.tree, spray(), at(18, 8), 10)
    item = open_item()
    assert (item.activity.code, item.meanwhile, item.since_on) == ("scrub", False, on(18))


def test_a_look_before_its_day_is_no_look_at_the_twigs(scene) -> None:
    seven = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 9}
    running(scene, programme(BRUSH, {"kind": "inspect", **seven}))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    item = open_item()
    look(scene, at(5, 10), live=3)
    item.refresh_from_db()
    assert item.state == "open"
    look(scene, at(12, 10), live=3)
    item.refresh_from_db()
    assert item.state == "done"


def test_a_look_of_the_same_morning_does_not_do_what_was_asked_for_after_it(scene) -> None:
    look(scene, at(5, 8), live=3)
    asked = due.ask_for_look(
        tree=scene.tree,
        stay=scene.stay,
        what="Inspect: contact",
        why="Stood with it",
        due_on=on(5),
        at=at(5, 11),
    )
    looks.catch_up(at=at(5, 12))
    asked.refresh_from_db()
    assert asked.state == "open"


def test_a_step_of_inspection_is_not_done_by_the_look_before_the_work(scene) -> None:
    running(scene, programme(BRUSH, {"kind": "inspect"}))
    look(scene, at(5, 8), live=3)
    clocked(scene.grower, scene.tree, scrub(), at(5, 10), 28)
    item = open_item()
    looks.catch_up(at=at(5, 12))
    item.refresh_from_db()
    assert item.state == "open"


def test_a_plan_that_asks_for_more_looks_than_the_house_asks_for_them(scene) -> None:
    look(scene, at(4, 6), live=14)
    plan = running(scene, programme(BRUSH, end_looks=3, end_days=10))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    look(scene, at(6, 9))
    look(scene, at(13, 9))  # clean by the rule of the house
    following.follow_plans(at=at(13, 10))
    plan.refresh_from_db()
    assert plan.state == "running"
    assert open_items() == ["Look again"]


def test_a_plan_for_a_clean_tree_is_not_forgotten_after_its_work(scene) -> None:
    look(scene, at(3, 20))
    look(scene, at(4, 6))
    StandingRow.objects.filter(tree=scene.tree, until_at=None).update(standing="clean")
    running(scene, programme(BRUSH))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    following.follow_plans(at=at(5, 10))
    assert open_items() == ["Look again"]


def test_a_step_let_fall_on_an_own_tree_is_followed(scene) -> None:
    own = OwnershipFactory(tree=determined(BareTreeFactory()), party=None).tree
    plan = plans.draw_up(
        tree=own, programme=programme(BRUSH, JET), at=at(4, 7), by=scene.grower, organism=scene.scale
    )
    plans.agree(plan=plan, at=at(4, 7), by=scene.grower)
    due.fall_away(item=open_item(), why="Bark too soft", at=at(5), by=scene.grower)
    following.follow_plans(at=at(5, 10))
    assert open_item().activity.code == "jet"


def test_a_plan_does_not_begin_too_late_because_of_work_long_before_it(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    made = programme({**BRUSH, **wait})
    clocked(scene.grower, scene.tree, scrub(), at(4, 6), 60)
    running(scene, made, at(20, 7))
    item = open_item()
    assert (item.due_on, item.latest_on >= on(20)) == (on(20), True)


def test_a_step_that_waits_for_nothing_is_due_when_it_opens(scene) -> None:
    look(scene, at(4, 6), live=14)
    running(scene, programme(BRUSH))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    look(scene, at(12, 9))
    look(scene, at(19, 9), live=2)
    item = open_item()
    assert (item.what, item.due_on) == ("Brush by hand, round 2 of 3", on(19))


def test_steps_of_the_first_round_alone_come_again_all_of_them(scene) -> None:
    look(scene, at(4, 6), live=14)
    running(scene, programme({**BRUSH, "each_round": False}, {**JET, "each_round": False}))
    seen = []
    for day in (5, 6, 7, 8):
        item = open_item()
        seen.append(item.what)
        clocked(scene.grower, scene.tree, item.activity, at(day, 8), 20)
    assert seen == [
        "Brush by hand, round 1 of 3",
        "Jet with water, round 1 of 3",
        "Brush by hand, round 2 of 3",
        "Jet with water, round 2 of 3",
    ]


@pytest.mark.parametrize("state", ["paused", "running", "drafted"])
def test_the_plan_of_a_tree_that_died_is_called_off_though_nothing_was_due(scene, state) -> None:
    if state == "drafted":
        plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(4, 7), by=scene.grower)
    else:
        look(scene, at(3, 12), live=3)
        plan = running(scene, programme(BRUSH))
        clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
        look(scene, at(6, 9))
        DueItem.objects.filter(state="open").update(state="fell_away", closed_at=at(6, 9), closed_why="Told")
    if state == "paused":
        plans.pause(plan=plan, cause="capacity", why="Nobody free", at=at(6, 10), by=scene.grower)
    Stay.objects.filter(pk=scene.stay.pk).update(state="died", left_at=at(7, 9))
    following.let_fall_of_gone(at=at(7, 10))
    plan.refresh_from_db()
    assert (plan.state, plan.ended_why) == ("called_off", "The stay ended: died in care")


def test_a_yes_of_the_owner_before_is_not_that_of_the_new_one(scene) -> None:
    Ownership.objects.filter(tree=scene.tree).update(until_on=on(5))
    new = OwnershipFactory(tree=scene.tree, since_on=on(5)).party
    plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(6, 7), by=scene.grower)
    assert refusal(plans.agree, plan=plan, at=at(6, 7), by=scene.grower).code == "no-consent"
    scene.owner = new
    says(scene, scene.grower, at(6, 8), brush="yes")
    assert plans.agree(plan=plan, at=at(6, 9), by=scene.grower).state == "running"


def test_work_set_right_does_not_do_the_next_round(scene) -> None:
    look(scene, at(4, 6), live=14)
    running(scene, programme(BRUSH))
    entry = clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    second = open_item()
    entries.correct_entry(
        entry=entry,
        started_at=at(5, 8, 5),
        stopped_at=at(5, 8, 28),
        why="Began later",
        at=at(5, 12),
        by=scene.proprietor,
    )
    second.refresh_from_db()
    assert (second.what, second.state) == ("Brush by hand, round 2 of 3", "open")


def test_work_written_later_from_before_the_step_does_not_do_it(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    running(scene, programme({**BRUSH, **wait}))
    clocked(scene.grower, scene.tree, scrub(), at(6, 8), 28)
    second = open_item()
    assert (second.round_no, second.since_on) == (2, on(6))
    written(scene.grower, scene.tree, scrub(), at(5, 8), 20, at(7, 9))
    second.refresh_from_db()
    assert second.state == "open"


def test_a_plan_agreed_while_its_tree_was_away_begins_when_it_is_in_the_house(scene) -> None:
    Stay.objects.filter(pk=scene.stay.pk).update(state="away")
    plan = running(scene, programme(BRUSH))
    assert plan.state == "agreed"
    Stay.objects.filter(pk=scene.stay.pk).update(state="in_care")
    following.follow_plans(at=at(5, 10))
    plan.refresh_from_db()
    assert (plan.state, plan.begun_at) == ("running", at(5, 10))
    assert open_item().due_on == on(5)


def test_a_round_begun_by_a_late_find_is_due_from_the_find(scene) -> None:
    wait = {"waits": "days", "least_days": 7, "best_days": 7, "most_days": 10}
    look(scene, at(4, 6), live=14)
    running(scene, programme({**BRUSH, **wait}), at(4, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    look(scene, at(12, 9))  # none alive: the round of 12 June falls away
    look(scene, at(19, 9), live=2)
    item = open_item()
    assert (item.since_on, item.earliest_on, item.due_on, item.latest_on) == (on(5), on(19), on(19), on(24))
    assert item.why == "Nothing to wait for since Fri 19 June 2026"
