"""Work under a cap on drafts and invoices, through the real actions: every figure to the cent."""

import datetime as dt
import io
import re
from decimal import Decimal

import pytest
from pypdf import PdfReader

from boarding.models import Stay
from care.actions.entries import correct_entry
from care.models import TimeEntry
from invoicing.actions.answers import finish
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import CreditNote, Invoice
from invoicing.overviews.drawn import drawn_for, drawn_for_all, drawn_for_tree
from invoicing.overviews.invoice import invoice_page
from nursery import papers_render
from nursery.models import Paper, Party, Person, VatRate
from tests.estimate_scenes import D, accepted, raised, works
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    a_tree_of,
    as_corrected,
    at,
    clocked,
    worked_stay,
)
from tests.worked_month import billed, worked_month

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JUNE = dt.date(2026, 6, 30)


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def stay(payer: Party) -> Stay:
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))


def draft_of(payer: Party, by: Person, up_to: dt.date = JUNE) -> Invoice:
    when = dt.datetime.combine(up_to, dt.time(22), tzinfo=dt.UTC) + dt.timedelta(hours=3)
    return draw_up(payer=payer, up_to_on=up_to, at=when, by=by)


def issued(payer: Party, by: Person, up_to: dt.date = JUNE) -> Invoice:
    draft = draft_of(payer, by, up_to)
    return issue(
        invoice=draft,
        fingerprint=draft.fingerprint,
        on=up_to + dt.timedelta(days=1),
        at=draft.drawn_at,
        by=by,
    )


def text_of(paper: Paper) -> str:
    reader = PdfReader(io.BytesIO(papers_render.pdf(paper)))
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


def work_of(draft: Invoice) -> list[tuple[str, Decimal, Decimal]]:
    """The lines that were agreed about: words, quantity, net."""
    lines = draft.lines.filter(estimate__isnull=False).order_by("position")
    return [(line.words, line.quantity, line.net) for line in lines]


# ---- the worked month ------------------------------------------------------------------------------------------------


def work_of_d3(stay: Stay, office: Person) -> None:
    """The work of DN-0412 in June with its accepted cap; the shares of rounds as entries of the ledger."""
    work = works()
    soap = MaterialFactory(name="Product", unit="ml", cost_net="38.00", base_quantity=1000)
    accepted(stay, office, materials=[soap])
    for day, activity, quantity in (
        (4, "scrub", 95), (4, "jet", 10), (11, "scrub", 65), (11, "jet", 10), (18, "scrub", 30), (26, "inspect", 15),
    ):  # fmt: skip
        EntryFactory(stay=stay, activity=work[activity], day=dt.date(2026, 6, day), quantity=quantity)
    for day in (5, 12, 19):
        on = dt.date(2026, 6, day)
        EntryFactory(stay=stay, activity=work["spray"], day=on, quantity=D("2.5"))
        EntryFactory(
            stay=stay, kind="material", activity=None, material=soap, day=on, quantity=D("9.2"), unit="ml"
        )
    for day in (4, 11, 18):
        EntryFactory(stay=stay, kind="wash", activity=None, day=dt.date(2026, 6, day), quantity=1, unit="pc")
    EntryFactory(
        stay=stay,
        kind="not_charged",
        activity=work["scrub"],
        quantity=20,
        reason="instruction of a new grower",
    )


def test_the_whole_work_of_d3_is_billed_at_its_cap(stay: Stay, payer: Party, office: Person) -> None:
    """169.31 at rates, 14.00 not charged, 5.31 above the cap of 150.00."""
    work_of_d3(stay, office)
    assert work_of(draft_of(payer, office)) == [
        ("Scrubbing (95 + 65 + 30)", D("190.0"), D("133.00")),
        ("Jetting (10 + 10)", D("20.0"), D("14.00")),
        ("Spraying (2.5 + 2.5 + 2.5)", D("7.5"), D("6.00")),
        ("Product", D("27.6"), D("1.31")),
        ("Wash material", D("3.0"), D("4.50")),
        ("Inspection", D("15.0"), D("10.50")),
        ("Not charged: instruction of a new grower", D("-20.0"), D("-14.00")),
        ("Above agreed cap of 150.00, not charged", D("-1.0"), D("-5.31")),
    ]
    assert sum(net for _, _, net in work_of(draft_of(payer, office))) == D("150.00")


