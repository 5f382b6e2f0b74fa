"""What earlier jobs say of the minutes stands beside the steps, and on the paper where the office leaves it there."""

import uuid

import pytest
import time_machine
from django.test import Client

from boarding.actions.looks import FindingInput, record_look
from boarding.models import Stay
from care.actions.clocks import start_clock, stop_clock
from invoicing.estimate_words import words_of
from invoicing.models import EstimateVersion
from nursery.models import Person, Tree
from tests.care_pages import signed_in, text
from tests.estimate_scenes import offered, works
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_20th_of_june() -> object:
    with time_machine.travel(at(20, 11), tick=False):
        yield


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def client(office: Person) -> Client:
    return signed_in(office)


def infested(code: str, by: Person) -> Stay:
    """A tree of class 2 with broad leaves and 5 alive a twig, which is medium."""
    payer = a_customer()
    stay = StayFactory(owner=payer, tree=a_tree_of(payer, code))
    Tree.objects.filter(pk=stay.tree_id).update(foliage="broad")
    record_look(tree=stay.tree, at=at(3, 10), by=by, twigs=20, findings=[FindingInput(live=100)])
    return stay


def scrubbed(tree: Tree, minutes: int, by: Person, day: int) -> None:
    clock = start_clock(
        person=by, tree=tree, activity=works()["scrub"], at=at(day, 8), client_id=uuid.uuid4()
    )
    stop_clock(entry=clock, at=at(day, 8, minutes), by=by)


@pytest.fixture
def stay(office: Person) -> Stay:
    return infested("DN0412", office)


def test_without_own_jobs_the_starting_table_stands_beside_the_steps(client: Client, stay: Stay) -> None:
    works()
    page = client.get(f"/stays/{stay.pk}/estimate/")
    assert "Scrubbing, first round starting table, no own jobs yet: 60 min" in text(page)
    assert "Scrubbing, second round starting table, no own jobs yet: 39 min" in text(page)
    assert page.context["form"]["based_on"].value() == ""


def test_own_jobs_are_offered_as_what_the_minutes_rest_on(client: Client, stay: Stay, office: Person) -> None:
    for number, minutes in enumerate((30, 35, 40, 45, 50)):
        scrubbed(infested(f"DN05{number:02d}", office).tree, minutes, office, 4 + number)
    page = client.get(f"/stays/{stay.pk}/estimate/")
    rests_on = "5 similar trees: 32–48 min, median 40"
    assert f"Scrubbing, first round {rests_on}" in text(page)
    assert page.context["form"]["based_on"].value() == rests_on
    version = offered(stay, office, at(20, 11), texts={"based_on": rests_on})
    assert words_of(version, at(20).date())["based_on"] == rests_on


def test_a_new_version_keeps_what_was_written(client: Client, stay: Stay, office: Person) -> None:
    offered(stay, office, at(20, 11), texts={"based_on": "seen by Orla"})
    page = client.get(f"/estimates/{EstimateVersion.objects.get().estimate_id}/version/")
    assert page.context["form"]["based_on"].value() == "seen by Orla"
    assert "How long it may take" in text(page)
