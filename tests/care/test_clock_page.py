"""The clock on the phone: what it says after a stop, and which kinds of work it offers."""

import re
import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from care.actions import clocks, entries
from nursery.models import Person
from nursery.words import HARD_SPACE
from tests.factories import TreeFactory
from tests.factories_care import clocked, jet, scrub, water
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return in_care()


def page_of(person: Person, *, when, tree: int | None = None) -> str:
    """The words of the clock page at an instant."""
    client = Client()
    client.force_login(person)
    with time_machine.travel(when, tick=False):
        response = client.get(reverse("clock"), {"tree": tree} if tree else {})
    bare = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return " ".join(bare.replace(HARD_SPACE, " ").split())


# ---- after a stop ------------------------------------------------------------------------------------------------


def test_a_stop_says_what_was_stopped_how_long_it_took_and_what_is_charged(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 97)
    page = page_of(scene.grower, when=at(26, 8, 37))
    assert (
        "Stopped. Scrubbing on DN-0412 Olive, twisted trunk: 1 h 37 min measured, 1 h 35 min charged." in page
    )


def test_half_a_minute_is_charged_as_the_least_there_is(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 0.5)
    page = page_of(scene.grower, when=at(26, 7, 0))
    assert "less than a minute measured, 5 min charged." in page


def test_the_minutes_of_a_day_are_charged_together(scene):
    for hour in (7, 8, 9):
        clocked(scene.grower, scene.tree, jet(), at(26, hour), 7)
    page = page_of(scene.grower, when=at(26, 9, 7))
    assert "Jetting on DN-0412 Olive, twisted trunk: 7 min measured, 20 min charged for all jetting" in page


def test_minutes_given_away_before_are_not_counted_as_charged(scene):
    first = clocked(scene.grower, scene.tree, scrub(), at(26, 7), 20)
    entries.not_charge(entry=first, minutes=15, why="A fault of ours", at=at(26, 7, 30), by=scene.proprietor)
    clocked(scene.grower, scene.tree, scrub(), at(26, 8), 20)
    assert "20 min measured, 25 min charged for all scrubbing" in page_of(scene.grower, when=at(26, 8, 20))


def test_work_that_is_not_charged_says_so(scene):
    clocked(scene.grower, scene.tree, water(), at(26, 7), 12)
    page = page_of(scene.grower, when=at(26, 7, 12))
    assert "Watering on DN-0412 Olive, twisted trunk: 12 min measured, not charged." in page


def test_a_tree_of_the_nursery_is_not_charged(scene):
    own = TreeFactory(described_as="Yew, standard", owner__party=None, tag__code="DN0106")
    clocked(scene.grower, own, scrub(), at(26, 7), 12)
    page = page_of(scene.grower, when=at(26, 7, 12))
    assert "DN-0106 Yew, standard: 12 min measured, not charged, as it is the nursery’s own tree." in page


def test_a_doubtful_clock_is_charged_only_once_it_is_confirmed(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 300)
    assert "5 h measured, charged only once it is confirmed." in page_of(scene.grower, when=at(26, 12))


# ---- what is offered ---------------------------------------------------------------------------------------------


def offered(page: str) -> str:
    return page.partition("Change to ")[2] or page.partition("Start ")[2]


def test_the_work_that_runs_is_not_offered_as_a_change(scene):
    jet()
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    page = page_of(scene.grower, when=at(26, 8))
    assert "Jetting" in offered(page)
    assert "Scrubbing" not in offered(page)


def test_the_same_work_is_offered_for_another_tree(scene):
    other = TreeFactory()
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    assert "Scrubbing" in offered(page_of(scene.grower, when=at(26, 8), tree=other.pk))


def test_where_nothing_else_is_done_here_no_change_is_offered(scene):
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    assert "Change to" not in page_of(scene.grower, when=at(26, 8))
