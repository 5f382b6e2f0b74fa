"""Every day anew: days of steps that wait for warmth follow the weather, and people are told of what moved far."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.places import move_tree
from care.actions import due, moving_days, plans
from care.models import BenchThermometer, DueItem, DueMove, HeldFigure
from tests.factories import BareTreeFactory, BenchFactory, OwnershipFactory
from tests.factories_care import clocked, scrub
from tests.plan_scenes import (
    BRUSH,
    SOAP_BY_WARMTH,
    determined,
    on,
    programme,
    read,
    read_june,
    running,
    says,
    spray,
    thermometer,
)
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
DAY = dt.timedelta(days=1)


@pytest.fixture
def scene() -> Scene:
    found = in_care()
    determined(found.tree)
    says(found, found.grower, brush="yes", soap="yes")
    return found


def waits_for_soap(scene: Scene, **told: object) -> DueItem:
    """Brushed on 5 June; the soap waits for 80 degree-days C above 10."""
    running(scene, programme(BRUSH, {**SOAP_BY_WARMTH, **told}), at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    return DueItem.objects.get(state="open")


def anew(item: DueItem, when: dt.datetime) -> tuple[int, dt.date]:
    changed = moving_days.reckon_anew(at=when)
    item.refresh_from_db()
    return changed, item.due_on


def steady(first: dt.date, days: int, daily: float) -> dict[dt.date, tuple[float, float]]:
    return {first + n * DAY: (10 + daily, 10 + daily) for n in range(days)}


def test_the_day_is_16_june_once_the_days_are_read(scene) -> None:
    place = thermometer()
    item = waits_for_soap(scene)
    assert item.due_on == on(15)  # the calendar's
    read_june(place, scene.grower)
    assert anew(item, at(17)) == (1, on(16))
    assert item.why == "82.0 of 80 degree-days C above 10 since Fri 5 June 2026"
    assert anew(item, at(17, 12)) == (0, on(16))


def test_with_two_days_silent_it_is_the_same_day_and_says_so(scene) -> None:
    place = thermometer()
    item = waits_for_soap(scene)
    read_june(place, scene.grower, without=(11, 12))
    assert anew(item, at(17)) == (1, on(16))
    assert item.why == "87.0 of 80 degree-days C above 10 since Fri 5 June 2026, 2 of 12 days filled"


def test_the_thermometer_of_the_bench_counts_not_that_of_the_yard(scene) -> None:
    read(thermometer(name="Yard"), steady(on(5), 12, 1.0), scene.grower)
    glass = thermometer(name="Glasshouse", is_usual=False)
    read(glass, steady(on(5), 12, 10.0), scene.grower)
    BenchThermometer.objects.create(bench=scene.entrance, thermometer=glass)
    item = waits_for_soap(scene)
    assert anew(item, at(17))[1] == on(12)  # eight warm days


def test_a_tree_moved_to_another_bench_follows_its_thermometer_from_then_on(scene) -> None:
    read(thermometer(name="Yard"), steady(on(5), 12, 6.0), scene.grower)
    glass = thermometer(name="Glasshouse", is_usual=False)
    read(glass, steady(on(5), 12, 10.0), scene.grower)
    warm = BenchFactory(zone="entrance")
    BenchThermometer.objects.create(bench=warm, thermometer=glass)
    item = waits_for_soap(scene)
    assert anew(item, at(17))[1] == on(
        15
    )  # 72 by 16 June, and nothing tells how it goes on: the calendar holds
    move_tree(tree=scene.tree, to=warm, at=at(17, 10), by=scene.grower)
    assert anew(item, at(17, 11))[1] == on(12)


def test_a_fahrenheit_figure_over_a_celsius_thermometer(scene) -> None:
    # 144 degree-days F above 50 are 80 C above 10.
    item = waits_for_soap(scene, degree_days=144, base=50, scale="F")
    read_june(thermometer(), scene.grower)
    assert anew(item, at(17))[1] == on(16)
    assert item.why == "147.6 of 144 degree-days F above 50 since Fri 5 June 2026"


def test_a_move_of_more_than_two_days_is_told_once_and_a_smaller_one_is_not(scene) -> None:
    place = thermometer()
    read(place, steady(dt.date(2025, 6, 1), 90, 8.0), scene.grower)
    read(place, steady(on(5), 1, 8.0), scene.grower)
    item = waits_for_soap(scene, least_days=0, most_days=0, best_days=0)
    anew(item, at(6))
    assert item.due_on == on(14)  # ten days of 8
    told = list(DueMove.objects.values_list("from_on", "to_on"))
    read(place, {on(6): (10, 10), on(7): (10, 10)}, scene.grower)
    assert anew(item, at(8))[1] == on(16)
    assert list(DueMove.objects.values_list("from_on", "to_on")) == told
    read(place, {on(8): (10, 10)}, scene.grower)
    assert anew(item, at(9))[1] == on(17)
    assert list(DueMove.objects.values_list("from_on", "to_on")) == [*told, (on(14), on(17))]
    assert item.told_on == on(17)
    assert DueMove.objects.latest("pk").why.startswith("8.0 by Mon 8 June 2026 of 80 degree-days C above 10")


def test_a_day_a_person_chose_is_not_moved(scene) -> None:
    item = waits_for_soap(scene)
    later = due.put_off(item=item, to=on(20), why="Owner asks", at=at(6), by=scene.grower)
    read_june(thermometer(), scene.grower)
    assert anew(later, at(17)) == (0, on(20))


def test_trees_that_share_a_question_cost_no_more_queries(scene) -> None:
    read_june(thermometer(), scene.grower, until=16)
    made = programme(SOAP_BY_WARMTH)
    counted = []
    for more in (2, 20):
        for _ in range(more):
            own = OwnershipFactory(tree=determined(BareTreeFactory()), party=None).tree
            clocked(scene.grower, own, spray(), at(5, 6), 1)
            plan = plans.draw_up(tree=own, programme=made, at=at(5), by=scene.grower)
            plans.agree(plan=plan, at=at(5), by=scene.grower)
        with CaptureQueriesContext(connection) as asked:
            assert moving_days.reckon_anew(at=at(17)) == more
        counted.append(len(asked))
    assert counted[0] == counted[1] <= 20
    assert set(DueItem.objects.values_list("due_on", flat=True)) == {on(16)}


# ---- the hatch ---------------------------------------------------------------------------------------------------

HATCH = {"kind": "soap", "waits": "hatch", "best_days": 14, "most_days": 60}


def held(scene: Scene) -> None:
    HeldFigure.objects.create(
        **{"organism": scene.scale, "generation": 1, "low": 50, "high": 90, "unit": "C", "base": 10},
        **{"start_month": 6, "start_day": 1, "method": "average", "why": "Own years"},
        set_at=at(1),
        set_by=scene.proprietor,
    )


def test_the_hatch_by_the_figure_held(scene) -> None:
    held(scene)
    read(thermometer(), steady(on(1), 20, 5.0), scene.grower)
    running(scene, programme(HATCH), at(5, 7))
    item = DueItem.objects.get(state="open")
    # Five a day from 1 June: 50 on the 10th, 70 on the 14th, 90 on the 18th; on the 5th nothing tells how it goes on.
    anew(item, at(21))
    assert (item.earliest_on, item.due_on, item.latest_on) == (on(10), on(14), on(18))


def test_the_first_crawler_seen_moves_the_hatch_to_its_day(scene) -> None:
    held(scene)
    read(thermometer(), steady(on(1), 20, 5.0), scene.grower)
    running(scene, programme(HATCH), at(5, 7))
    crawler = FindingInput(organism=scene.scale, live=2, stage="crawler")
    record_look(tree=scene.tree, at=at(6, 8), by=scene.grower, twigs=10, findings=[crawler])
    item = DueItem.objects.get(state="open")
    anew(item, at(21))
    assert (item.earliest_on, item.due_on, item.latest_on) == (on(6), on(9), on(13))
    assert item.earliest_why == "First crawler seen on Sat 6 June 2026"
