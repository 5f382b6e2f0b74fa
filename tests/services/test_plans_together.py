"""Several at once on plans: one plan a pest, one open step, a move told once, no deadlock beside looks and clocks."""

import pytest

from care.actions import due, following, moving_days, plans, rounds
from care.actions.looks import look_and_plan
from care.models import DueItem, DueMove, Plan
from care.states import PlanVerb
from tests.factories import PersonFactory
from tests.factories_care import clocked, jet, scrub
from tests.plan_scenes import (
    BRUSH,
    JET,
    SOAP_BY_WARMTH,
    determined,
    on,
    programme,
    read_june,
    running,
    says,
    thermometer,
)
from tests.scenes import Scene, at, in_care
from tests.services.test_care_together import MANY, together

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def scene() -> Scene:
    found = in_care()
    determined(found.tree)
    says(found, found.grower, brush="yes", jet="yes", soap="yes")
    return found


def test_one_plan_against_a_pest_however_many_draw_it_up(scene) -> None:
    made = programme(BRUSH)
    told = {"tree": scene.tree, "programme": made, "organism": scene.scale, "by": scene.grower}
    found = together(lambda n: plans.draw_up(at=at(4), **told).pk)
    assert sorted(map(str, found))[1:] == ["planned"] * (MANY - 1)
    assert Plan.objects.count() == 1


def test_a_plan_agreed_by_many_at_once_begins_once(scene) -> None:
    plan = plans.draw_up(tree=scene.tree, programme=programme(BRUSH), at=at(4), by=scene.grower)
    found = together(lambda n: plans.agree(plan=plan, at=at(4), by=scene.grower).state)
    assert sorted(found) == sorted(["running", *["not-now"] * (MANY - 1)])
    assert DueItem.objects.count() == 1


def test_followed_by_many_at_once_a_plan_has_one_open_step(scene) -> None:
    plan = running(scene, programme(BRUSH))
    rounds.let_fall(plan=plan, why="For the test", at=at(4, 8), by=None)
    together(lambda n: rounds.follow(plan=plan, at=at(5), by=None))
    assert DueItem.objects.filter(state="open").count() == 1


def test_people_who_brush_one_tree_at_once_do_its_step_once(scene) -> None:
    running(scene, programme(BRUSH, JET))
    scrub()
    people = [PersonFactory() for _ in range(MANY)]
    together(lambda n: clocked(people[n], scene.tree, scrub(), at(5, 8, n), 30).pk)
    assert list(DueItem.objects.filter(state="done").values_list("activity__code", flat=True)) == ["scrub"]
    assert list(DueItem.objects.filter(state="open").values_list("activity__code", flat=True)) == ["jet"]


def test_work_looks_pauses_and_the_sweep_at_once_lock_in_one_order(scene) -> None:
    plan = running(scene, programme(BRUSH, JET))
    scrub(), jet()
    people = [PersonFactory() for _ in range(MANY)]

    def deed(n: int) -> object:
        if n % 3 == 0:
            return clocked(people[n], scene.tree, scrub(), at(5, 8, n), 30).pk
        if n % 3 == 1:
            return look_and_plan(tree=scene.tree, at=at(5, 12), by=people[n], twigs=60).pk
        return following.follow_plans(at=at(5, 10))

    together(deed)
    plans.end(plan=plan, verb=PlanVerb.CALL_OFF, why="Enough", at=at(6), by=scene.grower)
    assert not DueItem.objects.filter(state="open").exclude(plan_step=None).exists()


def test_a_move_is_told_once_by_two_beats(scene) -> None:
    place = thermometer()
    running(scene, programme(BRUSH, {**SOAP_BY_WARMTH, "best_days": 8, "least_days": 5}), at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    read_june(place, scene.grower)
    together(lambda n: moving_days.reckon_anew(at=at(17)))
    assert list(DueMove.objects.values_list("from_on", "to_on")) == [(on(13), on(16))]
    item = DueItem.objects.get(state="open")
    assert (item.due_on, item.told_on) == (on(16), on(16))


def test_a_step_put_off_while_its_day_is_reckoned_keeps_the_persons_day(scene) -> None:
    place = thermometer()
    running(scene, programme(BRUSH, SOAP_BY_WARMTH), at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    read_june(place, scene.grower)
    item = DueItem.objects.get(state="open")

    def deed(n: int) -> object:
        if n == 0:
            return due.put_off(item=item, to=on(25), why="Owner asks", at=at(17), by=scene.grower).pk
        return moving_days.reckon_anew(at=at(17))

    together(deed)
    assert list(DueItem.objects.filter(state="open").values_list("due_on", flat=True)) == [on(25)]
