"""A bill taken back whole and billed anew, where more hangs on it: other payers, agreements, securities, months."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db.models import Sum
from django.urls import reverse

from boarding.models import Stay
from care.actions.entries import correct_entry
from care.models import LedgerEntry, TimeEntry
from invoicing.actions import month_end
from invoicing.actions.answers import finish
from invoicing.actions.customers import agree_price
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.goodwill import give_goodwill
from invoicing.actions.late_interest import add_terms, keep_interest
from invoicing.actions.payments import record_payment
from invoicing.actions.reminding import change_rules, remind
from invoicing.actions.securities import take_security
from invoicing.models import CreditNote, Goodwill, Invoice, InvoiceAccount, MonthEndBill, PaymentAccount
from invoicing.overviews.drawn import drawn_for_all
from invoicing.overviews.reminding import to_remind
from nursery.models import Nursery, Party, Person
from nursery.refusals import Refused
from tests.estimate_scenes import accepted, works
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    EntryFactory,
    StayFactory,
    WorkedStay,
    a_customer,
    a_tree_of,
    at,
    worked_stay,
)
from tests.invoicing.test_billing_anew import billed, figures, taken_back

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
JUNE_3, JUNE_29, JUNE_30, JULY_2 = (
    dt.date(2026, 6, 3), dt.date(2026, 6, 29), dt.date(2026, 6, 30), dt.date(2026, 7, 2),
)  # fmt: skip


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def firm(office: Person) -> Party:
    return a_customer("Bog Road Gardens", kind="business")


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"), size_class=3)


@pytest.fixture
def worked() -> WorkedStay:
    return worked_stay()


def scrubbed_to(minute: int, when: dt.datetime) -> None:
    """The second scrub, charged 65 minutes, is corrected to end at another minute after 7 or 8 o'clock."""
    correct_entry(
        entry=TimeEntry.objects.get(activity__code="scrub", started_at=at(11, 7)), started_at=at(11, 7),
        stopped_at=at(11, 7) + dt.timedelta(minutes=minute), why="Clock left running", at=when,
        by=PersonFactory(proprietor=True),
    )  # fmt: skip


def waiting() -> list[tuple[str, Decimal]]:
    rows = LedgerEntry.objects.filter(lock="").exclude(quantity=0)
    return list(rows.values_list("payer__name", "quantity"))


# ---- another customer ------------------------------------------------------------------------------------------------


def test_a_correction_that_waits_goes_with_its_work(worked: WorkedStay, firm: Party) -> None:
    bill = billed(worked.payer, worked.office, JUNE_29)
    scrubbed_to(40, at(1, 9, month=7))
    taken_back(bill, worked.office, bill_to=firm)
    anew = billed(firm, worked.office, JUNE_29, at(3, month=7))
    assert (anew.net, anew.lines.get(words__startswith="Scrubbing").words) == (
        D("204.10"),
        "Scrubbing (95 + 40 + 30)",
    )


@pytest.mark.parametrize(("minute", "minutes"), [(40, "-25.0"), (100, "35.0")])
def test_work_corrected_later_is_the_new_customers(
    worked: WorkedStay, firm: Party, minute: int, minutes: str
) -> None:
    bill = billed(worked.payer, worked.office, JUNE_29)
    taken_back(bill, worked.office, bill_to=firm)
    billed(firm, worked.office, JUNE_29, at(3, month=7))
    scrubbed_to(minute, at(4, 9, month=7))
    assert waiting() == [("Bog Road Gardens", D(minutes))]


def test_a_fixed_price_without_measured_work_goes_with_it(stay: Stay, firm: Party, office: Person) -> None:
    version = accepted(stay, office, kind="fixed")
    finish(estimate=version.estimate, on=dt.date(2026, 6, 12), at=at(12), by=office)
    bill = billed(stay.payer, office, JUNE_30)
    taken_back(bill, office, bill_to=firm)
    assert figures(billed(firm, office, JUNE_30, at(3, month=7))) == figures(bill)


def test_a_stay_billed_in_parts_goes_as_a_whole(stay: Stay, firm: Party, office: Person) -> None:
    """28 nights and 11 more of class 3; the firm pays half: 62.75 less 50 % is 31.38 instead of -12.45."""
    agree_price(
        party=firm, what="boarding", percent_off=D(50), since_on=dt.date(2026, 1, 1), reason="By contract", at=at(1),
        by=office,
    )  # fmt: skip
    payer = stay.payer
    first, second = billed(payer, office, JUNE_30), billed(payer, office, dt.date(2026, 7, 11))
    with pytest.raises(Refused) as refused:
        taken_back(second, office, at(12, 10, month=7), bill_to=firm, on=dt.date(2026, 7, 12))
    assert (refused.value.code, refused.value.field) == ("billed-before", "bill_to")
    taken_back(second, office, at(12, 10, month=7), on=dt.date(2026, 7, 12))
    EntryFactory(stay=stay, activity=works()["jet"], quantity=60, payer=payer)
    taken_back(first, office, at(12, 11, month=7), on=dt.date(2026, 7, 12), bill_to=firm)
    whole = billed(firm, office, dt.date(2026, 7, 11), at(13, month=7))
    assert [(line.kind, line.net) for line in whole.lines.order_by("position")] == [
        ("intake", D("12.00")), ("boarding", D("31.38")),
    ]  # fmt: skip
    assert waiting() == [(payer.name, D("60.0"))]  # work that stood on neither bill stays where it was