def test_print_page_and_unbilled_say_the_sums_between_the_lines(
    stay: Stay, payer: Party, office: Person
) -> None:
    work_of_d3(stay, office)
    at_rates, before_cap = ("Work at rates", D("169.31")), ("Work before cap", D("155.31"))
    (unbilled,) = drawn_for_tree(stay.tree, up_to_on=JUNE, work_before=dt.date(2026, 7, 1))
    assert [tuple(one) for _, sums in unbilled.trees[0].rows for one in sums] == [at_rates, before_cap]
    bill = issued(payer, office)
    (tree,) = invoice_page(bill, JUNE).trees
    shown = [(one.line.words.split(":")[0], [tuple(sum_of) for sum_of in one.sums]) for one in tree.lines]
    assert ("Inspection", [at_rates]) in shown
    assert ("Not charged", [before_cap]) in shown
    text = text_of(bill.paper)
    assert "Work at rates 169.31" in text
    assert "Work before cap 155.31" in text
    assert "Above agreed cap of 150.00, not charged" in text
    assert (
        "Agreed: Estimate with cap E-2026-0001 of Wed 3 June 2026, accepted by Nuala Brackenridge on Wed 3 June 2026."
        in text
    )
    behind = next(one.facts for one in tree.lines if one.line.kind == "above_cap")
    assert [fact.words for fact in behind] == [
        "Nuala Brackenridge agreed to E-2026-0001, 150.00 without VAT, in person"
    ]


def test_the_worked_stay_through_every_action_stays_under_its_cap() -> None:
    """Without the rounds: 133.00 + 14.00 + 4.50 + 10.50 = 162.00; a cap of 150.00 leaves 12.00 out."""
    done = worked_stay(on_arrival=accepted)
    draft = draw_up(payer=done.payer, up_to_on=dt.date(2026, 6, 29), at=at(29, 16), by=done.office)
    assert sum(net for _, _, net in work_of(draft)) == D("150.00")


# ---- edge cases ------------------------------------------------------------------------------------------------------


def scene_of_c50(stay: Stay, office: Person) -> tuple[object, Person]:
    """142.00 of 150.00 used before 9 June: 200 min of jetting and 2.00 of tape."""
    tape = MaterialFactory(name="Tape", cost_net="1.60")
    version = accepted(stay, office, materials=[tape])
    EntryFactory(stay=stay, activity=works()["jet"], quantity=200)
    EntryFactory(stay=stay, kind="material", activity=None, material=tape, quantity=1, unit="pc")
    return version, PersonFactory(first_name="Aoife")


def test_c50_what_is_above_the_cap_is_not_charged(stay: Stay, payer: Party, office: Person) -> None:
    _, grower = scene_of_c50(stay, office)
    clocked(stay.tree, grower, works()["jet"], at(9), 30)
    assert work_of(draft_of(payer, office)) == [
        ("Jetting (200 + 30)", D("230.0"), D("161.00")),
        ("Tape", D("1.0"), D("2.00")),
        ("Above agreed cap of 150.00, not charged", D("-1.0"), D("-13.00")),
    ]


def test_c50_a_raise_at_minute_20_covers_work_from_then_on(stay: Stay, payer: Party, office: Person) -> None:
    """8.00 + 7.00 = 15.00 of that day is charged, 6.00 lies above the cap."""
    version, grower = scene_of_c50(stay, office)
    clocked(stay.tree, grower, works()["jet"], at(9), 30)
    raised(version, "180.00", office, at(9, 9, 20))
    lines = work_of(draft_of(payer, office))
    assert lines[-1] == ("Above agreed cap of 180.00, not charged", D("-1.0"), D("-6.00"))
    assert sum(net for _, _, net in lines) == D("157.00")


def test_c50_a_raise_that_names_the_earlier_work_covers_it(stay: Stay, payer: Party, office: Person) -> None:
    version, grower = scene_of_c50(stay, office)
    clocked(stay.tree, grower, works()["jet"], at(9), 30)
    raised(version, "180.00", office, at(9, 9, 20), covers_from_on=dt.date(2026, 6, 9))
    assert sum(net for _, _, net in work_of(draft_of(payer, office))) == D("163.00")


def scene_of_c49(stay: Stay, payer: Party, office: Person) -> TimeEntry:
    """Work of 155.31 capped at 150.00 and billed; the 95 minutes of 4 June were 59."""
    soap = MaterialFactory(name="Product", unit="ml", cost_net="38.00", base_quantity=1000)
    accepted(stay, office, materials=[soap])
    grower, work = PersonFactory(first_name="Aoife"), works()
    clocked(stay.tree, grower, ActivityFactory(code="jet"), at(4), 95)
    EntryFactory(stay=stay, activity=work["jet"], day=dt.date(2026, 6, 11), quantity=115)
    EntryFactory(
        stay=stay, kind="material", activity=None, material=soap, day=dt.date(2026, 6, 12), quantity=D("27.6"),
        unit="ml",
    )  # fmt: skip
    EntryFactory(stay=stay, activity=work["spray"], day=dt.date(2026, 6, 12), quantity=D("8.8"))
    bill = issued(payer, office)
    assert sum(net for _, _, net in work_of(bill)) == D("150.00")
    assert work_of(bill)[-1] == ("Above agreed cap of 150.00, not charged", D("-1.0"), D("-5.35"))
    return TimeEntry.objects.get()


