"""Warmth at its edges: where a crawler was seen, the turn of the year, a season that runs into the next year."""

import datetime as dt

import pytest

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.places import move_tree
from boarding.models import Look
from care.models import BenchThermometer, HeldFigure
from care.overviews.warmth import Places
from care.warmth import Measure, ways_on
from tests.plan_scenes import on, read, thermometer
from tests.scenes import Scene, at, in_care

FIVE_A_DAY = (15.0, 15.0)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def held(scene: Scene, **told: object) -> HeldFigure:
    figure = {
        "generation": 1,
        "low": 50,
        "high": 90,
        "unit": "C",
        "base": 10,
        "start_month": 6,
        "start_day": 1,
    }
    figure |= {"method": "average", "why": "Own years", **told}
    return HeldFigure.objects.create(organism=scene.scale, set_at=at(1), set_by=scene.proprietor, **figure)


def crawler(scene: Scene, when: dt.datetime, **more: object) -> Look:
    found = [FindingInput(organism=scene.scale, live=2, stage="crawler")]
    return record_look(tree=scene.tree, at=when, by=scene.grower, twigs=10, findings=found, **more)


@pytest.mark.django_db
def test_a_crawler_counts_at_the_bench_where_it_was_seen(scene) -> None:
    figure = held(scene)
    house, yard = thermometer(name="Glasshouse", is_usual=False), thermometer(name="Yard")
    BenchThermometer.objects.create(bench=scene.isolation, thermometer=house)
    for one in (house, yard):
        read(one, {on(day): FIVE_A_DAY for day in range(1, 20)}, scene.grower)
    crawler(scene, at(6, 8))
    move_tree(tree=scene.tree, to=scene.isolation, at=at(6, 9), by=scene.grower)
    places = Places(on(19))
    seen = {one.name: places.hatch(one.pk, figure, on(6)).seen_on for one in (house, yard)}
    assert seen == {"Glasshouse": None, "Yard": on(6)}


@pytest.mark.django_db
def test_a_crawler_seen_at_the_gate_hatched_elsewhere(scene) -> None:
    figure, yard = held(scene), thermometer(name="Yard")
    read(yard, {on(day): FIVE_A_DAY for day in range(1, 20)}, scene.grower)
    crawler(scene, at(6, 8), purpose="check_in")
    assert Places(on(19)).hatch(yard.pk, figure, on(6)).seen_on is None


@pytest.mark.django_db
def test_a_hatch_of_a_season_that_runs_into_the_next_year(scene) -> None:
    # Counted from 1 September: 5 a day pass 600 on 29 December and 900 on 27 February.
    figure, yard = held(scene, start_month=9, low=600, high=900), thermometer(name="Yard")
    first = dt.date(2026, 9, 1)
    read(yard, {first + dt.timedelta(days=n): FIVE_A_DAY for n in range(140)}, scene.grower)
    read(yard, {dt.date(2025, 9, 1) + dt.timedelta(days=n): FIVE_A_DAY for n in range(365)}, scene.grower)
    window = Places(dt.date(2027, 1, 19)).hatch(yard.pk, figure, dt.date(2027, 1, 5))
    assert window is not None
    assert (window.begins.reach.best, window.ends.reach.best) == (dt.date(2026, 12, 29), dt.date(2027, 2, 27))


def test_the_year_that_ends_is_a_way_on_already_on_its_last_evening() -> None:
    year = {dt.date(2026, 1, 1) + dt.timedelta(days=n): FIVE_A_DAY for n in range(365)}
    assert [len(way) for way in ways_on(year, Measure(10.0), dt.date(2026, 12, 31))] == [365]
    year |= {dt.date(2025, 1, 1) + dt.timedelta(days=n): FIVE_A_DAY for n in range(365)}
    assert len(ways_on(year, Measure(10.0), dt.date(2026, 12, 31))) == 2