def test_work_of_a_later_bill_goes_with_the_stay(stay: Stay, firm: Party, office: Person) -> None:
    first = billed(stay.payer, office, JUNE_29)
    EntryFactory(stay=stay, activity=works()["jet"], day=JUNE_30, quantity=60)
    second = billed(stay.payer, office, JULY_2)
    taken_back(second, office, at(2, 21, month=7))
    taken_back(first, office, at(2, 22, month=7), bill_to=firm)
    assert waiting() == [("Bog Road Gardens", D("60.0"))]


def test_money_as_at_an_earlier_day_names_who_paid_then(stay: Stay, firm: Party, office: Person) -> None:
    bill, day = billed(stay.payer, office, JUNE_30), dt.date(2026, 6, 20)
    taken_back(bill, office, bill_to=firm)
    then = drawn_for_all(up_to_on=day, work_before=day + dt.timedelta(days=1), as_at=day)
    now = drawn_for_all(up_to_on=JULY_2, work_before=JULY_2)
    assert ([one.payer.name for one in then], [one.payer.name for one in now]) == (
        ["Nuala Brackenridge"], ["Bog Road Gardens"],
    )  # fmt: skip


# ---- what does not hang on it ----------------------------------------------------------------------------------------


def test_another_payers_bill_of_the_tree_is_not_in_the_way(stay: Stay, firm: Party, office: Person) -> None:
    bill = billed(stay.payer, office, JUNE_29)
    EntryFactory(stay=stay, payer=firm, activity=works()["jet"], quantity=60)
    billed(firm, office, JUNE_30)
    assert taken_back(bill, office).bills_anew


def test_two_bills_of_one_tree_issued_by_one_month_end_both_go_back(
    stay: Stay, firm: Party, office: Person
) -> None:
    EntryFactory(stay=stay, payer=firm, activity=works()["jet"], quantity=60)
    run = month_end.begin(closing_on=JUNE_30, at=at(30, 20), by=office)
    month_end.draw_all(run_pk=run.pk, at=at(30, 20))
    month_end.drawn_up(run_pk=run.pk, at=at(30, 20))
    seen = dict(MonthEndBill.objects.values_list("pk", "fingerprint"))
    month_end.ask_to_issue(run=run, seen=seen, on=JUNE_30, at=at(30, 21), by=office)
    month_end.issue_part(run_pk=run.pk, at=at(30, 21))
    first, second = Invoice.objects.order_by("number")
    for bill in (first, second):
        taken_back(bill, office)
    assert CreditNote.objects.filter(bills_anew=True).count() == 2


# ---- with agreements -------------------------------------------------------------------------------------------------


def test_a_cap_starts_again_where_the_bills_that_stand_left_it(stay: Stay, office: Person) -> None:
    """126.00 of 150.00 stand on the first bill; the second one, 42.00 less 18.00 above the cap, is taken back."""
    accepted(stay, office)
    EntryFactory(stay=stay, activity=works()["jet"], quantity=180)
    billed(stay.payer, office, dt.date(2026, 6, 15))
    EntryFactory(stay=stay, activity=works()["jet"], day=dt.date(2026, 6, 20), quantity=60)
    second = billed(stay.payer, office, JUNE_30)
    taken_back(second, office)
    anew = billed(stay.payer, office, JUNE_30, at(3, month=7))
    assert figures(anew) == figures(second)
    of_job = anew.lines.filter(estimate__isnull=False).aggregate(net=Sum("net"))
    assert of_job["net"] == D("24.00")
    assert [one["invoice"] for one in anew.paper.words["replaces"]] == ["I-2026-0002"]
    later = billed(stay.payer, office, dt.date(2026, 7, 9), at(9, 20, month=7))
    assert later.paper.words["replaces"] == []


def test_a_fixed_price_is_owed_again(stay: Stay, office: Person) -> None:
    version = accepted(stay, office, kind="fixed")
    EntryFactory(stay=stay, activity=works()["jet"], quantity=100)
    finish(estimate=version.estimate, on=dt.date(2026, 6, 12), at=at(12), by=office)
    bill = billed(stay.payer, office, JUNE_30)
    assert bill.lines.get(kind="fixed").net == D("150.00")
    taken_back(bill, office)
    anew = billed(stay.payer, office, JUNE_30, at(3, month=7))
    assert figures(anew) == figures(bill)


