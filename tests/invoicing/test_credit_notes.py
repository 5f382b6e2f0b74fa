"""Credit notes through the real actions: what is given back, what becomes of the money, and what is refused."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from care.actions.entries import correct_entry
from care.models import LedgerEntry, TimeEntry
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import CreditEntry, CreditLine, CreditNote, Invoice, InvoiceAccount, PaymentAccount
from invoicing.overviews.account import account_page
from invoicing.overviews.credits import in_full, reckon
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import WorkedStay, as_corrected, at, worked_stay

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
JULY_14 = dt.date(2026, 7, 14)
NOW = at(14, 10, month=7)


@pytest.fixture
def worked() -> WorkedStay:
    """The worked stay, billed on 29 June: 221.60 net, 50.97 VAT, 272.57."""
    worked, on = worked_stay(), dt.date(2026, 6, 29)
    draft = draw_up(payer=worked.payer, up_to_on=on, at=at(29, 16), by=worked.office)
    issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=at(29, 16), by=worked.office)
    return worked


@pytest.fixture
def bill(worked: WorkedStay) -> Invoice:
    return Invoice.objects.select_related("payer").get(number="I-2026-0001")


def line_of(bill: Invoice, words: str) -> int:
    return bill.lines.get(words__startswith=words).pk


def credited(bill: Invoice, by, quantities, **changes) -> CreditNote:
    told = {
        "reason": "Forty minutes are disputed.",
        "gross_seen": reckon(bill, quantities).gross,
        "on": JULY_14,
        "at": NOW,
        "by": by,
    }
    return issue_credit_note(invoice=bill, quantities=quantities, **(told | changes))


def corrected_to_forty_minutes() -> None:
    """The second scrub of 63 minutes, charged 65, ran on by mistake."""
    correct_entry(
        entry=TimeEntry.objects.get(activity__code="scrub", started_at=at(11, 7)),
        started_at=at(11, 7),
        stopped_at=at(11, 7, 40),
        why="Clock left running",
        at=at(13, 9, month=7),
        by=PersonFactory(proprietor=True),
    )


def test_forty_minutes_of_scrubbing_are_34_44(bill: Invoice, worked: WorkedStay) -> None:
    note = credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)})
    assert (note.number, note.net, note.tax, note.gross) == ("C-2026-0001", D("28.00"), D("6.44"), D("34.44"))
    (line,) = note.lines.all()
    assert (line.quantity, line.net) == (D(40), D("28.00"))
    account = InvoiceAccount.objects.get(invoice=bill)
    assert (account.gross, account.open_gross, account.settled_on) == (D("272.57"), D("238.13"), None)
    assert note.paper.words["invoice"] == "I-2026-0001"
    row = AuditRow.objects.get(verb="issued a credit note")
    assert (row.by, row.reason) == (worked.office, "Forty minutes are disputed.")
    assert account_page(worked.payer, JULY_14).balance == D("238.13")


def test_what_was_paid_beyond_the_rest_is_held_for_the_payer(bill: Invoice, worked: WorkedStay) -> None:
    record_payment(
        party=worked.payer,
        amount=D("272.57"),
        on=dt.date(2026, 7, 10),
        way="bank",
        at=at(10, 9, month=7),
        by=worked.office,
    )
    credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)})
    account, holder = InvoiceAccount.objects.get(invoice=bill), PaymentAccount.objects.get()
    assert (account.open_gross, account.settled_on) == (D("0.00"), JULY_14)
    assert (holder.held_gross, holder.used_up_on) == (D("34.44"), None)
    assert account_page(worked.payer, JULY_14).balance == D("-34.44")


def test_a_part_payment_keeps_what_fits(bill: Invoice, worked: WorkedStay) -> None:
    record_payment(
        party=worked.payer,
        amount=D("250.00"),
        on=dt.date(2026, 7, 10),
        way="bank",
        at=at(10, 9, month=7),
        by=worked.office,
    )
    credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)})
    assert InvoiceAccount.objects.get(invoice=bill).open_gross == D("0.00")
    assert PaymentAccount.objects.get().held_gross == D("11.87")  # 250.00 + 34.44 - 272.57


def test_the_whole_invoice_in_two_steps_comes_to_the_invoice(bill: Invoice, worked: WorkedStay) -> None:
    first = credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)})
    rest = credited(bill, worked.office, in_full(bill))
    assert (first.net + rest.net, first.tax + rest.tax) == (D("221.60"), D("50.97"))
    assert InvoiceAccount.objects.get(invoice=bill).open_gross == D("0.00")
    assert in_full(bill) == {}
    with pytest.raises(Refused, match="Write at a line how much"):
        reckon(bill, {line_of(bill, "Scrubbing"): D(1)})


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"reason": " "}, "no-reason"),
        ({"on": dt.date(2026, 7, 15)}, "future"),
        ({"on": dt.date(2026, 6, 28)}, "before-invoice"),
        ({"gross_seen": D("34.43")}, "look-again"),
        ({"gross_seen": None}, "look-again"),
    ],
)
def test_what_is_refused_uses_no_number(bill: Invoice, worked: WorkedStay, changes, code) -> None:
    with pytest.raises(Refused) as refused:
        credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)}, **changes)
    assert refused.value.code == code
    assert not CreditNote.objects.exists()
    assert credited(bill, worked.office, {line_of(bill, "Scrubbing"): D(40)}).number == "C-2026-0001"


def test_no_more_of_a_line_than_was_billed(bill: Invoice, worked: WorkedStay) -> None:
    scrub = line_of(bill, "Scrubbing")
    credited(bill, worked.office, {scrub: D(180)})
    with pytest.raises(Refused, match="No more than 10 min is left of this line") as refused:
        reckon(bill, {scrub: D(11)})
    assert refused.value.field == f"line_{scrub}"
    note = CreditNote.objects.get()
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        CreditLine.objects.filter(pk__gt=0).delete()
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        CreditNote.objects.filter(pk=note.pk).update(reason="Another")
    second = credited(bill, worked.office, {line_of(bill, "Jetting"): D(20)})
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        CreditLine.objects.create(credit=second, position=9, line_id=scrub, quantity=D(11), net=D("7.00"))


def test_the_pages_show_the_sum_first_and_issue_it_then(
    bill: Invoice, worked: WorkedStay, client, time_machine
) -> None:
    time_machine.move_to(NOW, tick=False)
    client.force_login(worked.office)
    url, scrub = reverse("invoice_credit", args=[bill.pk]), line_of(bill, "Scrubbing")
    told = {f"line_{scrub}": "40", "reason": "Disputed.", "issued_on": "2026-07-14"}
    page = client.post(url, told).text
    assert "Issue credit note C-2026-0001 over €34.44" in page
    assert 'value="40"' in page
    assert not CreditNote.objects.exists()
    too_much = client.post(url, told | {f"line_{scrub}": "191"}).text
    assert "Write 190 or less." in too_much
    answer = client.post(url, told | {"gross": "34.44"}, follow=True)
    assert "Credit note C-2026-0001 over €34.44 is issued." in answer.text
    assert "<dt>Paid</dt><dd>€0.00" in answer.text
    assert reverse("paper", args=["C-2026-0001"]) in answer.text
    assert (
        "Credit note C-2026-0001 to invoice I-2026-0001"
        in client.get(reverse("account", args=[worked.payer.pk])).text
    )


def test_all_of_it_by_one_tick(bill: Invoice, worked: WorkedStay, client, time_machine) -> None:
    time_machine.move_to(NOW, tick=False)
    client.force_login(worked.office)
    told = {"whole": "on", "reason": "Wrong payer.", "issued_on": "2026-07-14"}
    assert "over €272.57" in client.post(reverse("invoice_credit", args=[bill.pk]), told).text


def test_work_corrected_after_the_bill_is_given_back_and_not_billed_off_again(
    bill: Invoice, worked: WorkedStay
) -> None:
    """The second scrub, 65 minutes, ran only from 08:00 to 08:40: 25 minutes, 17.50 and 4.03 VAT."""
    scrub = line_of(bill, "Scrubbing")
    corrected_to_forty_minutes()
    assert as_corrected(bill) == {scrub: D("25.0")}
    note = credited(bill, worked.office, as_corrected(bill))
    assert (note.net, note.tax, note.gross) == (D("17.50"), D("4.03"), D("21.53"))
    assert CreditEntry.objects.get().entry.lock == note.number
    assert as_corrected(bill) == {}
    assert LedgerEntry.objects.filter(stay=worked.stay, lock="").count() == 0


def test_a_correction_given_back_in_part_waits_for_the_next_bill(bill: Invoice, worked: WorkedStay) -> None:
    scrub = line_of(bill, "Scrubbing")
    corrected_to_forty_minutes()
    credited(bill, worked.office, {scrub: D(10)})
    assert not CreditEntry.objects.exists()
    assert as_corrected(bill) == {scrub: D("25.0")}
