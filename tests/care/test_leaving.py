"""No tree is made ready, sent away or disposed of while a clock runs on it; one that left is offered no more care."""

import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from boarding.models import Absence
from boarding.states import StayState
from care.actions.clocks import start_clock, stop_clock
from care.actions.leaving import dispose_under_notice, make_ready, send_away
from care.actions.papers import give_back
from care.models import TimeEntry
from nursery.refusals import Refused
from tests.factories_care import scrub
from tests.scenes import Scene, at, in_care, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    """Looked at for the last time, with Aoife's clock running since 14:40 at the nursery."""
    scene = in_care()
    scene.look(at(26, 12), purpose="final", stay=scene.stay)
    start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 13, 40), client_id=uuid.uuid4()
    )
    return scene


def stop(scene: Scene) -> None:
    stop_clock(entry=TimeEntry.objects.get(), at=at(26, 14), by=scene.grower)


def test_each_way_of_leaving_names_the_clock(scene: Scene) -> None:
    by = {"stay": scene.stay, "at": at(26, 13, 50), "by": scene.proprietor}
    for act, more in (
        (make_ready, {}),
        (send_away, {"reason": "A show", "place_kept": True}),
        (dispose_under_notice, {"reason": "Nobody came", "advised": True}),
    ):
        with pytest.raises(Refused) as refusal:
            act(**by, **more)
        assert refusal.value.code == "clock-running"
        assert "Aoife" in refusal.value.sentence
        assert "scrubbing, since Fri 26 June 2026, 14:40. Stop it first" in refusal.value.sentence
    scene.stay.refresh_from_db()
    assert scene.stay.state == StayState.IN_CARE
    assert not Absence.objects.exists()


def test_a_stopped_clock_holds_nothing_up(scene: Scene) -> None:
    stop(scene)
    assert make_ready(stay=scene.stay, at=at(26, 15), by=scene.grower).state == StayState.READY


@time_machine.travel(at(26, 13, 55), tick=False)
def test_the_page_keeps_what_was_typed_and_says_why_not(scene: Scene) -> None:
    client = Client()
    client.force_login(scene.grower)
    answer = client.post(reverse("stay_send_away", args=[scene.stay.pk]), {"reason": "The autumn show"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "A clock still runs on this tree" in page
    assert "The autumn show" in page


# ---- after it left -----------------------------------------------------------------------------------------------

OFFERS = ("clock", "material_use", "retreatment")


def offered(scene: Scene) -> list[str]:
    """Which kinds of care the page of the tree offers."""
    client = Client()
    client.force_login(scene.grower)
    page = client.get(reverse("tree", args=[scene.tree.pk])).content.decode()
    pk = scene.tree.pk
    ways = (
        f"{reverse('clock')}?tree={pk}",
        reverse("material_use", args=[pk]),
        reverse("retreatment", args=[pk]),
    )
    return [name for name, way in zip(OFFERS, ways, strict=True) if f'href="{way}"' in page]


@time_machine.travel(at(29, 16), tick=False)
def test_a_tree_is_offered_care_until_it_went_home() -> None:
    story = worked()
    assert offered(story) == ["clock", "material_use", "retreatment"]
    give_back(**story.handing())
    assert offered(story) == []


@time_machine.travel(at(27), tick=False)
def test_nor_is_a_tree_that_is_away(scene: Scene) -> None:
    stop(scene)
    send_away(stay=scene.stay, reason="A show", place_kept=True, at=at(26, 15), by=scene.grower)
    assert offered(scene) == []
