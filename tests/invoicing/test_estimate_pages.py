"""The pages of estimates: what is typed is kept, refusals stand at their field, the verbs do what they say."""

import datetime as dt
import re

import pytest
import time_machine
from django.test import Client

from boarding.models import Stay
from invoicing.models import Estimate, EstimateVersion
from nursery.models import Consent, Person
from tests.estimate_scenes import D, accepted, offered, works
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db
NOW = at(3, 11)


@pytest.fixture(autouse=True)
def _third_of_june() -> object:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))


@pytest.fixture
def client(office: Person) -> Client:
    browser = Client()
    browser.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    return browser


def typed(**changes: object) -> dict[str, object]:
    work = works()
    return {
        "title": "Treatment against soft scale", "kind": "cap", "agreed_net": "150,00", "valid_until": "2026-07-03",
        "step_1_words": "Brush it", "step_1_work": work["scrub"].pk, "step_1_least": "70", "step_1_most": "110",
        "step_3_words": "Look again in eight days", "covers_wash": "on", "activities": [work["spray"].pk],
        "materials_least_net": "3", "materials_most_net": "11,5",
    } | changes  # fmt: skip


def test_an_estimate_is_written_down_with_the_steps_that_have_words(client: Client, stay: Stay) -> None:
    answer = client.post(f"/stays/{stay.pk}/estimate/", typed())
    version = EstimateVersion.objects.get()
    assert answer["Location"] == f"/estimates/{version.estimate_id}/"
    assert (version.agreed_net, version.most_net) == (D("150.00"), D("88.50"))
    assert [step.words for step in version.steps.all()] == ["Brush it", "Look again in eight days"]
    page = client.get(answer["Location"]).text
    assert "€184.50 including 23 % VAT (€150.00 without)" in page
    assert re.search(r"<dt>Expected</dt><dd>€[0-9.]+ to €[0-9.]+ including 23 % VAT</dd>", page)
    assert "Offer it to Nuala Brackenridge" in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"agreed_net": "1,250"}, "can be read in two ways"),
        ({"agreed_net": ""}, "Write the figure or the cap"),
        ({"step_1_words": ""}, "Say in a few words what is done in this step."),
        ({"step_1_work": ""}, "Choose the work these minutes are for."),
        ({"step_1_most": ""}, "Write how many minutes it may take at most."),
        ({"step_1_least": "120"}, "The second number is the greater one, or the same."),
        ({"materials_most_net": "2"}, "The second amount is the greater one"),
        ({"valid_until": "2026-06-02"}, "That day is over"),
        ({"title": ""}, "Write something here"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(
    client: Client, stay: Stay, changes: dict[str, object], sentence: str
) -> None:
    page = client.post(f"/stays/{stay.pk}/estimate/", typed(**changes)).text
    assert sentence in page
    assert "Look again in eight days" in page
    assert not Estimate.objects.exists()


@pytest.mark.parametrize("field", ["activities", "materials"])
def test_a_choice_that_is_none_is_refused(client: Client, stay: Stay, field: str) -> None:
    answer = client.post(f"/stays/{stay.pk}/estimate/", typed() | {field: "9" * 23})
    assert list(answer.context["form"].errors) == [field]


def test_it_is_offered_answered_and_raised_by_its_buttons(client: Client, stay: Stay) -> None:
    client.post(f"/stays/{stay.pk}/estimate/", typed())
    own = f"/estimates/{Estimate.objects.get().pk}/"
    assert client.post(f"{own}offer/")["Location"] == own
    said = {
        "version": 1, "yes": "yes", "party": stay.owner_id, "way": "phone", "said_on": "2026-06-03",
        "said_time": "11:40", "their_words": "yes, go on",
    }  # fmt: skip
    assert client.post(f"{own}answer/", said)["Location"] == own
    consent = Consent.objects.get()
    assert (consent.way, consent.at) == ("phone", at(3, 10, 40))
    page = client.get(own).text
    assert "Yes, Nuala Brackenridge, by telephone, Wed 3 June 2026, 11:40" in page
    assert "Ask for a raise of the cap" in page
    form = client.get(f"{own}version/").text
    assert 'value="150.00"' in form
    assert "Why is there a new version?" in form
    assert f'href="{own}">← back to the estimate' in form
    raised = typed(agreed_net="180", why="More live scales than could be seen")
    assert client.post(f"{own}version/", raised)["Location"] == own
    page = client.get(own).text
    assert "Version 2 is drawn up." in page
    assert "Version 1, accepted" in page
    assert client.get(f"/trees/{stay.tree_id}/").text.count("Treatment against soft scale</a>, estimate") == 1


def test_an_answer_that_cannot_be_is_refused_at_its_field(client: Client, stay: Stay, office: Person) -> None:
    own = f"/estimates/{offered(stay, office).estimate_id}/"
    said = {"version": 1, "yes": "yes", "party": stay.owner_id, "way": "here", "said_on": "2026-06-03"}
    page = client.post(f"{own}answer/", said | {"said_time": "23:00", "their_words": "go on"}).text
    assert "That time has not been yet" in page
    assert "go on" in page
    assert not Consent.objects.exists()


def test_an_answer_to_a_version_that_was_followed_is_refused(
    client: Client, stay: Stay, office: Person
) -> None:
    own = f"/estimates/{offered(stay, office).estimate_id}/"
    client.post(f"{own}version/", typed(why="Spraying too"))
    client.post(f"{own}offer/")
    said = {
        "version": 1, "yes": "yes", "party": stay.owner_id, "way": "here", "said_on": "2026-06-03",
        "said_time": "12:00",
    }  # fmt: skip
    assert "Version 2 has been drawn up since" in client.post(f"{own}answer/", said).text


def test_a_lapsed_one_says_what_to_do(client: Client, stay: Stay, office: Person) -> None:
    own = f"/estimates/{offered(stay, office).estimate_id}/"
    with time_machine.travel(at(4, month=7), tick=False):
        client.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
        page = client.get(own).text
    assert "Version 1 is lapsed." in page
    assert "draw up a new version at today’s prices" in page


def test_a_fixed_price_is_finished_by_its_button(client: Client, stay: Stay, office: Person) -> None:
    estimate = accepted(stay, office, when=NOW, kind="fixed").estimate
    own = f"/estimates/{estimate.pk}/"
    assert "The work is finished: bill the fixed price" in client.get(own).text
    client.post(f"{own}finish/", {"on": "2026-06-03"})
    estimate.refresh_from_db()
    assert estimate.finished_on == dt.date(2026, 6, 3)
    assert "the work was finished on Wed 3 June 2026" in client.get(own).text


def test_offering_twice_says_why_not(client: Client, stay: Stay, office: Person) -> None:
    own = f"/estimates/{offered(stay, office).estimate_id}/"
    page = client.post(f"{own}offer/", follow=True).text
    assert "This version is offered; it can be offered only while it is drawn up." in page
