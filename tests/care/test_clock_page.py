"""The clock on the phone: by scanner and by touch, what a stop says, which kinds of work are offered."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.urls import reverse

from care import querysets
from care.actions import clocks, entries
from care.actions.activities import USUAL, load_activities
from care.models import Activity, TimeEntry
from nursery.models import Person
from nursery.words import HARD_SPACE
from tests.care_pages import NOW, press, signed_in, text
from tests.factories import TagFactory, TreeFactory
from tests.factories_care import clocked, jet, scrub, water
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    scene = in_care()
    load_activities(path=USUAL)
    return scene


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def page_at(person: Person, when: dt.datetime, **asked: int) -> str:
    """The words of the clock page at an instant."""
    with time_machine.travel(when, tick=False):
        return text(signed_in(person).get(reverse("clock"), asked)).replace(HARD_SPACE, " ")


# ---- by scanner and by touch -------------------------------------------------------------------------------------


def test_a_scanner_runs_the_whole_clock(scene):
    """Tag, START SCRUB, PAUSE, GO ON, JET, STOP: everything through the one field."""
    client = signed_in(scene.grower)
    page = press(client, "clock_scan", scan="DN-0412-P")
    assert page.url == f"{reverse('clock')}?tree={scene.tree.pk}"
    with time_machine.travel(at(26, 8, 0), tick=False):
        press(client, "clock_scan", scan="START SCRUB", tree=scene.tree.pk)
    with time_machine.travel(at(26, 8, 30), tick=False):
        press(client, "clock_scan", scan="PAUSE")
    with time_machine.travel(at(26, 8, 42), tick=False):
        press(client, "clock_scan", scan="go on")
    with time_machine.travel(at(26, 9, 0), tick=False):
        press(client, "clock_scan", scan="JET")
    with time_machine.travel(at(26, 9, 12), tick=False):
        press(client, "clock_scan", scan="STOP")
    found = TimeEntry.objects.order_by("started_at")
    assert [(one.activity.code, querysets.seconds_of(one) // 60, one.source) for one in found] == [
        ("scrub", 48, "scanned"),
        ("jet", 12, "scanned"),
    ]
    assert {one.stay for one in found} == {scene.stay}


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("DN-0412-Q", "wrong letter or digit"),
        ("0499", "No tree has ever had the tag DN-0499"),
        ("", "Scan the tag of the tree or a card, or type the number on the tag."),
        ("STOP", "No clock of yours is running"),
        ("SCRUB", "Scan the tag of the tree first"),
    ],
)
def test_what_is_typed_wrongly_is_said_at_the_field_and_kept(scene, typed, sentence):
    page = press(signed_in(scene.grower), "clock_scan", scan=typed)
    assert page.status_code == 200
    assert sentence in text(page)
    assert f'value="{typed}"' in page.content.decode() or not typed


def test_a_retired_tag_says_which_one_the_tree_has_now(scene):
    TagFactory(code="DN0300", tree=scene.tree, retired_at=at(4), retired_why="lost")
    page = text(press(signed_in(scene.grower), "clock_scan", scan="DN-0300"))
    assert "DN-0300 was on Olive, twisted trunk" in page
    assert "The tree now has the tag DN-0412" in page


def test_one_form_pressed_twice_starts_one_clock(scene):
    client, key = signed_in(scene.grower), uuid.uuid4()
    fields = {"tree": scene.tree.pk, "activity": scrub().pk, "client_id": key}
    press(client, "clock_start", **fields)
    press(client, "clock_start", **fields)
    assert TimeEntry.objects.count() == 1


def test_a_button_whose_start_was_refused_starts_when_pressed_again(scene):
    client, once = signed_in(scene.grower), str(uuid.uuid4())
    fields = {"tree": scene.tree.pk, "client_id": uuid.uuid4(), "once": once}
    press(client, "clock_start", **fields)
    assert "Choose the tree and the kind of work." in text(client.get(reverse("clock")))
    press(client, "clock_start", activity=scrub().pk, **fields)
    assert TimeEntry.objects.count() == 1


def test_start_by_touch_stop_and_take_back(scene):
    client = signed_in(scene.grower)
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    page = client.get(reverse("clock"))
    assert 'data-started-at="2026-06-26T09:00:00+01:00"' in page.content.decode()
    press(client, "clock_stop")
    entry = TimeEntry.objects.get()
    assert reverse("clock_take_back", args=[entry.pk]) in client.get(reverse("clock")).content.decode()
    press(client, "clock_take_back", entry.pk)
    assert querysets.running_of(scene.grower) == entry


def test_a_stop_without_a_clock_says_so(scene):
    client = signed_in(scene.grower)
    page = client.post(reverse("clock_stop"), follow=True)
    assert "No clock of yours is running" in text(page)


def test_the_clock_page_works_by_plain_forms(scene):
    """Every verb is a form that posts; nothing waits for a script."""
    client = signed_in(scene.grower)
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    html = client.get(reverse("clock")).content.decode()
    for name in ("clock_stop", "clock_pause", "clock_scan", "clock_start"):
        assert f'<form method="post" action="{reverse(name)}"' in html


def test_a_refused_start_says_why(scene):
    client = signed_in(scene.grower)
    elsewhere = TreeFactory()
    page = client.post(reverse("clock_start"), {"tree": elsewhere.pk, "activity": scrub().pk}, follow=True)
    assert "was not in the nursery" in text(page)


# ---- after a stop ------------------------------------------------------------------------------------------------


def test_a_stop_says_what_was_stopped_how_long_it_took_and_what_is_charged(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 97)
    page = page_at(scene.grower, at(26, 8, 37))
    assert (
        "Stopped. Scrubbing on DN-0412 Olive, twisted trunk: 1 h 37 min measured, 1 h 35 min charged." in page
    )


def test_half_a_minute_is_charged_as_the_least_there_is(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 0.5)
    page = page_at(scene.grower, at(26, 7, 0))
    assert "less than a minute measured, 5 min charged." in page


def test_the_minutes_of_a_day_are_charged_together(scene):
    for hour in (7, 8, 9):
        clocked(scene.grower, scene.tree, jet(), at(26, hour), 7)
    page = page_at(scene.grower, at(26, 9, 7))
    assert "Jetting on DN-0412 Olive, twisted trunk: 7 min measured, 20 min charged for all jetting" in page


def test_minutes_given_away_before_are_not_counted_as_charged(scene):
    first = clocked(scene.grower, scene.tree, scrub(), at(26, 7), 20)
    entries.not_charge(entry=first, minutes=15, why="A fault of ours", at=at(26, 7, 30), by=scene.proprietor)
    clocked(scene.grower, scene.tree, scrub(), at(26, 8), 20)
    assert "20 min measured, 25 min charged for all scrubbing" in page_at(scene.grower, at(26, 8, 20))


def test_work_that_is_not_charged_says_so(scene):
    clocked(scene.grower, scene.tree, water(), at(26, 7), 12)
    page = page_at(scene.grower, at(26, 7, 12))
    assert "Watering on DN-0412 Olive, twisted trunk: 12 min measured, not charged." in page


def test_a_tree_of_the_nursery_is_not_charged(scene):
    own = TreeFactory(described_as="Yew, standard", owner__party=None, tag__code="DN0106")
    clocked(scene.grower, own, scrub(), at(26, 7), 12)
    page = page_at(scene.grower, at(26, 7, 12))
    assert "DN-0106 Yew, standard: 12 min measured, not charged, as it is the nursery’s own tree." in page


def test_a_doubtful_clock_is_charged_only_once_it_is_confirmed(scene):
    clocked(scene.grower, scene.tree, scrub(), at(26, 7), 300)
    assert "5 h measured, charged only once it is confirmed." in page_at(scene.grower, at(26, 12))


# ---- what is offered ---------------------------------------------------------------------------------------------


def offered(page: str) -> str:
    return page.partition("Change to ")[2] or page.partition("Start ")[2]


def test_the_work_that_runs_is_not_offered_as_a_change(scene):
    jet()
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    page = page_at(scene.grower, at(26, 8))
    assert "Jetting" in offered(page)
    assert "Scrubbing" not in offered(page)


def test_the_same_work_is_offered_for_another_tree(scene):
    other = TreeFactory()
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    assert "Scrubbing" in offered(page_at(scene.grower, at(26, 8), tree=other.pk))


def test_where_nothing_else_is_done_here_no_change_is_offered(scene):
    Activity.objects.exclude(code="scrub").update(retired_on=dt.date(2026, 6, 1))
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 7), client_id=uuid.uuid4()
    )
    assert "Change to" not in page_at(scene.grower, at(26, 8))
