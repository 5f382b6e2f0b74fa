"""Interest and lump sum in a reminder to a business, money kept for it, and the statement that stays true."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from invoicing.actions.disputes import dispute
from invoicing.actions.late_interest import add_terms, drop_terms, give_interest_up, keep_interest
from invoicing.actions.money_back import reverse as reverse_payment
from invoicing.actions.payments import record_payment
from invoicing.actions.recount import recount
from invoicing.actions.reminding import change_rules, remind
from invoicing.models import Invoice, LateInterest, LateTerms, PaymentAccount, RemindedBill
from invoicing.overviews.account import account_page
from invoicing.overviews.reminding import to_remind
from nursery import papers_render
from nursery.models import AuditRow, Party
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
TERMS = {
    "valid_from": dt.date(2026, 1, 1),
    "reference_percent": D("2.15"),
    "points": D("8.00"),
    "lump_sum": D("40.00"),
    "note": "Figures of an example",
}


@pytest.fixture
def owner():
    return PersonFactory(proprietor=True, first_name="Maeve")


@pytest.fixture
def firm() -> Party:
    return a_customer("Tullyglass Brewery Ltd", kind="business")


@pytest.fixture
def bill(firm: Party, owner) -> Invoice:
    """1 000.00 of 2 May, due on 1 June; interest is asked for from the first level on."""
    change_rules(
        fields={"interest_on": True, "interest_from_level": 1, "first_days": 21, "second_days": 30},
        at=at(1),
        by=owner,
    )
    add_terms(fields=TERMS, at=at(1), by=owner)
    return a_bill(firm, "1000.00", on=dt.date(2026, 5, 2), terms_days=30)


def reminded(bill: Invoice, by, day: int = 1, month: int = 7) -> RemindedBill:
    """30 days late on 1 July."""
    (letter,) = to_remind(dt.date(2026, month, day)).letters
    made = remind(
        party=bill.payer, level=letter.level, asked_seen=letter.asked_gross, at=at(day, month=month), by=by
    )
    return made.bills.get()


def paid(payer: Party, amount: str, day: int = 1):
    return record_payment(
        party=payer, amount=D(amount), on=dt.date(2026, 7, day), way="bank", at=at(day, 12, month=7),
        by=PersonFactory(office=True),
    )  # fmt: skip


def test_thirty_days_at_10_15_are_8_34_and_the_lump_sum(bill: Invoice, owner) -> None:
    row = reminded(bill, owner)
    assert (row.open_gross, row.interest, row.lump_sum) == (D("1000.00"), D("8.34"), D("40.00"))
    told = row.reminder.paper.words["late"]
    assert told["rows"] == [{
        "number": "I-2026-0001", "days": ["30 days at 10.15 % on 1\N{NO-BREAK SPACE}000.00"], "interest": "8.34",
        "lump_sum": "40.00",
    }]  # fmt: skip
    assert (told["together"], told["a_day"]) == ("€48.34", "€0.28")
    text = papers_render.html(row.reminder.paper)
    assert "Besides the bills we ask for €48.34 for late payment" in text
    assert "bears no VAT" in text
    assert account_page(bill.payer, dt.date(2026, 7, 1)).balance == D("1000.00")


def test_never_private_customers_nor_what_is_disputed(bill: Invoice, owner) -> None:
    dispute(invoice=bill, amount=D("400.00"), reason="x", on=dt.date(2026, 6, 5), at=at(5), by=owner)
    Party.objects.update(kind="private")
    (private,) = to_remind(dt.date(2026, 7, 1)).letters
    assert (private.interest, private.lump_sum) == (0, 0)
    Party.objects.update(kind="business")
    (letter,) = to_remind(dt.date(2026, 7, 1)).letters
    assert (letter.interest, letter.lump_sum) == (
        D("5.01"),
        D("40.00"),
    )  # 600.00 x 10.15 % x 30 / 365 = 5.0055


@pytest.mark.parametrize("off", [{"interest_on": False}, {"interest_from_level": 2}])
def test_off_or_later(bill: Invoice, owner, off: dict) -> None:
    change_rules(fields=off, at=at(1), by=owner)
    row = reminded(bill, owner)
    assert (row.interest, row.lump_sum, row.reminder.paper.words["late"]) == (0, 0, None)


def test_money_kept_is_on_the_statement_and_can_be_given_up(bill: Invoice, owner) -> None:
    """1 050.00 comes on 1 July: 1 000.00 for the bill, 48.34 kept, 1.66 held; given up, 50.00 is held."""
    reminded(bill, owner)
    payment = paid(bill.payer, "1050.00")
    kept = keep_interest(payment=payment, invoice=bill, amount=D("48.34"), at=at(2, month=7), by=owner)
    page = account_page(bill.payer, dt.date(2026, 7, 2))
    assert [(row.words, row.balance) for row in page.rows][-1] == (
        "Late interest on invoice I-2026-0001 kept", D("-1.66"),
    )  # fmt: skip
    assert PaymentAccount.objects.get().held_gross == D("1.66")
    give_interest_up(interest=kept, reason="An old customer", at=at(3, month=7), by=owner)
    with pytest.raises(Refused, match="given up already"):
        give_interest_up(interest=kept, reason="Again", at=at(3, month=7), by=owner)
    page = account_page(bill.payer, dt.date(2026, 7, 3))
    assert (page.balance, page.credit, recount(at=at(3, month=7))) == (D("-50.00"), D("50.00"), 0)
    trail = AuditRow.objects.filter(verb__contains="late interest").order_by("pk")
    assert [(row.verb, row.reason) for row in trail] == [
        ("kept late interest", ""),
        ("gave late interest up", "An old customer"),
    ]


def test_a_reversal_leaves_the_balance_true(bill: Invoice, owner) -> None:
    reminded(bill, owner)
    payment = paid(bill.payer, "1050.00")
    keep_interest(payment=payment, invoice=bill, amount=D("48.34"), at=at(2, month=7), by=owner)
    reverse_payment(
        payment=payment, on=dt.date(2026, 7, 5), why="returned", reason="x", at=at(5, month=7), by=owner
    )
    page = account_page(bill.payer, dt.date(2026, 7, 5))
    assert (page.balance, page.credit) == (D("1048.34"), D("-48.34"))


@pytest.mark.parametrize(
    ("amount", "code"), [("0", "no-amount"), ("48.35", "more-than-asked"), ("60.00", "more-than-held")]
)
def test_no_more_than_asked_and_held(bill: Invoice, owner, amount: str, code: str) -> None:
    reminded(bill, owner)
    payment = paid(bill.payer, "1050.00")
    with pytest.raises(Refused) as refused:
        keep_interest(payment=payment, invoice=bill, amount=D(amount), at=at(2, month=7), by=owner)
    assert refused.value.code == code


def test_nothing_is_kept_that_no_reminder_asked_for(bill: Invoice, owner) -> None:
    payment = paid(bill.payer, "1050.00")
    with pytest.raises(Refused, match=r"asked for €0.00 that is not kept yet"):
        keep_interest(payment=payment, invoice=bill, amount=D("1.00"), at=at(2, month=7), by=owner)
    other = a_bill(a_customer("Una Kehoe"), "5.00", on=dt.date(2026, 6, 1))
    with pytest.raises(Refused, match="not a bill of Tullyglass"):
        keep_interest(payment=payment, invoice=other, amount=D("1.00"), at=at(2, month=7), by=owner)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"valid_from": dt.date(2026, 1, 1)}, "day-taken"),
        ({"second_from": D(1000)}, "band"),
        ({"second_from": D(1000), "second_sum": D(70), "third_from": D(900), "third_sum": D(90)}, "band"),
    ],
)
def test_terms_that_are_refused(bill: Invoice, owner, changes: dict, code: str) -> None:
    with pytest.raises(Refused) as refused:
        add_terms(fields=TERMS | {"valid_from": dt.date(2026, 7, 1)} | changes, at=at(1), by=owner)
    assert (refused.value.code, LateTerms.objects.count()) == (code, 1)


def test_the_database_keeps_what_was_booked(bill: Invoice, owner) -> None:
    reminded(bill, owner)
    payment = paid(bill.payer, "1050.00")
    keep_interest(payment=payment, invoice=bill, amount=D("8.34"), at=at(2, month=7), by=owner)
    for change in (
        lambda: LateInterest.objects.update(amount=1),
        lambda: LateInterest.objects.all().delete(),
        lambda: LateTerms.objects.update(points=0),
    ):
        with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
            change()
    drop_terms(terms=LateTerms.objects.get(), at=at(3, month=7), by=owner)
    assert not LateTerms.objects.exists()


def test_the_pages(bill: Invoice, owner, client) -> None:
    client.force_login(owner)

    def press(name: str, pk: int | None = None, **told: object) -> str:
        told["once"] = str(uuid.uuid4())
        return client.post(reverse(name, args=[pk] if pk else []), told, follow=True).text

    reminded(bill, owner)
    payment = paid(bill.payer, "1050.00")
    with time_machine.travel(at(2, 10, month=7), tick=False):
        assert "Keep some as late interest" in client.get(reverse("payment", args=[payment.pk])).text
        assert 'value="48.34"' in client.get(reverse("interest_keep", args=[payment.pk])).text
        assert "1,250" in press("interest_keep", payment.pk, invoice=bill.pk, amount="1,250")
        page = press("interest_keep", payment.pk, invoice=bill.pk, amount="8,34")
        assert "€8.34 is kept as late interest." in page
        kept = LateInterest.objects.get()
        assert "The money becomes" in client.get(reverse("interest_back", args=[kept.pk])).text
        assert "Given up" in press("interest_back", kept.pk, reason="Waived")
        told = {"valid_from": "2026-07-01", "reference_percent": "2,00", "points": "8", "lump_sum": "40"}
        assert "10" in press("late_terms_add", **told)
        assert LateTerms.objects.first().percent == D("10.00")
        assert "Dropped." in press("late_terms_drop", LateTerms.objects.first().pk)
