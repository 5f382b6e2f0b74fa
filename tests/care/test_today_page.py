"""The page Today: what is due, held up and to be looked at, each with its one button."""

import datetime as dt
import re

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.stays import announce
from boarding.models import Stay
from care import querysets
from care.actions import due
from care.actions.activities import USUAL, load_activities
from care.models import DueItem, ReminderMail
from tests.care_pages import NOW, press, signed_in, text
from tests.factories import OwnershipFactory, PersonFactory, TreeFactory
from tests.factories_care import clocked, inspect, scrub, written
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


def test_an_empty_day_says_what_to_do(scene):
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert "What is due?" in page
    assert "Fri 26 June 2026" in page


def test_today_lists_what_is_due_with_one_button_each(scene):
    due.set_retreatment(tree=scene.tree, activity=scrub(), days=7, at=at(10), by=scene.grower)
    clocked(scene.grower, scene.tree, scrub(), at(16, 7), 40)
    for day, what in ((26, "Turn the pot"), (27, "Take the wire off"), (28, "Too early to show")):
        due.add_item(
            tree=scene.tree, what=what, why="", due_on=dt.date(2026, 6, day), at=at(20), by=scene.grower
        )
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert re.search(r"Overdue 3 days Scrubbing again DN-0412 Olive, twisted trunk .*? Start the clock", page)
    assert re.search(r"Due today to do Turn the pot .*? Done", page)
    assert re.search(r"Tomorrow to do Take the wire off .*? Done", page)
    assert "Too early" not in page


def test_the_button_of_a_treatment_starts_the_clock(scene):
    due.set_retreatment(tree=scene.tree, activity=scrub(), days=7, at=at(10), by=scene.grower)
    client = signed_in(scene.grower)
    client.get(reverse("today"))
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    assert querysets.running_of(scene.grower).activity.code == "scrub"


def test_today_shows_what_is_held_up_and_what_to_look_at(scene):
    clocked(scene.grower, scene.tree, scrub(), at(25, 7), 300)
    scene.look(at(25, 13), live=3)
    mail = ReminderMail.objects.create(
        person=scene.grower,
        day=at(26).date(),
        message_id="<a@b>",
        claimed_at=at(26, 5),
        handed_over_at=at(26, 5),
    )
    page = text(signed_in(scene.proprietor).get(reverse("today")))
    assert "Doubtful clock, not billed" in page
    assert "3 alive on 60 twigs" in page
    assert "Infested on" in page  # it stands at the entrance, where no infested tree may stand
    assert "Reminder perhaps sent" in page
    press(signed_in(scene.proprietor), "reminder_seen", mail.pk)
    assert "Reminder perhaps sent" not in text(signed_in(scene.proprietor).get(reverse("today")))


def test_an_announced_tree_is_received_from_today_by_a_button(scene):
    tree = TreeFactory(owner=None)
    OwnershipFactory(tree=tree, party=scene.owner)
    stay = announce(owner=scene.owner, tree=tree, expected_in_on=NOW.date(), at=NOW, by=scene.grower)
    client, address = signed_in(scene.grower), reverse("stay_receive", args=[stay.pk])
    page = client.get(reverse("today")).content.decode()
    assert f'action="{address}"' in page  # a link there would lead to a page that only takes buttons
    assert f'href="{address}' not in page
    assert client.post(address)["Location"].startswith("/visits/")


def test_a_grower_is_shown_own_doubtful_clocks_and_no_mails(scene):
    clocked(PersonFactory(), scene.tree, scrub(), at(25, 7), 300)
    ReminderMail.objects.create(
        person=scene.grower, day=at(26).date(), message_id="<a@b>", claimed_at=at(26, 5), failed_at=at(26, 5)
    )
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert "Doubtful" not in page
    assert "Reminder" not in page


def test_a_tree_that_is_away_has_no_button(scene):
    due.add_item(tree=scene.tree, what="Water", why="", due_on=at(26).date(), at=at(20), by=scene.grower)
    Stay.objects.filter(pk=scene.stay.pk).update(state="away")
    page = signed_in(scene.grower).get(reverse("today"))
    assert "away" in text(page)
    assert reverse("due_item_done", args=[DueItem.objects.get().pk]) not in page.content.decode()


def test_today_costs_the_same_however_much_there_is(scene):
    def fill(count: int) -> None:
        for _ in range(count):
            tree = TreeFactory()
            owner = tree.ownerships.get().party
            Stay.objects.create(
                tree=tree,
                owner=owner,
                payer=owner,
                state="in_care",
                size_class=2,
                received_at=at(4),
                expected_out_on=dt.date(2026, 6, 26),
            )
            due.add_item(tree=tree, what="Water", why="", due_on=at(26).date(), at=at(20), by=scene.grower)
            written(scene.grower, tree, inspect(), at(10, 8), 20, at(26, 7))

    client = signed_in(scene.proprietor)
    fill(2)
    client.get(reverse("today"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("today"))
    fill(8)
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("today"))
    assert len(many) == len(few)
