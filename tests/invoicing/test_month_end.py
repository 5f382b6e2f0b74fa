"""Month end: drawn up, looked through, issued in parts, stopped and gone on with; no fact billed twice."""

import datetime as dt
from decimal import Decimal as D

import pytest
from django.core import mail
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from invoicing.actions import month_end
from invoicing.actions.drafts import discard
from invoicing.actions.payments import record_payment
from invoicing.models import Invoice, InvoiceAccount, LineEntry, MonthEnd
from invoicing.overviews.month_end import month_end_page
from nursery import jobs
from nursery.models import AuditRow, PaperMail
from nursery.refusals import Refused
from tests.factories import AddressFactory, PartyFactory, PersonFactory
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JUNE_30, JULY_1 = dt.date(2026, 6, 30), dt.date(2026, 7, 1)
WHEN = at(1, 9, month=7)
KINDS = (month_end.DRAW, month_end.ISSUE)


@pytest.fixture
def office():
    return PersonFactory(office=True)


@pytest.fixture
def payers(time_machine):
    """Three payers, each with a tree of class 2 since 3 June: 12.00 intake, 25.50 for 28 nights, VAT 8.63: 46.13."""
    time_machine.move_to(WHEN, tick=False)
    first = a_customer("Aine Dolan")
    others = [PartyFactory(name="Brian Egan"), PartyFactory(name="Clodagh Finn")]
    for one in others:
        AddressFactory(party=one)
    for one in (first, *others):
        StayFactory(owner=one)
    return [first, *others]


def drawn(office):
    run = month_end.begin(closing_on=JUNE_30, at=WHEN, by=office)
    jobs.drain(KINDS)
    run.refresh_from_db()
    return run


def ask(run, office, *, without=(), on=JULY_1):
    seen = {one.pk: one.fingerprint for one in month_end_page(run).to_issue if one.payer not in without}
    count = month_end.ask_to_issue(run=run, seen=seen, on=on, at=WHEN, by=office)
    run.refresh_from_db()
    return count


def refused(code):
    return pytest.raises(Refused, check=lambda refusal: refusal.code == code)


def issued_numbers():
    return list(
        Invoice.objects.exclude(number=None).order_by("number").values_list("number", "payer__name", "gross")
    )


def test_everybody_is_drawn_up_and_nothing_is_issued(office, payers):
    run = drawn(office)
    page = month_end_page(run)
    assert [(one.payer.name, one.gross) for one in page.to_issue] == [
        ("Aine Dolan", D("46.13")), ("Brian Egan", D("46.13")), ("Clodagh Finn", D("46.13"))
    ]  # fmt: skip
    assert page.gross == D("138.39")
    assert issued_numbers() == []
    assert AuditRow.objects.filter(verb="began a month end", by=office).count() == 1


def test_what_is_ticked_is_issued_in_a_row_and_the_run_is_over(office, payers):
    run = drawn(office)
    assert ask(run, office) == 3
    jobs.drain(KINDS)
    run.refresh_from_db()
    assert issued_numbers() == [
        ("I-2026-0001", "Aine Dolan", D("46.13")),
        ("I-2026-0002", "Brian Egan", D("46.13")),
        ("I-2026-0003", "Clodagh Finn", D("46.13")),
    ]
    assert run.ended_at is not None
    assert set(Invoice.objects.values_list("issued_on", flat=True)) == {JULY_1}


def test_what_is_not_ticked_stays_a_draft(office, payers):
    run = drawn(office)
    ask(run, office, without=[payers[1]])
    jobs.drain(KINDS)
    run.refresh_from_db()
    assert [name for _, name, _ in issued_numbers()] == ["Aine Dolan", "Clodagh Finn"]
    assert Invoice.objects.get(payer=payers[1]).is_draft
    assert (run.ended_at, run.is_issuing) == (None, False)


def test_it_is_stopped_after_the_bill_in_hand_and_gone_on_with(office, payers):
    run = drawn(office)
    ask(run, office)
    month_end.issue_one(bill_pk=month_end.waiting(run)[0].pk, at=WHEN)
    month_end.stop(run=run, at=WHEN, by=office)
    jobs.drain(KINDS)
    run.refresh_from_db()
    assert [name for _, name, _ in issued_numbers()] == ["Aine Dolan"]
    progress = month_end_page(run).progress
    assert (progress.chosen, progress.issued, progress.waiting) == (3, 1, 2)
    assert ask(run, office) == 2
    jobs.drain(KINDS)
    assert [number for number, _, _ in issued_numbers()] == ["I-2026-0001", "I-2026-0002", "I-2026-0003"]


