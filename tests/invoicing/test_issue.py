"""Issuing: number, frozen words and locks in one transaction, once."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection

from care.models import LedgerEntry
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import Invoice, InvoiceAccount
from nursery import papers
from nursery.actions.parties import change_address
from nursery.models import AuditRow, Job, NumberSeries, Nursery, Paper, Party, Person
from nursery.refusals import Refused
from tests.factories import NurseryFactory, PartyFactory, PersonFactory
from tests.factories_invoicing import ActivityFactory, EntryFactory, StayFactory, a_customer, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
JUNE_30 = dt.date(2026, 6, 30)
NOON = at(30, 11)


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def draft(payer: Party, office: Person) -> Invoice:
    EntryFactory(stay=StayFactory(owner=payer), activity=ActivityFactory(name="Scrubbing"))
    return draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=office)


def press(
    draft: Invoice, by: Person, on: dt.date = JUNE_30, when: dt.datetime = NOON, **more: object
) -> Invoice:
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=by, **more)  # type: ignore[arg-type]


def test_an_issued_invoice_has_number_day_paper_and_both_sides(draft: Invoice, office: Person) -> None:
    bill = press(draft, office)
    bill.refresh_from_db()
    assert (bill.number, bill.issued_on, bill.issued_by) == ("I-2026-0001", JUNE_30, office)
    assert bill.seller["vat_number"] == "IE6388047V"
    assert bill.buyer["name"] == "Nuala Brackenridge"
    assert bill.buyer["lines"] == ["Harbour Road 12", "Wicklow", "Co. Wicklow"]
    assert bill.paper.number == "I-2026-0001"
    assert Job.objects.filter(key=f"{papers.MAKE_FILE}:{bill.paper.pk}").exists()
    assert AuditRow.objects.filter(verb="issued an invoice", by=office, subject_id=str(bill.pk)).count() == 1


@pytest.mark.parametrize(("kind", "days"), [("private", 14), ("business", 30)])
def test_terms_are_those_of_private_people_and_of_businesses(office: Person, kind: str, days: int) -> None:
    payer = a_customer(kind=kind)
    StayFactory(owner=payer)
    bill = press(draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=office), office)
    assert bill.due_on == JUNE_30 + dt.timedelta(days=days)


def test_entries_are_locked_with_the_number_and_a_continuing_stay_is_not_final(
    draft: Invoice, office: Person
) -> None:
    bill = press(draft, office)
    entry = LedgerEntry.objects.get()
    assert entry.lock == bill.number
    assert entry.stay.final_bill == ""


def test_the_second_presser_is_told_and_no_second_number_is_used(draft: Invoice, office: Person) -> None:
    seen_by_other = Invoice.objects.get(pk=draft.pk)
    press(draft, office)
    with pytest.raises(
        Refused, match="These entries are already billed: they stand on invoice I-2026-0001"
    ) as refused:
        press(seen_by_other, PersonFactory(office=True))
    assert refused.value.code == "already-billed"
    assert NumberSeries.objects.get(kind="invoice").last == 1


def test_numbers_follow_one_another(payer: Party, office: Person, draft: Invoice) -> None:
    press(draft, office)
    EntryFactory(stay=StayFactory(owner=payer), day=dt.date(2026, 6, 20))
    second = press(draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=office), office)
    assert second.number == "I-2026-0002"


def test_a_fact_that_changed_since_is_said_and_nothing_is_issued(draft: Invoice, office: Person) -> None:
    LedgerEntry.objects.update(quantity=20)
    with pytest.raises(Refused, match="Draw it up again: these lines changed since") as refused:
        press(draft, office)
    assert refused.value.code == "facts-changed"
    assert "Scrubbing" in refused.value.sentence
    assert not Paper.objects.exists()
    assert not NumberSeries.objects.filter(kind="invoice", last__gt=0).exists()


def test_a_draft_drawn_up_anew_by_somebody_else_is_not_issued_unseen(
    draft: Invoice, payer: Party, office: Person
) -> None:
    EntryFactory(stay=StayFactory(owner=payer))
    draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=PersonFactory(office=True))
    with pytest.raises(Refused, match="drawn up anew since you opened it"):
        press(draft, office)


def test_work_written_after_the_draft_waits_for_the_next_bill(
    draft: Invoice, payer: Party, office: Person
) -> None:
    """The day of the draft was not over then; its work does not make the draft stale the next morning."""
    EntryFactory(stay=LedgerEntry.objects.get().stay, day=JUNE_30)
    assert press(draft, office, on=dt.date(2026, 7, 1), when=at(1, month=7)).number == "I-2026-0001"
    assert LedgerEntry.objects.filter(lock="").count() == 1


def test_a_crash_in_between_leaves_a_draft_and_uses_no_number(
    draft: Invoice, office: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def power_cut(**_: object) -> None:
        raise RuntimeError("power cut")

    monkeypatch.setattr("invoicing.actions.issue.lock_entries", power_cut)
    with pytest.raises(RuntimeError, match="power cut"):
        press(draft, office)
    monkeypatch.undo()
    draft.refresh_from_db()
    assert draft.is_draft
    assert not Paper.objects.exists()
    assert not Job.objects.exists()
    assert not InvoiceAccount.objects.exists()
    assert press(draft, office).number == "I-2026-0001"


@pytest.mark.parametrize(
    ("on", "code"),
    [(dt.date(2026, 7, 1), "future"), (dt.date(2026, 6, 29), "before-closing-day")],
)
def test_the_day_of_the_invoice(draft: Invoice, office: Person, on: dt.date, code: str) -> None:
    with pytest.raises(Refused) as refused:
        press(draft, office, on=on)
    assert (refused.value.code, refused.value.field) == (code, "issued_on")


def test_no_invoice_is_dated_before_the_last_of_its_series(draft: Invoice, office: Person) -> None:
    press(draft, office, on=dt.date(2026, 7, 2), when=at(2, month=7))
    other = a_customer("Una Kehoe")
    StayFactory(owner=other)
    late = draw_up(payer=other, up_to_on=JUNE_30, at=at(2, month=7), by=office)
    with pytest.raises(Refused) as refused:
        press(late, office, on=dt.date(2026, 7, 1), when=at(2, month=7))
    assert (refused.value.code, refused.value.field) == ("back-dated", "issued_on")


def test_december_billed_in_january_is_of_the_new_series(payer: Party, office: Person) -> None:
    StayFactory(owner=payer, received_at=at(20, month=12))
    january_2 = at(2, month=1, year=2027)
    draft = draw_up(payer=payer, up_to_on=dt.date(2026, 12, 31), at=january_2, by=office)
    bill = press(draft, office, on=dt.date(2027, 1, 2), when=january_2)
    assert bill.number == "I-2027-0001"
    assert bill.paper.words["supplied"] == "20\u201331 December 2026"


def test_a_customer_without_address_is_not_billed(office: Person) -> None:
    NurseryFactory()
    payer = PartyFactory(name="Una Kehoe")
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=office)
    with pytest.raises(Refused, match="Una Kehoe has no address, and an invoice must bear one") as refused:
        press(draft, office)
    assert refused.value.code == "no-address"


def test_a_nursery_without_address_bills_nobody(draft: Invoice, office: Person) -> None:
    Nursery.objects.update(street="")
    with pytest.raises(Refused) as refused:
        press(draft, office)
    assert refused.value.code == "no-nursery"


def test_an_old_invoice_keeps_the_old_address_and_names(draft: Invoice, payer: Party, office: Person) -> None:
    bill = press(draft, office)
    moved = {"street": "Quay 1", "town": "Arklow"}
    change_address(party=payer, since_on=dt.date(2026, 7, 1), address=moved, at=at(1, month=7), by=office)
    Party.objects.filter(pk=payer.pk).update(name="Nuala Shine")
    bill.refresh_from_db()
    assert bill.buyer["lines"][0] == "Harbour Road 12"
    assert bill.paper.words["customer"]["name"] == "Nuala Brackenridge"


def test_credit_is_set_against_it_at_once_when_asked(draft: Invoice, payer: Party, office: Person) -> None:
    record_payment(party=payer, amount=D("5.00"), on=JUNE_30, way="bank", at=NOON, by=office)
    bill = press(draft, office, use_credit=True)
    assert bill.account.paid_gross == D("5.00")
    assert bill.paper.words["paid"] == "5.00"


def test_every_cost_of_issuing_is_bounded(draft: Invoice, office: Person) -> None:
    """A bill of many lines asks the database no more often than one of few."""
    few = _queries(draft, office)
    payer = a_customer("Una Kehoe")
    for _ in range(5):
        stay = StayFactory(owner=payer)
        for day in (4, 11, 18):
            EntryFactory(stay=stay, day=dt.date(2026, 6, day))
    many = _queries(draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=office), office)
    assert many <= few


def _queries(draft: Invoice, by: Person) -> int:
    connection.force_debug_cursor = True
    before = len(connection.queries_log)
    try:
        press(draft, by)
        return len(connection.queries_log) - before
    finally:
        connection.force_debug_cursor = False
