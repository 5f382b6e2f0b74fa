"""An invoice with wrong content is taken back whole and billed anew: nothing is lost, nothing is charged twice."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from boarding.models import Stay
from care.actions.entries import correct_entry
from care.models import LedgerEntry, TimeEntry
from invoicing.actions.billing_anew import take_back_to_bill_anew
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.customers import agree_price, treat_vat
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import CreditNote, Invoice, InvoiceLine, ReopenedEntry
from invoicing.overviews.account import account_page
from invoicing.overviews.credits import in_full, reckon
from invoicing.overviews.deposits import deposits_left
from invoicing.overviews.money import credit_of, money_page
from nursery.models import AuditRow, Ownership, Party, Person, VatRate
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    StayFactory,
    WorkedStay,
    a_customer,
    a_tree_of,
    at,
    worked_stay,
)
from tests.worked_month import billed as billed_of_month
from tests.worked_month import worked_month

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
JUNE_29, JUNE_30, JULY_2, JULY_3 = (
    dt.date(2026, 6, 29),
    dt.date(2026, 6, 30),
    dt.date(2026, 7, 2),
    dt.date(2026, 7, 3),
)
FIGURES = (
    "kind",
    "tree_words",
    "words",
    "from_on",
    "until_on",
    "quantity",
    "price_net",
    "net",
    "vat_key",
    "vat_percent",
)


def billed(payer: Party, by: Person, up_to: dt.date, when: dt.datetime | None = None) -> Invoice:
    when = when or at(up_to.day, 20, month=up_to.month)
    draft = draw_up(payer=payer, up_to_on=up_to, at=when, by=by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=when.date(), at=when, by=by)


def taken_back(bill: Invoice, by: Person, when: dt.datetime | None = None, **changes: object) -> CreditNote:
    told = {
        "reason": "The order number was missing.",
        "gross_seen": reckon(bill, in_full(bill)).gross,
        "on": JULY_2,
        "at": when or at(2, 10, month=7),
        "by": by,
    }
    return take_back_to_bill_anew(invoice=bill, **(told | changes))  # type: ignore[arg-type]


def figures(bill: Invoice) -> list[tuple]:
    return list(bill.lines.order_by("position").values_list(*FIGURES))


def facts() -> dict[str, Decimal]:
    """What the ledger adds up to, by fact."""
    found: dict[str, Decimal] = {}
    for row in LedgerEntry.objects.all():
        key = row.source.partition("#")[0]
        found[key] = found.get(key, D(0)) + row.quantity
    return found


@pytest.fixture
def worked() -> WorkedStay:
    """The worked stay, handed back on 29 June: 221.60 net, 50.97 VAT, 272.57."""
    return worked_stay()


@pytest.fixture
def bill(worked: WorkedStay) -> Invoice:
    return billed(worked.payer, worked.office, JUNE_29)


def test_the_new_bill_says_the_same_under_a_new_number(bill: Invoice, worked: WorkedStay) -> None:
    before = facts()
    note = taken_back(bill, worked.office)
    assert (note.number, note.gross, note.bills_anew) == ("C-2026-0001", D("272.57"), True)
    assert Stay.objects.get(pk=worked.stay.pk).final_bill == ""
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    assert (anew.number, anew.gross) == ("I-2026-0002", D("272.57"))
    assert figures(anew) == figures(bill)
    assert facts() == before
    replaced = [{"invoice": "I-2026-0001", "credit": "C-2026-0001"}]
    assert (bill.paper.words["replaces"], anew.paper.words["replaces"]) == ([], replaced)
    assert anew.paper.words["e_invoice"]["earlier"] == [{"number": "I-2026-0001", "on": "2026-06-29"}]
    assert Stay.objects.get(pk=worked.stay.pk).final_bill == "I-2026-0002"
    assert account_page(worked.payer, JULY_3).balance == D("272.57")
    row = AuditRow.objects.get(verb="issued a credit note")
    assert (row.by, row.reason) == (worked.office, "The order number was missing.")


def test_the_worked_month_billed_anew_to_the_cent() -> None:
    """Two trees, shares of rounds, minutes not charged, a cap, a deposit: 649.24 net, and 496.86 to pay again."""
    month = worked_month()
    bill = billed_of_month(month, 47, at(30, 20))
    assert bill.gross == D("496.86")
    taken_back(bill, month.office)
    assert sum(one.left_net for one in deposits_left(month.payer.pk)) == D("243.90")
    anew = billed(month.payer, month.office, JUNE_30, at(3, month=7))
    assert (anew.net, anew.tax, anew.gross) == (bill.net, bill.tax, D("496.86"))
    assert figures(anew) == figures(bill)
    assert len(figures(anew)) == 22
    assert list(anew.taxes.values_list("vat_key", "net", "tax")) == list(
        bill.taxes.values_list("vat_key", "net", "tax")
    )
    assert account_page(month.payer, JULY_3).balance == D("496.86")


def test_what_was_paid_is_held_and_set_against_the_new_bill(bill: Invoice, worked: WorkedStay) -> None:
    told = {
        "party": worked.payer,
        "amount": D("272.57"),
        "on": dt.date(2026, 7, 1),
        "way": "bank",
        "invoice": bill,
    }
    record_payment(**told, at=at(1, month=7), by=worked.office)  # type: ignore[arg-type]
    taken_back(bill, worked.office)
    assert credit_of(worked.payer) == D("272.57")
    draft = draw_up(payer=worked.payer, up_to_on=JUNE_29, at=at(3, month=7), by=worked.office)
    anew = issue(
        invoice=draft,
        fingerprint=draft.fingerprint,
        on=JULY_3,
        at=at(3, month=7),
        by=worked.office,
        use_credit=True,
    )
    assert anew.account.open_gross == D("0.00")
    assert account_page(worked.payer, JULY_3).balance == D("0.00")


def test_a_correction_that_waited_stands_on_the_new_bill(bill: Invoice, worked: WorkedStay) -> None:
    """The second scrub, charged 65 minutes, was 40: 25 minutes at 42.00 an hour are 17.50 net."""
    correct_entry(
        entry=TimeEntry.objects.get(activity__code="scrub", started_at=at(11, 7)),
        started_at=at(11, 7), stopped_at=at(11, 7, 40), why="Clock left running",
        at=at(1, 9, month=7), by=PersonFactory(proprietor=True),
    )  # fmt: skip
    taken_back(bill, worked.office)
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    assert (bill.net, anew.net) == (D("221.60"), D("204.10"))
    assert anew.lines.get(words__startswith="Scrubbing").quantity == D("165.0")
    assert facts()[
        LedgerEntry.objects.get(
            line_entry__line__invoice=bill, day=dt.date(2026, 6, 11), activity__code="scrub"
        ).source
    ] == D(40)


def test_work_corrected_while_it_is_open_again_is_billed_as_corrected(
    bill: Invoice, worked: WorkedStay
) -> None:
    taken_back(bill, worked.office)
    correct_entry(
        entry=TimeEntry.objects.get(activity__code="scrub", started_at=at(11, 7)),
        started_at=at(11, 7), stopped_at=at(11, 7, 40), why="Clock left running",
        at=at(2, 15, month=7), by=PersonFactory(proprietor=True),
    )  # fmt: skip
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    scrubbing = anew.lines.get(words__startswith="Scrubbing")
    assert (scrubbing.words, scrubbing.quantity, anew.net) == (
        "Scrubbing (95 + 40 + 30)",
        D("165.0"),
        D("204.10"),
    )


def test_what_was_given_back_before_is_charged_again_and_the_page_says_so(
    bill: Invoice, worked: WorkedStay, client, time_machine
) -> None:
    scrub = bill.lines.get(words__startswith="Scrubbing").pk
    told = {"gross_seen": D("34.44"), "on": JULY_2, "at": at(2, 9, month=7), "by": worked.office}
    issue_credit_note(invoice=bill, quantities={scrub: D(40)}, reason="Disputed.", **told)  # type: ignore[arg-type]
    time_machine.move_to(at(2, 10, month=7), tick=False)
    client.force_login(worked.office)
    assert (
        "€28.00 without VAT of it was given back before"
        in client.get(reverse("invoice_credit", args=[bill.pk])).text
    )
    assert taken_back(bill, worked.office).gross == D("238.13")
    assert billed(worked.payer, worked.office, JUNE_29, at(3, month=7)).gross == D("272.57")


def test_a_correction_settled_before_is_not_charged_again(bill: Invoice, worked: WorkedStay) -> None:
    correct_entry(
        entry=TimeEntry.objects.get(activity__code="scrub", started_at=at(11, 7)),
        started_at=at(11, 7), stopped_at=at(11, 7, 40), why="Clock left running",
        at=at(1, 9, month=7), by=PersonFactory(proprietor=True),
    )  # fmt: skip
    scrub = bill.lines.get(words__startswith="Scrubbing").pk
    told = {"gross_seen": D("21.53"), "on": JULY_2, "at": at(2, 9, month=7), "by": worked.office}
    issue_credit_note(invoice=bill, quantities={scrub: D(25)}, reason="Corrected.", **told)  # type: ignore[arg-type]
    taken_back(bill, worked.office)
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    assert (anew.net, anew.lines.get(words__startswith="Scrubbing").quantity) == (D("204.10"), D("165.0"))


# ---- what may be put right meanwhile ---------------------------------------------------------------------------------


def test_a_price_agreed_now_holds_for_the_days_that_were_billed(bill: Invoice, worked: WorkedStay) -> None:
    price = {
        "party": worked.payer, "what": "labour", "since_on": dt.date(2026, 6, 1), "percent_off": D(10),
        "reason": "Agreed by phone", "by": worked.office,
    }  # fmt: skip
    with pytest.raises(Refused, match="are billed to"):
        agree_price(**price, at=at(1, month=7))  # type: ignore[arg-type]
    taken_back(bill, worked.office)
    agree_price(**price, at=at(3, 8, month=7))  # type: ignore[arg-type]
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    scrubbing = anew.lines.get(words__startswith="Scrubbing")
    assert (scrubbing.price_net, scrubbing.net) == (D("37.8000"), D("119.70"))  # 190 min


def test_another_vat_treatment_holds_for_them_too(bill: Invoice, worked: WorkedStay) -> None:
    taken_back(bill, worked.office)
    VatRate.objects.create(
        key="O", valid_from=dt.date(2020, 1, 1), percent=0, wording="Outside the scope of VAT"
    )
    told = {
        "party": worked.payer,
        "key": "O",
        "since_on": dt.date(2026, 6, 1),
        "reason": "The accountant says so",
    }
    treat_vat(**told, at=at(3, 8, month=7), by=PersonFactory(proprietor=True))  # type: ignore[arg-type]
    anew = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    assert (anew.net, anew.tax) == (D("221.60"), D("0.00"))


def test_another_customer_is_billed(bill: Invoice, worked: WorkedStay) -> None:
    firm = a_customer("Bog Road Gardens", kind="business")
    note = taken_back(bill, worked.office, bill_to=firm)
    anew = billed(firm, worked.office, JUNE_29, at(3, month=7))
    assert [row[2:] for row in figures(anew)] == [row[2:] for row in figures(bill)]
    assert anew.paper.words["sheet"] == bill.paper.words["sheet"]
    assert anew.paper.words["replaces"] == []  # another customer's number is nobody's business
    assert account_page(worked.payer, JULY_3).balance == D("0.00")
    assert account_page(firm, JULY_3).balance == D("272.57")
    with pytest.raises(Refused) as refused:
        draw_up(payer=worked.payer, up_to_on=JUNE_30, at=at(3, month=7), by=worked.office)
    assert refused.value.code == "nothing-to-bill"
    row = AuditRow.objects.get(verb="billed to another customer")
    assert (row.before, row.after, row.subject_id) == (
        {"payer": str(worked.payer)},
        {"payer": "Bog Road Gardens"},
        str(note.pk),
    )


# ---- interim bills -------------------------------------------------------------------------------------------------


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))


def test_the_latest_bill_goes_back_before_the_others(stay: Stay, office: Person) -> None:
    first = billed(stay.payer, office, dt.date(2026, 6, 15))
    second = billed(stay.payer, office, JUNE_30)
    with pytest.raises(Refused) as refused:
        taken_back(first, office)
    assert refused.value.code == "billed-since"
    assert refused.value.sentence.endswith("Take I-2026-0002 back first, the latest bill before the others.")
    assert not CreditNote.objects.exists()
    taken_back(second, office)
    taken_back(first, office, at(2, 11, month=7))
    whole = billed(stay.payer, office, JUNE_30, at(3, month=7))
    assert whole.net == first.net + second.net
    assert [line.kind for line in whole.lines.order_by("position")] == ["intake", "boarding"]


def test_a_bill_may_be_taken_back_again_and_again(bill: Invoice, worked: WorkedStay) -> None:
    taken_back(bill, worked.office)
    second = billed(worked.payer, worked.office, JUNE_29, at(3, month=7))
    taken_back(second, worked.office, at(3, 12, month=7), on=JULY_3)
    third = billed(worked.payer, worked.office, JUNE_29, at(3, 13, month=7))
    assert figures(third) == figures(bill)
    assert [one["invoice"] for one in third.paper.words["replaces"]] == ["I-2026-0002"]
    assert [line.turn for line in InvoiceLine.objects.filter(kind="intake").order_by("pk")] == [0, 1, 2]


# ---- as at an earlier day --------------------------------------------------------------------------------------------


def test_money_as_it_was_before_and_after(bill: Invoice, worked: WorkedStay) -> None:
    taken_back(bill, worked.office)
    billed(worked.payer, worked.office, JUNE_29, at(4, month=7))
    today = dt.date(2026, 7, 6)

    def sums(day: dt.date) -> tuple[Decimal, Decimal]:
        page = money_page(day, today)
        return page.unbilled_sums.gross, page.owed_sums.gross

    nothing, whole = D("0.00"), D("272.57")
    assert sums(dt.date(2026, 7, 1)) == (nothing, whole)
    assert sums(JULY_3) == (whole, nothing)
    assert sums(dt.date(2026, 7, 5)) == (nothing, whole)


# ---- what is refused -------------------------------------------------------------------------------------------------


def test_a_deposit_is_not_billed_anew(office: Person) -> None:
    StayFactory(owner=(payer := a_customer()))
    deposit = ask_deposit(payer=payer, gross=D("300.00"), vat_key="S", on=JUNE_29, at=at(29), by=office)
    with pytest.raises(Refused) as refused:
        taken_back(deposit, office)
    assert refused.value.code == "deposit"


def test_another_sum_than_was_shown_leaves_everything_as_it_was(bill: Invoice, worked: WorkedStay) -> None:
    with pytest.raises(Refused) as refused:
        taken_back(bill, worked.office, gross_seen=D("272.56"))
    assert refused.value.code == "look-again"
    assert not ReopenedEntry.objects.exists()
    assert Stay.objects.get(pk=worked.stay.pk).final_bill == "I-2026-0001"


def test_a_bill_is_taken_back_once(bill: Invoice, worked: WorkedStay) -> None:
    note = taken_back(bill, worked.office)
    with pytest.raises(Refused, match="Write at a line how much"):
        taken_back(bill, worked.office, gross_seen=note.gross)
    row = ReopenedEntry.objects.first()
    assert row is not None
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        ReopenedEntry.objects.filter(pk=row.pk).delete()
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        LedgerEntry.objects.filter(pk=row.counter_id).update(quantity=1)


# ---- the pages -------------------------------------------------------------------------------------------------------


def test_the_page_shows_the_sum_takes_it_back_and_leads_to_the_new_bill(
    bill: Invoice, worked: WorkedStay, client, time_machine
) -> None:
    firm = a_customer("Bog Road Gardens", kind="business")
    Ownership.objects.filter(tree=worked.stay.tree).update(until_on=JULY_2)
    Ownership.objects.create(tree=worked.stay.tree, party=firm, since_on=JULY_2)
    time_machine.move_to(at(2, 10, month=7), tick=False)
    client.force_login(worked.office)
    url = reverse("invoice_credit", args=[bill.pk])
    page = client.get(url).text
    assert "Take the whole invoice back, and bill it anew" in page
    assert "Nuala Brackenridge, as before" in page
    told = {"anew": "on", "bill_to": str(firm.pk), "reason": "Wrong customer.", "issued_on": "2026-07-02"}
    assert "Issue credit note C-2026-0001 over €272.57" in client.post(url, told).text
    assert not CreditNote.objects.exists()
    answer = client.post(url, told | {"gross": "272.57"}, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("account", args=[firm.pk])
    assert "What was on I-2026-0001 is open again: draw the new bill up here." in answer.text
    assert "€272.57" in answer.text
    shown = client.get(reverse("invoice", args=[bill.pk])).text
    assert "It takes the whole bill back; what was on it is billed anew." in shown
    assert CreditNote.objects.get().paper.words["whole"] is True
    assert "Take the whole invoice back" not in client.get(url).text


def test_a_deposit_invoice_offers_no_new_bill(office: Person, client, time_machine) -> None:
    StayFactory(owner=(payer := a_customer()))
    deposit = ask_deposit(payer=payer, gross=D("300.00"), vat_key="S", on=JUNE_29, at=at(29), by=office)
    time_machine.move_to(at(30, 10), tick=False)
    client.force_login(office)
    assert "bill it anew</label>" not in client.get(reverse("invoice_credit", args=[deposit.pk])).text
