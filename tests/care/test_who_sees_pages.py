"""The pages of care: who sees them, who presses their buttons."""

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from care.actions.activities import USUAL, load_activities
from nursery.models import Person
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories import PersonFactory
from tests.factories_care import clocked, inspect, jet
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


EVERYBODY, AT_THE_DESK, ALONE = "gop", "op", "p"
PAGES = {
    "today": EVERYBODY,
    "clock": EVERYBODY,
    "entries": EVERYBODY,
    "entry_write": EVERYBODY,
    "due_item_add": EVERYBODY,
    "activities_begin": EVERYBODY,
    "materials": AT_THE_DESK,
    "material_add": AT_THE_DESK,
    "reminders": AT_THE_DESK,
}
VERBS = {
    "clock_scan": EVERYBODY,
    "clock_start": EVERYBODY,
    "clock_stop": EVERYBODY,
    "clock_pause": EVERYBODY,
    "clock_resume": EVERYBODY,
    "activities_load": ALONE,
}


def roles(scene: Scene) -> dict[str, Person]:
    return {"g": scene.grower, "o": office(), "p": scene.proprietor}


@pytest.mark.parametrize(("name", "who"), PAGES.items())
def test_who_sees_a_page(scene, name, who):
    assert Client().get(reverse(name)).status_code == 302
    for letter, person in roles(scene).items():
        assert signed_in(person).get(reverse(name)).status_code == (200 if letter in who else 403), letter


@pytest.mark.parametrize(("name", "who"), VERBS.items())
def test_who_presses_a_button(scene, name, who):
    assert press(Client(), name).url.startswith("/sign-in/")
    for letter, person in roles(scene).items():
        client = signed_in(person)
        assert client.get(reverse(name)).status_code == (405 if letter in who else 403)
        assert (press(client, name).status_code == 403) is (letter not in who), letter


def test_a_grower_sees_only_own_work(scene):
    other = clocked(PersonFactory(first_name="Sean"), scene.tree, inspect(), at(25, 7), 20)
    mine = clocked(scene.grower, scene.tree, jet(), at(25, 9), 20)
    client = signed_in(scene.grower)
    assert "Sean" not in text(client.get(reverse("entries")))
    assert client.get(reverse("entry", args=[other.pk])).status_code == 404
    assert client.get(reverse("entry", args=[mine.pk])).status_code == 200
    assert "Sean" in text(signed_in(office()).get(reverse("entries")))