def test_what_changed_meanwhile_stays_a_draft_and_says_so(office, payers):
    run = drawn(office)
    ask(run, office)
    EntryFactory(stay=payers[1].stays_paid.get(), day=dt.date(2026, 6, 20))
    jobs.drain(KINDS)
    run.refresh_from_db()
    page = month_end_page(run)
    assert [name for _, name, _ in issued_numbers()] == ["Aine Dolan", "Clodagh Finn"]
    assert [(one.payer.name, one.problem[:20]) for one in page.left] == [
        ("Brian Egan", "Draw it up again: th")
    ]
    assert run.stopped_at is not None


def test_drawn_up_again_it_says_what_changed(office, payers):
    run = drawn(office)
    assert [one.changed for one in month_end_page(run).to_issue] == [[], [], []]
    EntryFactory(stay=payers[1].stays_paid.get(), day=dt.date(2026, 6, 20))
    month_end.draw_again(run=run, at=WHEN + dt.timedelta(hours=1), by=office)
    jobs.drain(KINDS)
    told = {one.payer.name: one.changed for one in month_end_page(run).to_issue}
    (sentence,) = told.pop("Brian Egan")
    assert sentence.endswith(", new, 10.50")
    assert told == {"Aine Dolan": [], "Clodagh Finn": []}


@pytest.mark.parametrize(
    ("before", "now", "told"),
    [
        ([], [["A", "Intake", "12.00"]], []),
        ([["A", "Intake", "12.00"]], [["A", "Intake", "12.00"]], []),
        ([["A", "Intake", "12.00"]], [["A", "Intake", "14.00"]], ["A: Intake, 12.00 before, now 14.00"]),
        ([["A", "Intake", "12.00"]], [["B", "Wire", "1.00"]], ["B: Wire, new, 1.00", "A: Intake, gone"]),
    ],
)
def test_changes_in_words(before, now, told):
    assert month_end.changes(before, now) == told


def test_who_has_no_address_cannot_be_billed_yet(office, payers):
    lost = PartyFactory(name="Dara Gill")
    StayFactory(owner=lost)
    page = month_end_page(drawn(office))
    (left,) = page.left
    assert (left.payer, left.chosen) == (lost, False)
    assert left.problem.startswith("Dara Gill has no address, and an invoice must bear one")


def test_a_draft_discarded_meanwhile_is_not_issued(office, payers):
    run = drawn(office)
    ask(run, office)
    discard(invoice=Invoice.objects.get(payer=payers[0]), at=WHEN, by=office)
    jobs.drain(KINDS)
    assert [name for _, name, _ in issued_numbers()] == ["Brian Egan", "Clodagh Finn"]
    assert [one.problem for one in month_end_page(run).left] == [
        "Its draft was discarded; draw the month end up again."
    ]


def test_a_bill_looked_at_before_it_was_drawn_anew_is_not_chosen(office, payers):
    run = drawn(office)
    seen = {one.pk: one.fingerprint for one in month_end_page(run).to_issue}
    stale = min(seen)
    assert month_end.ask_to_issue(run=run, seen=seen | {stale: "another"}, on=JULY_1, at=WHEN, by=office) == 2


def test_the_same_part_twice_bills_nothing_twice(office, payers):
    for payer in payers:
        EntryFactory(stay=payer.stays_paid.get())
    run = drawn(office)
    ask(run, office)
    for _ in range(2):
        month_end.issue_part(run_pk=run.pk, at=WHEN)
    assert len(issued_numbers()) == 3
    assert LineEntry.objects.count() == 3


def test_a_second_month_end_of_the_same_day_is_refused(office, payers):
    run = drawn(office)
    with refused("begun-already"):
        month_end.begin(closing_on=JUNE_30, at=WHEN, by=office)
    with pytest.raises(IntegrityError), transaction.atomic():
        MonthEnd.objects.create(closing_on=JUNE_30, begun_at=WHEN, begun_by=office)
    month_end.end(run=run, at=WHEN, by=office)
    with refused("ended"):
        month_end.draw_again(run=run, at=WHEN, by=office)
    assert month_end.begin(closing_on=JUNE_30, at=WHEN, by=office).pk != run.pk


@pytest.mark.parametrize(
    ("on", "code"), [(dt.date(2026, 7, 2), "future"), (dt.date(2026, 6, 29), "before-closing-day")]
)
def test_the_day_of_the_bills_is_checked(office, payers, on, code):
    run = drawn(office)
    with refused(code):
        ask(run, office, on=on)


def test_what_cannot_be_asked_for_now(office, payers):
    with refused("future"):
        month_end.begin(closing_on=dt.date(2026, 7, 2), at=WHEN, by=office)
    run = month_end.begin(closing_on=JUNE_30, at=WHEN, by=office)
    with refused("being-drawn"):
        month_end.ask_to_issue(run=run, seen={}, on=JULY_1, at=WHEN, by=office)
    jobs.drain(KINDS)
    with refused("nothing-chosen"):
        month_end.ask_to_issue(run=run, seen={}, on=JULY_1, at=WHEN, by=office)
    with refused("not-being-issued"):
        month_end.stop(run=run, at=WHEN, by=office)
    ask(run, office)
    for verb in (month_end.end, month_end.draw_again):
        with refused("being-issued"):
            verb(run=run, at=WHEN, by=office)