def test_c49_the_whole_capped_job_is_recomputed(stay: Stay, payer: Party, office: Person) -> None:
    """24.50 at face value, but only what the corrected work stays below the cap is given back."""
    entry = scene_of_c49(stay, payer, office)
    correct_entry(
        entry=entry, started_at=at(4), stopped_at=at(4, 9, 59), why="The clock ran on", at=at(2, month=7),
        by=PersonFactory(proprietor=True),
    )  # fmt: skip
    (drawn,) = drawn_for_tree(stay.tree, up_to_on=dt.date(2026, 7, 2), work_before=dt.date(2026, 7, 3))
    agreed = [(line.words, line.net) for line in drawn.lines if line.estimate_id]
    assert agreed == [
        ("Jetting", D("-24.50")),
        ("Left out above the cap before, within the cap of 150.00 now", D("5.35")),
    ]


@pytest.mark.parametrize(("minutes", "goes_back"), [(59, True), (91, False)])
def test_the_credit_form_offers_the_whole_capped_job_recomputed(
    minutes: int, goes_back: bool, client, time_machine
) -> None:
    """The worked month: 155.31 capped at 150.00. With 60 minutes instead of 95 the work is 130.81, and 19.19 + 4.41 go
    back, not 24.50 + 5.64; with 90 it is 151.81, still above the cap, and nothing goes back. Own rule, no source."""
    month = worked_month()
    bill = billed(month, 47, at(30, 20))
    above = bill.lines.get(kind="above_cap").pk
    correct_entry(
        entry=TimeEntry.objects.get(tree=month.olive.tree, started_at=at(4, 7)), started_at=at(4, 7),
        stopped_at=at(4, 7) + dt.timedelta(minutes=minutes), why="The clock ran on",
        at=at(2, month=7), by=PersonFactory(proprietor=True),
    )  # fmt: skip
    time_machine.move_to(at(3, month=7), tick=False)
    client.force_login(month.office, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(f"/invoices/{bill.pk}/credit/").text
    if not goes_back:
        assert "and still reaches the cap: what was billed stays." in page
        assert "What the corrected work says" not in page
        assert as_corrected(bill) == {}
        return
    assert as_corrected(bill)[above] == D("1.0")
    told = {"corrected": "on", "reason": "The clock ran on.", "issued_on": "2026-07-03"}
    asked = client.post(f"/invoices/{bill.pk}/credit/", told).text
    assert "over €23.60" in asked
    client.post(f"/invoices/{bill.pk}/credit/", told | {"gross": "23.60"})
    note = CreditNote.objects.get()
    assert (note.net, note.tax, note.gross) == (D("19.19"), D("4.41"), D("23.60"))
    assert [(line.quantity, line.net) for line in note.lines.order_by("position")] == [
        (D("35.0"), D("24.50")), (D("-1.0"), D("-5.31")),
    ]  # fmt: skip
    later = drawn_for_tree(month.olive.tree, up_to_on=dt.date(2026, 7, 3), work_before=dt.date(2026, 7, 4))
    assert [line.words for drawn in later for line in drawn.lines if line.estimate_id] == []


# ---- several bills, several payers -----------------------------------------------------------------------------------


def test_a_second_bill_takes_the_whole_job_less_what_was_billed(
    stay: Stay, payer: Party, office: Person
) -> None:
    accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=180)
    first = issued(payer, office, dt.date(2026, 6, 15))
    assert sum(net for _, _, net in work_of(first)) == D("126.00")
    EntryFactory(stay=stay, activity=works()["jet"], day=dt.date(2026, 6, 20), quantity=60)
    second = draft_of(payer, office)
    assert work_of(second) == [
        ("Jetting", D("60.0"), D("42.00")),
        ("Above agreed cap of 150.00, not charged", D("-1.0"), D("-18.00")),
    ]


