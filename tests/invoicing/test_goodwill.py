"""Goodwill: a gift with its reason, a line of its own after everything else of the stay."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.test import Client

from boarding.models import Stay
from invoicing.actions.drafts import draw_up
from invoicing.actions.goodwill import give_goodwill, take_goodwill_back
from invoicing.actions.issue import issue
from invoicing.models import Goodwill, Invoice
from nursery.models import AuditRow, Person
from nursery.refusals import Refused
from tests.estimate_scenes import D, accepted, works
from tests.factories import PersonFactory
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, a_tree_of, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JUNE = dt.date(2026, 6, 30)


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0413"), size_class=3)


def given(stay: Stay, by: Person, amount: str = "5.00", reason: str = "A missed call") -> Goodwill:
    return give_goodwill(stay=stay, payer=stay.payer, amount=D(amount), reason=reason, at=at(29), by=by)


def draft_of(stay: Stay, by: Person) -> Invoice:
    return draw_up(payer=stay.payer, up_to_on=JUNE, at=at(30, 17), by=by)


def issued(stay: Stay, by: Person) -> Invoice:
    draft = draft_of(stay, by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE, at=at(30, 17), by=by)


def refused(code: str, field: str = ""):
    return pytest.raises(Refused, check=lambda refusal: (refusal.code, refusal.field) == (code, field))


def test_it_is_the_last_line_with_a_positive_price(stay: Stay, office: Person) -> None:
    given(stay, office)
    lines = [
        (line.words, line.quantity, line.price_net, line.net, line.vat_key)
        for line in draft_of(stay, office).lines.order_by("position")
    ]
    assert lines[-1] == ("Goodwill: A missed call", D("-1.0"), D("5.0000"), D("-5.00"), "S")
    row = AuditRow.objects.get(verb="gave goodwill")
    assert (row.by, row.reason) == (office, "A missed call")


def test_a_gift_eats_no_room_under_the_cap(stay: Stay, office: Person) -> None:
    """161.00 at rates, capped at 150.00, less 5.00."""
    accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    given(stay, office)
    lines = [(line.kind, line.net) for line in draft_of(stay, office).lines.order_by("position")]
    assert lines[2:] == [("labour", D("161.00")), ("above_cap", D("-11.00")), ("goodwill", D("-5.00"))]


def test_it_is_billed_once_and_never_changes(stay: Stay, office: Person) -> None:
    gift = given(stay, office)
    bill = issued(stay, office)
    assert bill.lines.get(kind="goodwill").goodwill == gift
    later = draw_up(payer=stay.payer, up_to_on=dt.date(2026, 7, 31), at=at(31, 17, month=7), by=office)
    assert not later.lines.filter(kind="goodwill").exists()
    with refused("billed"):
        take_goodwill_back(goodwill=gift, at=at(31, 17, month=7), by=office)
    with pytest.raises(IntegrityError), transaction.atomic():
        Goodwill.objects.update(amount_net="1.00")


def test_what_was_written_by_mistake_is_taken_back(stay: Stay, office: Person) -> None:
    gift = given(stay, office)
    draft_of(stay, office)
    take_goodwill_back(goodwill=gift, at=at(30, 18), by=office)
    assert not draft_of(stay, office).lines.filter(kind="goodwill").exists()
    with refused("taken-back"):
        take_goodwill_back(goodwill=gift, at=at(30, 18), by=office)


@pytest.mark.parametrize(
    ("amount", "reason", "code", "field"),
    [
        ("0.00", "why not", "no-amount", "amount"),
        ("5.00", "  ", "no-reason", "reason"),
        ("50.01", "a great pity", "over-limit", "amount"),
    ],
)
def test_what_cannot_be_given(
    stay: Stay, office: Person, amount: str, reason: str, code: str, field: str
) -> None:
    with refused(code, field):
        given(stay, office, amount, reason)


def test_the_limit_is_for_the_whole_stay_and_the_proprietor_may_pass_it(stay: Stay, office: Person) -> None:
    given(stay, office, "30.00")
    with refused("over-limit", "amount"):
        given(stay, office, "20.01")
    given(stay, PersonFactory(proprietor=True), "20.01")


def test_no_more_is_given_than_is_unbilled(stay: Stay, office: Person) -> None:
    proprietor = PersonFactory(proprietor=True)
    with refused("more-than-unbilled", "amount"):  # intake 12.00 and 27 nights of class 3 at 42.50
        given(stay, proprietor, "54.51")
    given(stay, proprietor, "54.50")


def test_after_the_last_bill_it_is_a_credit_note(office: Person) -> None:
    payer = a_customer()
    gone = StayFactory(owner=payer, state="handed_back", left_at=at(20))
    issued(gone, office)
    gone.refresh_from_db()
    with refused("billed"):
        given(gone, office)


@time_machine.travel(at(29), tick=False)
def test_the_page_gives_and_the_tree_shows_it(stay: Stay, office: Person) -> None:
    browser = Client()
    browser.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    told = {"payer": stay.payer_id, "amount": "1,250", "reason": "A missed call"}
    page = browser.post(f"/stays/{stay.pk}/goodwill/", told).text
    assert "can be read in two ways" in page
    assert "A missed call" in page
    answer = browser.post(f"/stays/{stay.pk}/goodwill/", told | {"amount": "5,00"})
    assert answer["Location"] == f"/trees/{stay.tree_id}/"
    assert Goodwill.objects.get().amount_net == Decimal("5.00")
    tree = browser.get(answer["Location"]).text
    assert "€5.00 without VAT for Nuala Brackenridge: A missed call" in tree
    browser.post(f"/goodwill/{Goodwill.objects.get().pk}/take-back/")
    assert (
        "A missed call" not in browser.get(answer["Location"]).text.split("</header>")[-1].split("Taken")[0]
    )
