"""Whether a stay is closed, and what keeps it open. Figures from the worked stay: due 272.57."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from boarding.states import StayState
from care.actions.clocks import start_clock, stop_clock
from care.models import LedgerEntry, TimeEntry
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import Invoice
from invoicing.overviews.closing import closing_of
from nursery.models import Party, PartyLink, Person, VatRate
from tests.factories import AddressFactory, PartyFactory, PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    StayFactory,
    WorkedStay,
    a_customer,
    a_tree_of,
    at,
    clocked,
    worked_stay,
)

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_30 = dt.date(2026, 6, 30)


@pytest.fixture
def worked() -> WorkedStay:
    return worked_stay()


def billed(payer: Party, by: Person, on: dt.date = JUNE_30) -> Invoice:
    when = dt.datetime.combine(on, dt.time(17), tzinfo=dt.UTC)
    draft = draw_up(payer=payer, up_to_on=on, at=when, by=by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=by)


def page(worked: WorkedStay, viewer: Person) -> str:
    client = Client()
    with time_machine.travel(at(30, 17), tick=False):
        client.force_login(viewer)
        answer = client.get(reverse("stay", args=[worked.stay.pk]))
    return " ".join(answer.content.decode().split())


def test_a_stay_still_in_care_says_nothing() -> None:
    assert closing_of(StayFactory(), JUNE_30) is None


@pytest.mark.parametrize("state", [StayState.TURNED_AWAY, StayState.NEVER_CAME, StayState.DIED])
def test_nor_does_one_that_never_began_or_whose_remains_are_here(state: StayState) -> None:
    assert closing_of(StayFactory(state=state), JUNE_30) is None


@pytest.mark.parametrize(
    "state", [StayState.REMAINS_HANDED_OVER, StayState.REMAINS_DISPOSED, StayState.DISPOSED_UNDER_NOTICE]
)
def test_every_other_end_of_a_stay_closes_it_too(state: StayState) -> None:
    owner = a_customer()
    ended = {"died_at": at(20)} if state is not StayState.DISPOSED_UNDER_NOTICE else {}
    stay = StayFactory(owner=owner, tree=a_tree_of(owner), state=state, left_at=at(29), **ended)
    told = closing_of(stay, JUNE_30)
    assert told is not None
    assert told.sentences == ("its keeping is not billed to the end",)
    billed(owner, PersonFactory(office=True))
    stay.refresh_from_db()
    after = closing_of(stay, JUNE_30)
    assert after is not None
    assert (after.sentences, len(after.bills)) == ((), 1)


def test_unbilled_then_open_then_closed(worked: WorkedStay) -> None:
    before = closing_of(worked.stay, JUNE_30)
    assert before is not None
    assert before.sentences == ("its keeping is not billed to the end", "9 entries unbilled")
    bill = billed(worked.payer, worked.office)
    worked.stay.refresh_from_db()
    waiting = closing_of(worked.stay, JUNE_30)
    assert waiting is not None
    assert waiting.sentences == ()
    assert [(one.number, one.open_gross) for one in waiting.bills] == [(str(bill.number), D("272.57"))]
    for amount, closed in ((D("152.57"), False), (D("120.00"), True)):
        record_payment(
            party=worked.payer, amount=amount, on=JUNE_30, way="bank", at=at(30, 18), by=worked.office
        )
        after = closing_of(worked.stay, JUNE_30)
        assert after is not None
        assert after.closed is closed


def test_the_page_says_it_with_amounts_for_those_who_see_prices(worked: WorkedStay) -> None:
    grower = PersonFactory(grower=True)
    assert "9 entries unbilled" in page(worked, grower)
    bill = billed(worked.payer, worked.office)
    record_payment(
        party=worked.payer, amount=D("152.57"), on=JUNE_30, way="bank", at=at(30, 18), by=worked.office
    )
    assert f">{bill.number}</a> open: €120.00" in page(worked, worked.office)
    told = page(worked, grower)
    assert f"<li>{bill.number} open</li>" in told
    assert "120.00" not in told
    assert f"{bill.number} open: €120.00" in page(worked, PersonFactory(grower=True, may_see_prices=True))
    record_payment(
        party=worked.payer, amount=D("120.00"), on=JUNE_30, way="bank", at=at(30, 19), by=worked.office
    )
    assert "closed: all of it is billed, and the bills are settled" in page(worked, grower)


def test_work_that_waits_for_a_word_keeps_it_open(worked: WorkedStay) -> None:
    billed(worked.payer, worked.office)
    entry = TimeEntry.objects.filter(stay=worked.stay).first()
    assert entry is not None
    TimeEntry.objects.filter(pk=entry.pk).update(confirmed_at=None)
    worked.stay.refresh_from_db()
    told = closing_of(worked.stay, JUNE_30)
    assert told is not None
    assert told.sentences == ("1 piece of work waits to be confirmed",)


def test_a_price_that_is_missing_keeps_it_open(worked: WorkedStay) -> None:
    VatRate.objects.all().delete()
    told = closing_of(worked.stay, JUNE_30)
    assert told is not None
    assert told.keeping_unbilled


def test_two_payers_get_a_bill_each_and_both_must_be_settled() -> None:
    """The owner pays the keeping; a firm named as payer of the tree from 5 June pays the work from then on."""
    owner, office, grower = a_customer(), PersonFactory(office=True), PersonFactory(grower=True)
    tree = a_tree_of(owner)
    stay = StayFactory(owner=owner, tree=tree)
    firm = PartyFactory(name="Slievefinn Garden Design Ltd")
    AddressFactory(party=firm)
    PartyLink.objects.create(tree=tree, party=firm, role="payer", since_on=dt.date(2026, 6, 5))
    scrub = ActivityFactory(code="scrub", order=1)
    clocked(tree, grower, scrub, at(4), 30)
    clocked(tree, grower, scrub, at(8), 60)
    stay.state, stay.left_at = StayState.HANDED_BACK, at(29)
    stay.save(update_fields=["state", "left_at"])
    assert {(row.payer, row.quantity) for row in LedgerEntry.objects.all()} == {(owner, 30), (firm, 60)}
    bills = {payer: billed(payer, office) for payer in (owner, firm)}
    # Class 2: intake 12.00, 26 nights 25.50, packing 9.50, 30 min 21.00; the firm 60 min 42.00.
    assert (bills[owner].net, bills[firm].net) == (D("68.00"), D("42.00"))
    for payer, left in ((owner, 1), (firm, 0)):
        record_payment(
            party=payer, amount=bills[payer].gross, on=JUNE_30, way="bank", at=at(30, 18), by=office
        )
        stay.refresh_from_db()
        told = closing_of(stay, JUNE_30)
        assert told is not None
        assert (told.sentences, len(told.bills)) == ((), left)


def test_work_of_the_last_day_counts_as_unbilled() -> None:
    owner, grower = a_customer(), PersonFactory(grower=True)
    tree = a_tree_of(owner)
    stay = StayFactory(owner=owner, tree=tree)
    entry = start_clock(
        person=grower, tree=tree, activity=ActivityFactory(code="scrub"), at=at(29, 8), client_id=uuid.uuid4()
    )
    stop_clock(entry=entry, at=at(29, 9), by=grower)
    stay.state, stay.left_at, stay.final_bill = StayState.HANDED_BACK, at(29, 10), "I-2026-0001"
    told = closing_of(stay, dt.date(2026, 6, 29))
    assert told is not None
    assert told.sentences == ("1 entry unbilled",)
