"""A tree that is away: each line about it says since when."""

import pytest
import time_machine
from django.urls import reverse

from boarding.actions.stays import bring_back, send_away
from care.actions import due, reminders
from care.models import DueItem
from care.overviews import due_lines
from care.querysets import open_items
from tests.care_pages import NOW, signed_in, text
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    """Sent to a show at 00:30 on the 11th by the nursery's clock, still the 10th in UTC."""
    scene = in_care()
    due.add_item(
        tree=scene.tree, what="Turn the pot", why="Light", due_on=NOW.date(), at=at(9), by=scene.grower
    )
    send_away(stay=scene.stay, reason="The show", place_kept=True, at=at(10, 23, 30), by=scene.grower)
    return scene


@pytest.fixture
def item(scene: Scene) -> DueItem:
    return DueItem.objects.get()


def page_of(scene: Scene, name: str, *args: int) -> str:
    with time_machine.travel(NOW, tick=False):
        return text(signed_in(scene.grower).get(reverse(name, args=args)))


def test_today_says_since_when_in_what_is_due_and_in_what_moves(scene):
    page = page_of(scene, "today")
    assert (
        "Turn the pot DN-0412 Olive, twisted trunk Nuala Brackenridge, Light, away since Thu 11 June" in page
    )
    assert "Away since Thu 11 June 2026 DN-0412 Olive, twisted trunk" in page


def test_the_due_item_says_it_in_place_of_the_bench(scene, item):
    assert "Stands away since Thu 11 June 2026" in page_of(scene, "due_item", item.pk)


def test_the_words_end_with_the_absence(scene):
    bring_back(stay=scene.stay, to=scene.entrance, at=at(20), by=scene.grower)
    (line,) = due_lines.lines(open_items().filter(what="Turn the pot"), NOW.date())
    assert line.away_words == ""


def test_the_morning_s_mail_says_it(scene):
    mail = reminders.claim_reminders(day=NOW.date(), person=scene.grower, at=at(26, 5))
    body = reminders.message(mail, at(26, 5)).body
    assert "Turn the pot, away since Thu 11 June 2026: DN-0412 Olive, twisted trunk" in body
