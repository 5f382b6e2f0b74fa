"""The list of all estimates, and those that are dropped before anybody was promised anything."""

import datetime as dt

import pytest
import time_machine
from django.test import Client

from boarding.models import Stay
from invoicing.actions.answers import answer
from invoicing.actions.estimates import discard, draw_up_estimate, draw_up_next, offer
from invoicing.models import Estimate, EstimateVersion
from invoicing.overviews.estimate_list import estimate_rows
from nursery.models import AuditRow, Person
from nursery.refusals import Refused
from tests.estimate_scenes import JULY_3, D, accepted, offered, said_yes, told
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JULY_4 = dt.date(2026, 7, 4)


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))


@pytest.fixture
def drawn(stay: Stay, office: Person) -> EstimateVersion:
    return draw_up_estimate(stay=stay, title="Treatment", told=told(), at=at(3, 11), by=office)


@pytest.fixture
def client(office: Person) -> Client:
    browser = Client()
    browser.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    return browser


def test_each_job_stands_once_with_its_state_of_the_day(
    stay: Stay, drawn: EstimateVersion, office: Person
) -> None:
    waits = offered(StayFactory(), office)
    agreed = accepted(StayFactory(), office)
    following = draw_up_next(estimate=agreed.estimate, told=told(agreed_net=D("180.00")), at=at(5), by=office)
    no = offered(StayFactory(), office)
    answer(version=no, party=no.party, yes=False, way="phone", said_at=at(4), at=at(4), by=office)
    over = accepted(StayFactory(), office)
    Stay.objects.filter(pk=over.estimate.stay_id).update(
        state="handed_back", left_at=at(20), final_bill="I-2026-0001"
    )

    def listed(day: dt.date, state: str = "") -> list[tuple[int, str]]:
        return sorted((row.estimate, row.state_words) for row in estimate_rows(day, state))

    assert listed(JULY_3) == [
        (drawn.estimate_id, "drawn up"), (waits.estimate_id, "offered"),
        (agreed.estimate_id, "drawn up, what was agreed before holds"), (no.estimate_id, "refused"),
        (over.estimate_id, "settled"),
    ]  # fmt: skip
    assert listed(JULY_4, "lapsed") == [(waits.estimate_id, "lapsed")]
    assert (listed(JULY_3, "lapsed"), listed(JULY_4, "offered")) == ([], [])
    assert listed(JULY_3, "settled") == [(over.estimate_id, "settled")]
    said_yes(offer(version=following, at=at(5), by=office), office, at(5))
    assert listed(JULY_3, "accepted") == [(agreed.estimate_id, "accepted")]
    (row,) = estimate_rows(JULY_3, "accepted")
    assert (row.version, row.agreed_net, row.most_net) == (2, D("180.00"), D("130.00"))


def test_the_page_is_filtered_in_its_address_and_given_as_a_file(
    drawn: EstimateVersion, office: Person, client: Client
) -> None:
    offered(StayFactory(), office)
    with time_machine.travel(at(3, 12), tick=False):
        assert "/money/estimates/" in client.get("/money/").text
        everything = client.get("/money/estimates/").text
        assert (everything.count("Treatment against soft scale"), everything.count(">Treatment<")) == (1, 1)
        file = client.get("/money/estimates/?state=drawn_up&csv=1")
    assert file["Content-Disposition"] == 'attachment; filename="estimates-2026-06-03.csv"'
    head, *rows = file.content.decode("utf-8-sig").splitlines()
    assert head.startswith("Job,Customer,Tree,Number,What it is,")
    (cells,) = [row.split(",") for row in rows]
    del cells[2]  # the tree
    assert cells == [
        "Treatment", "Nuala Brackenridge", "", "Estimate with cap", "130.00", "150.00", "", "2026-07-03", "drawn up",
    ]  # fmt: skip


def test_what_was_never_offered_is_dropped_with_its_steps(drawn: EstimateVersion, office: Person) -> None:
    assert discard(version=drawn, at=at(3, 12), by=office) is None
    assert not Estimate.objects.exists()
    assert not EstimateVersion.objects.exists()
    row = AuditRow.objects.get(verb="discarded an estimate never offered")
    assert row.by == office


def test_a_raise_never_put_to_the_customer_is_dropped_and_the_cap_holds(stay: Stay, office: Person) -> None:
    agreed = accepted(stay, office)
    following = draw_up_next(estimate=agreed.estimate, told=told(agreed_net=D("180.00")), at=at(5), by=office)
    assert discard(version=following, at=at(5), by=office) == agreed.estimate
    assert [one.state for one in agreed.estimate.versions.all()] == ["accepted"]


def test_what_was_offered_or_took_the_place_of_an_offer_stays(
    stay: Stay, office: Person, client: Client
) -> None:
    first = offered(stay, office)
    with pytest.raises(Refused, check=lambda no: no.code == "not-offered"):
        discard(version=first, at=at(4), by=office)
    following = draw_up_next(estimate=first.estimate, told=told(), at=at(4), by=office)
    with pytest.raises(Refused, check=lambda no: no.code == "took-its-place"):
        discard(version=following, at=at(4), by=office)
    with time_machine.travel(at(4), tick=False):
        answered = client.post(f"/estimates/{first.estimate_id}/discard/", follow=True).text
    assert "Version 1 was withdrawn when this one was drawn up" in answered
    assert EstimateVersion.objects.count() == 2
