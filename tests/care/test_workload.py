"""Is there time for what is due? The sums of each day, and the page that shows them."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as some

from boarding.actions.stays import send_away
from care.actions import due, hours
from care.actions.activities import USUAL, load_activities
from care.models import Activity, DueItem
from care.overviews.workload import workload
from care.workload import DayLoad, DueWork, day_loads
from nursery.models import Nursery
from tests.care_pages import NOW, office, signed_in, text
from tests.factories_care import clocked, other_tree, scrub
from tests.scenes import Scene, at, in_care

FRIDAY = dt.date(2026, 6, 26)
WEEK = [FRIDAY + dt.timedelta(days=number) for number in range(7)]


def on(day: int) -> dt.date:
    return dt.date(2026, 6, day)


# ---- the sums ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due_min", "there_min", "words", "short"),
    [
        (0, 0, "", False),
        (30, 0, "nobody has time for trees", True),
        (0, 60, "1 h left", False),
        (59, 60, "1 min left", False),
        (60, 60, "just enough", False),
        (61, 60, "1 min more is due than there is time for", True),
        (130, 60, "1 h 10 min more is due than there is time for", True),
    ],
)
def test_a_day_in_words(due_min, there_min, words, short):
    day = DayLoad(FRIDAY, 1, 0, due_min, there_min)
    assert (day.words, day.is_short) == (words, short)


def test_what_is_overdue_stands_on_the_first_day_and_what_is_later_on_none():
    work = [DueWork(on(20), 40), DueWork(on(25), 10), DueWork(on(26), 15), DueWork(on(28), 5)]
    loads = day_loads(WEEK[:2], work, {on(27): 480})
    assert loads == [DayLoad(on(26), 3, 2, 65, 0), DayLoad(on(27), 0, 0, 0, 480)]


def test_a_length_of_time_is_not_negative():
    with pytest.raises(ValueError, match="negative"):
        DayLoad(FRIDAY, 1, 0, -1, 0)


@given(some.lists(some.tuples(some.integers(-30, 6), some.integers(0, 500)), max_size=30))
def test_all_that_is_due_stands_on_some_day(work):
    told = [DueWork(FRIDAY + dt.timedelta(days=offset), minutes) for offset, minutes in work]
    loads = day_loads(WEEK, told, {})
    assert sum(load.due_min for load in loads) == sum(minutes for _, minutes in work)
    assert sum(load.overdue for load in loads) == sum(offset < 0 for offset, _ in work)


# ---- from the books ----------------------------------------------------------------------------------------------


@pytest.fixture
def scene(db) -> Scene:
    scene = in_care()
    load_activities(path=USUAL)
    return scene


@pytest.fixture
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def to_do(scene: Scene, day: int, when=None) -> DueItem:
    return due.add_item(
        tree=scene.tree, what="Turn the pot", why="", due_on=on(day), at=when or at(20), by=scene.grower
    )


def to_scrub(tree, scene: Scene, day: int) -> None:
    """Scrubbed four days before the day; due again on it."""
    clocked(scene.grower, tree, scrub(), at(day - 7, 7), 90)
    due.set_retreatment(tree=tree, activity=scrub(), days=7, at=at(day - 7, 12), by=scene.grower)


def test_minutes_come_from_own_jobs_the_starting_table_or_the_house_rule(scene):
    scene.look(at(3, 10), live=240)
    to_scrub(scene.tree, scene, 27)
    to_do(scene, 24)
    Nursery.objects.update(due_item_minutes=12)
    load = workload(NOW, 7)
    assert [(day.items, day.overdue, day.due_min) for day in load.days[:3]] == [
        (1, 1, 12),
        (1, 0, 39),  # class 2, medium, second round: 65 % of 60
        (0, 0, 0),
    ]
    assert load.rests_on == (("by the starting table", 1), ("by the house rule", 1))


def test_five_own_jobs_are_reckoned_with(scene):
    for number in range(5):
        tree = other_tree()
        clocked(scene.grower, tree, scrub(), at(10 + number, 7), 100 + number)
    tree = other_tree()  # class 3 at its stay, class 2 as a tree: never scrubbed
    tree.size_class = 3
    tree.save()
    due.set_retreatment(tree=tree, activity=scrub(), days=7, at=at(26, 7), by=scene.grower)
    load = workload(NOW, 7)
    assert load.days[0].due_min == 102
    assert load.rests_on == (("by our own jobs", 1),)


def test_a_look_takes_as_long_as_our_inspections(scene):
    inspection = Activity.objects.get(code="inspect")
    for number in range(5):
        clocked(scene.grower, scene.tree, inspection, at(10 + number, 7), 20)
    due.after_look(look=scene.look(at(20)), needs_another=True, days=7, at=at(20), by=scene.grower)
    load = workload(NOW, 7)
    assert load.days[1].due_min == 20
    assert load.rests_on == (("by our own jobs", 1),)


def test_what_is_due_for_a_tree_that_is_away_is_counted_apart(scene):
    to_do(scene, 26)
    send_away(stay=scene.stay, reason="A show", place_kept=True, at=at(25), by=scene.grower)
    load = workload(NOW, 7)
    assert (load.days[0].items, load.away) == (0, 1)


@pytest.mark.usefixtures("_friday")
def test_the_page_says_which_days_are_short(scene):
    to_do(scene, 24)
    to_scrub(scene.tree, scene, 27)
    hours.set_usual_hours(person=scene.grower, minutes={4: 60, 5: 20}, at=at(20), by=scene.proprietor)
    page = text(signed_in(scene.grower).get(reverse("work_ahead")))
    assert "1 of 7 days has more due than there is time for." in page
    assert "Fri 26 Jun 1 10 min 1 h 50 min left; 1 overdue" in page
    assert "Sat 27 Jun 1 23 min 20 min 3 min more is due than there is time for" in page
    assert "Whose time is it?" not in page


@pytest.mark.usefixtures("_friday")
def test_the_desk_is_led_to_everybodys_hours(scene):
    page = signed_in(office()).get(reverse("work_ahead"), {"days": "14"})
    assert "Nobody’s hours are known." in text(page)
    assert reverse("person_hours", args=[scene.grower.pk]) in page.text
    assert "Thu 9 Jul" in text(page)
    assert "Fri 10 Jul" not in text(page)


@pytest.mark.usefixtures("_friday")
def test_an_odd_address_shows_seven_days(scene):
    assert "Thu 2 Jul" in text(signed_in(scene.grower).get(reverse("work_ahead"), {"days": "9999"}))


@pytest.mark.usefixtures("_friday")
def test_the_file_holds_what_the_page_shows(scene):
    to_do(scene, 24)
    hours.set_usual_hours(person=scene.grower, minutes={4: 60}, at=at(20), by=scene.proprietor)
    lines = signed_in(scene.grower).get(reverse("work_ahead"), {"csv": "1"}).content.decode().splitlines()
    assert lines[0].endswith("Day,Due,It takes,There is,One against the other")
    assert lines[1] == "2026-06-26,1,10,60,50 min left; 1 overdue"
    assert len(lines) == 8


@pytest.mark.usefixtures("_friday")
def test_the_page_costs_the_same_however_much_is_due(scene):
    def fill(count: int) -> None:
        for _ in range(count):
            tree = other_tree()
            to_scrub(tree, scene, 27)
            due.add_item(tree=tree, what="Water", why="", due_on=on(26), at=at(20), by=scene.grower)

    client = signed_in(scene.proprietor)
    fill(2)
    client.get(reverse("work_ahead"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("work_ahead"))
    fill(6)
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("work_ahead"))
    assert len(many) == len(few)