def test_bills_go_by_mail_to_those_who_want_it_with_their_file(office, payers):
    payers[0].email, payers[0].bills_by_email = "aine@dolan.example", True
    payers[0].save(update_fields=["email", "bills_by_email"])
    payers[1].email = "brian@egan.example"
    payers[1].save(update_fields=["email"])
    run = drawn(office)
    ask(run, office)
    jobs.drain(KINDS)
    assert mail.outbox == []
    jobs.drain()
    (sent,) = mail.outbox
    assert (sent.to, sent.subject) == (["aine@dolan.example"], "Invoice I-2026-0001 of Derrynavail Nursery")
    ((name, data, kind),) = sent.attachments
    assert (name, kind, data[:5]) == ("I-2026-0001.pdf", "application/pdf", b"%PDF-")
    progress = month_end_page(run).progress
    assert (progress.files, progress.mailed, progress.to_mail) == (3, 1, 1)
    assert PaperMail.objects.get().sent_at is not None


def test_a_customer_who_has_died_gets_no_mail(office, payers):
    payers[0].email, payers[0].bills_by_email, payers[0].died_on = "aine@dolan.example", True, JUNE_30
    payers[0].save(update_fields=["email", "bills_by_email", "died_on"])
    ask(drawn(office), office)
    jobs.drain()
    assert (Invoice.objects.exclude(number=None).count(), mail.outbox) == (3, [])


@pytest.mark.parametrize(("use_credit", "paid"), [(True, D("20.00")), (False, D("0.00"))])
def test_money_held_of_a_payer_is_shown_and_set_against_the_bill(office, payers, use_credit, paid):
    record_payment(party=payers[0], amount=D("20.00"), on=JUNE_30, way="bank", at=WHEN, by=office)
    run = drawn(office)
    client = Client()
    client.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("month_end", args=[run.pk])
    assert client.get(url).text.count("€20.00 held as credit") == 1
    ticks = [f"{one.pk}:{one.fingerprint}" for one in month_end_page(run).to_issue]
    told = {"bill": ticks, "issued_on": "2026-07-01"} | ({"use_credit": "on"} if use_credit else {})
    client.post(f"{url}issue/", told)
    jobs.drain(KINDS)
    assert InvoiceAccount.objects.get(party=payers[0]).paid_gross == paid


def test_one_bill_that_goes_wrong_does_not_stop_the_others(office, payers, monkeypatch):
    inner = month_end._issued

    def issued(bill, *told):
        if bill.payer == payers[1]:
            raise ZeroDivisionError
        return inner(bill, *told)

    monkeypatch.setattr(month_end, "_issued", issued)
    run = drawn(office)
    ask(run, office)
    jobs.drain(KINDS)
    assert [name for _, name, _ in issued_numbers()] == ["Aine Dolan", "Clodagh Finn"]
    (left,) = month_end_page(MonthEnd.objects.get(pk=run.pk)).left
    assert (left.payer, left.problem[:20]) == (payers[1], "Something went wrong")


def test_the_page_leads_from_drawing_up_to_issued_bills(office, payers):
    client = Client()
    client.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    page = client.post(reverse("month_ends"), {"closing_on": "2026-06-30"})["Location"]
    assert "Being drawn up." in client.get(page).text
    jobs.drain(KINDS)
    shown = client.get(page)
    assert "3 bills, together \N{EURO SIGN}138.39" in shown.text
    assert "Never billed before" in shown.text
    ticks = [f"{one.pk}:{one.fingerprint}" for one in month_end_page(MonthEnd.objects.get()).to_issue][:2]
    kept = client.post(f"{page}issue/", {"bill": ticks, "issued_on": "2027-01-01"})
    assert kept.text.count(" checked") == 2
    assert "not dated ahead" in kept.text
    told = client.post(f"{page}issue/", {"bill": ticks, "issued_on": "2026-07-01"}, follow=True)
    assert "2 bills are being issued." in told.text
    jobs.drain(KINDS)
    assert "2 of 2" in client.get(page).text
    assert client.get(page, headers={"HX-Request": "true"}).text.count("<html") == 0


def test_a_month_end_costs_the_same_for_many_payers(office, payers, django_assert_num_queries):
    run = MonthEnd.objects.get(pk=drawn(office).pk)
    with django_assert_num_queries(3):
        month_end_page(run)
    for n in range(4):
        more = PartyFactory(name=f"More {n}")
        AddressFactory(party=more)
        StayFactory(owner=more)
    month_end.draw_again(run=run, at=WHEN + dt.timedelta(hours=1), by=office)
    jobs.drain(KINDS)
    with django_assert_num_queries(3):
        assert len(month_end_page(run).to_issue) == 7