def test_a_raise_for_earlier_work_brings_back_what_was_left_out_of_the_bill_before(
    stay: Stay, payer: Party, office: Person
) -> None:
    version = accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    first = issued(payer, office, dt.date(2026, 6, 15))
    assert sum(net for _, _, net in work_of(first)) == D("150.00")
    raised(version, "180.00", office, at(20), covers_from_on=dt.date(2026, 6, 4))
    assert work_of(draft_of(payer, office)) == [
        ("Left out above the cap before, within the cap of 180.00 now", D("1.0"), D("11.00"))
    ]


def test_a_raise_from_then_on_leaves_earlier_work_out(stay: Stay, payer: Party, office: Person) -> None:
    version = accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    issued(payer, office, dt.date(2026, 6, 15))
    raised(version, "180.00", office, at(20))
    assert work_of(draft_of(payer, office)) == []


def test_what_the_cap_does_not_cover_stands_outside_it(stay: Stay, payer: Party, office: Person) -> None:
    accepted(stay, office)
    wiring = ActivityFactory(code="wire", name="Wiring", rate_group="wire")
    EntryFactory(stay=stay, activity=wiring, quantity=150)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    draft = draft_of(payer, office)
    assert draft.lines.get(words="Wiring").estimate is None
    assert sum(net for _, _, net in work_of(draft)) == D("150.00")
    assert draft.net == D("12.00") + D("25.50") + D("145.00") + D("150.00")


def test_two_payers_together_are_billed_no_more_than_the_cap(
    stay: Stay, payer: Party, office: Person
) -> None:
    firm = a_customer("Bog Road Gardens", kind="business")
    accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=150)
    EntryFactory(stay=stay, activity=works()["scrub"], quantity=90, payer=firm, day=dt.date(2026, 6, 9))
    EntryFactory(stay=stay, activity=works()["jet"], quantity=10, day=dt.date(2026, 6, 12))
    assert sum(net for _, _, net in work_of(draft_of(payer, office))) == D("105.00")
    assert sum(net for _, _, net in work_of(draft_of(firm, office))) == D("45.00")
    issued(firm, office)
    assert sum(net for _, _, net in work_of(draft_of(payer, office))) == D("105.00")


def test_work_of_two_vat_rates_is_left_out_of_each_as_it_is(stay: Stay, payer: Party, office: Person) -> None:
    from_a_pot = MaterialFactory(name="Accent plant", cost_net="32.00", vat_key="R")
    accepted(stay, office, materials=[from_a_pot])
    VatRate.objects.create(key="R", valid_from=dt.date(2020, 1, 1), percent="13.5")
    EntryFactory(stay=stay, activity=works()["jet"], quantity=200)
    EntryFactory(stay=stay, kind="material", activity=None, material=from_a_pot, quantity=1, unit="pc")
    left = draft_of(payer, office).lines.filter(kind="above_cap").order_by("position")
    assert [(line.vat_key, line.net) for line in left] == [("S", D("-23.33")), ("R", D("-6.67"))]


def test_no_cap_no_change(stay: Stay, payer: Party, office: Person) -> None:
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    accepted(stay, office, kind="estimate", agreed_net=None)
    assert work_of(draft_of(payer, office)) == []
    assert draft_of(payer, office).net == D("198.50")


# ---- at a fixed price ------------------------------------------------------------------------------------------------


def test_a_fixed_price_is_billed_once_the_work_is_finished(stay: Stay, payer: Party, office: Person) -> None:
    version = accepted(stay, office, kind="fixed")
    entry = EntryFactory(stay=stay, activity=works()["jet"], quantity=60)
    assert work_of(draft_of(payer, office)) == []
    finish(estimate=version.estimate, on=dt.date(2026, 6, 20), at=at(20), by=office)
    bill = issued(payer, office)
    assert work_of(bill) == [
        ("Treatment against soft scale, fixed price as quoted in E-2026-0001", D("1.0"), D("150.00"))
    ]
    entry.refresh_from_db()
    assert entry.lock == bill.number
    EntryFactory(stay=stay, activity=works()["jet"], day=dt.date(2026, 7, 2), quantity=30)
    assert work_of(draft_of(payer, office, dt.date(2026, 7, 5))) == [
        ("Treatment against soft scale, within the fixed price of E-2026-0001", D("1.0"), D("0.00"))
    ]


def test_money_of_an_earlier_day_says_what_was_unbilled_then(
    stay: Stay, payer: Party, office: Person
) -> None:
    accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=230)
    day = dt.date(2026, 6, 15)
    before = drawn_for(payer, up_to_on=day, work_before=day).gross
    issued(payer, office, dt.date(2026, 6, 16))
    (then,) = drawn_for_all(up_to_on=day, work_before=dt.date(2026, 7, 1), as_at=day)
    assert then.gross == before