def test_goodwill_is_given_once_more_and_counts_once(stay: Stay, office: Person) -> None:
    give_goodwill(stay=stay, payer=stay.payer, amount=D("10.00"), reason="A broken pot", at=at(20), by=office)
    bill = billed(stay.payer, office, JUNE_30)
    taken_back(bill, office)
    assert [(row.amount_net, row.again_of is None) for row in Goodwill.objects.order_by("pk")] == [
        (D("10.00"), True), (D("10.00"), False),
    ]  # fmt: skip
    anew = billed(stay.payer, office, JUNE_30, at(3, month=7))
    assert figures(anew) == figures(bill)
    Nursery.objects.update(goodwill_limit_net=D("11.00"))
    give_goodwill(
        stay=stay, payer=stay.payer, amount=D("1.00"), reason="And a tie", at=at(3, 12, month=7), by=office
    )


# ---- money -----------------------------------------------------------------------------------------------------------


def test_a_security_is_held_again_for_the_bill_that_ends_the_stay(worked: WorkedStay) -> None:
    told = {"amount": D("300.00"), "on": JUNE_3, "way": "card", "at": at(29, 16), "by": worked.office}
    take_security(party=worked.payer, **told)  # type: ignore[arg-type]
    bill = billed(worked.payer, worked.office, JUNE_29)
    taken_back(bill, worked.office)
    holder = PaymentAccount.objects.get()
    assert (holder.is_secured, holder.held_gross) == (True, D("300.00"))
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    assert InvoiceAccount.objects.get(invoice=anew).open_gross == D("0.00")
    assert PaymentAccount.objects.get().held_gross == D("27.43")


def test_a_bill_of_nothing_goes_back_too(stay: Stay, office: Person, client, time_machine) -> None:
    told = {"gross": D("300.00"), "vat_key": "S", "on": JUNE_3, "at": at(3, 12), "by": office}
    ask_deposit(payer=stay.payer, **told)  # type: ignore[arg-type]
    paid = {"amount": D("300.00"), "on": JUNE_3, "way": "bank", "at": at(3, 13), "by": office}
    record_payment(party=stay.payer, **paid)  # type: ignore[arg-type]
    bill = billed(stay.payer, office, JUNE_30)
    assert bill.gross == D("0.00")
    time_machine.move_to(at(2, 10, month=7), tick=False)
    client.force_login(office)
    form = {"anew": "on", "reason": "The order number was missing.", "issued_on": "2026-07-02"}
    url = reverse("invoice_credit", args=[bill.pk])
    assert "over €0.00" in client.post(url, form).text
    assert client.post(url, form | {"gross": "0.00"}).status_code == 302
    note = CreditNote.objects.get()
    assert (note.gross, note.bills_anew) == (D("0.00"), True)
    anew = billed(stay.payer, office, JUNE_30, at(3, month=7))
    assert figures(anew) == figures(bill)
    plain = client.post(reverse("invoice_credit", args=[anew.pk]), form | {"anew": "", "whole": "on"}).text
    assert "a credit note is more than nothing" in plain


def test_no_interest_is_kept_for_a_bill_that_was_given_back(firm: Party, office: Person) -> None:
    owner = PersonFactory(proprietor=True)
    StayFactory(owner=firm)
    bill = billed(firm, office, JUNE_30)
    terms = {
        "valid_from": dt.date(2026, 1, 1), "reference_percent": D("2.15"), "points": D("8"), "lump_sum": D("40.00"),
    }  # fmt: skip
    add_terms(fields=terms, at=at(1), by=owner)
    change_rules(fields={"interest_on": True, "interest_from_level": 1}, at=at(1), by=owner)
    (letter,) = to_remind(dt.date(2026, 8, 20), firm).letters
    remind(party=firm, level=1, asked_seen=letter.asked_gross, at=at(20, 10, month=8), by=office)
    taken_back(bill, office, at(21, 10, month=8), on=dt.date(2026, 8, 21))
    on = dt.date(2026, 8, 22)
    payment = record_payment(party=firm, amount=D(100), on=on, way="bank", at=at(22, 10, month=8), by=office)
    with pytest.raises(Refused) as refused:
        keep_interest(payment=payment, invoice=bill, amount=D("40.00"), at=at(22, 11, month=8), by=office)
    assert refused.value.code == "more-than-asked"


@pytest.mark.parametrize("gross", ["sNaN", "NaN", "Infinity", "1e999999"])
def test_no_sum_is_shown_wrongly(stay: Stay, office: Person, client, time_machine, gross: str) -> None:
    bill = billed(stay.payer, office, JUNE_30)
    time_machine.move_to(at(2, 10, month=7), tick=False)
    client.force_login(office)
    told = {"anew": "on", "reason": "Wrong.", "issued_on": "2026-07-02", "gross": gross}
    assert client.post(reverse("invoice_credit", args=[bill.pk]), told).status_code == 200
    assert not CreditNote.objects.exists()
