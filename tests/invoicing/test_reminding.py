"""Payment reminders: proposed by level and day, issued by a person, each level of a bill once, and in which words.

Days after the bill was due (7, 21, 35) and the levels: common practice, no source.
"""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from invoicing.actions.disputes import dispute, settle_dispute
from invoicing.actions.money_back import reverse as reverse_payment
from invoicing.actions.payments import record_payment
from invoicing.actions.reminding import change_rules, remind
from invoicing.models import Invoice, PaymentReminder, RemindedBill, ReminderRules
from invoicing.overviews.reminding import to_remind
from invoicing.reminding import Sent, level_due
from nursery import papers_render
from nursery.models import AuditRow, Paper, PaperMail, Party
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at

D = Decimal
DAYS = (7, 21, 35)
DUE = dt.date(2026, 7, 14)
JUNE_30 = dt.date(2026, 6, 30)


@pytest.mark.parametrize(
    ("last", "day", "level"),
    [
        (None, (7, 20), None), (None, (7, 21), 1), (None, (12, 1), 1),
        (Sent(1, dt.date(2026, 7, 21)), (8, 3), None), (Sent(1, dt.date(2026, 7, 21)), (8, 4), 2),
        (Sent(1, dt.date(2026, 8, 10)), (8, 23), None), (Sent(1, dt.date(2026, 8, 10)), (8, 24), 2),
        (Sent(2, dt.date(2026, 8, 4)), (8, 17), None), (Sent(2, dt.date(2026, 8, 4)), (8, 18), 3),
        (Sent(3, dt.date(2026, 8, 18)), (12, 31), None),
    ],
)  # fmt: skip
def test_levels_go_up_one_at_a_time(last: Sent | None, day: tuple[int, int], level: int | None) -> None:
    """Due on 14 July: +7 is the 21st, +21 is 4 August, +35 is 18 August; a late level moves the next one on."""
    assert level_due(DUE, last, dt.date(2026, *day), DAYS) == level


def on(month: int, day: int) -> dt.date:
    return dt.date(2026, month, day)


@pytest.mark.django_db
@pytest.mark.engine
class TestReminders:
    @pytest.fixture
    def payer(self) -> Party:
        return a_customer()

    @pytest.fixture
    def bill(self, payer: Party) -> Invoice:
        """496.86 of 30 June, due on 14 July."""
        return a_bill(payer, "496.86", on=JUNE_30)

    @pytest.fixture
    def office(self):
        return PersonFactory(office=True, first_name="Orla")

    def pay(self, payer: Party, amount: str, day: int, month: int = 7):
        return record_payment(
            party=payer, amount=D(amount), on=on(month, day), way="bank", at=at(day, month=month),
            by=PersonFactory(office=True),
        )  # fmt: skip

    def sent(self, party: Party, level: int, asked: str, month: int, day: int) -> PaymentReminder:
        return remind(
            party=party,
            level=level,
            asked_seen=D(asked),
            at=at(day, month=month),
            by=PersonFactory(office=True),
        )

    def test_part_paid_disputed_and_reversed(self, bill: Invoice, payer: Party, office) -> None:
        """300.00 paid, 47.56 of wiring disputed: 149.30 is asked for; the reversal leaves the level."""
        payment = self.pay(payer, "300.00", 10)
        doubt = dispute(
            invoice=bill, amount=D("47.56"), reason="Forty minutes of wiring.", on=on(7, 14),
            at=at(14, month=7), by=office,
        )  # fmt: skip
        assert to_remind(on(7, 20)).letters == ()
        (letter,) = to_remind(on(7, 21)).letters
        (late,) = letter.bills
        assert (letter.level, late.open_gross, late.disputed_gross, letter.asked_gross) == (
            1, D("196.86"), D("47.56"), D("149.30"),
        )  # fmt: skip
        first = self.sent(payer, 1, "149.30", 7, 21)
        assert (first.paper.number, first.pay_by_on) == ("P-2026-0001", on(7, 28))
        reverse_payment(
            payment=payment, on=on(7, 23), why="returned", reason="No funds", at=at(23, month=7), by=office
        )
        settle_dispute(dispute=doubt, outcome="taken_back", told="", at=at(24, month=7), by=office)
        assert to_remind(on(8, 3)).letters == ()
        (second,) = to_remind(on(8, 4)).letters
        assert (second.level, second.asked_gross) == (2, D("496.86"))
        row = AuditRow.objects.get(verb="reminded of unpaid bills")
        assert row.after == {"level": 1, "bills": ["I-2026-0001"], "asked": "149.30"}

    def test_paid_and_wholly_disputed_bills_drop_out(self, bill: Invoice, payer: Party, office) -> None:
        other = a_bill(payer, "20.00", on=JUNE_30)
        dispute(invoice=other, amount=D("20.00"), reason="x", on=on(7, 1), at=at(1, month=7), by=office)
        record_payment(
            party=payer,
            amount=D("496.86"),
            on=on(7, 20),
            way="bank",
            at=at(20, month=7),
            by=office,
            invoice=bill,
        )
        found = to_remind(on(7, 30))
        assert found.letters == ()
        assert [(one.number, one.why_not) for one in found.left_out] == [
            ("I-2026-0002", "all that is open is disputed")
        ]

    def test_nothing_twice_and_nothing_unseen(self, bill: Invoice, payer: Party) -> None:
        with pytest.raises(Refused, match="changed meanwhile"):
            self.sent(payer, 1, "496.85", 7, 21)
        with pytest.raises(Refused, match="No reminder of this level is due"):
            self.sent(payer, 2, "496.86", 7, 21)
        self.sent(payer, 1, "496.86", 7, 21)
        with pytest.raises(Refused, match="No reminder of this level is due"):
            self.sent(payer, 1, "496.86", 7, 21)
        assert Paper.objects.filter(kind="reminder").count() == 1

    def test_after_the_third_a_person_decides(self, bill: Invoice, payer: Party) -> None:
        for level, month, day in ((1, 7, 21), (2, 8, 4), (3, 8, 18)):
            self.sent(payer, level, "496.86", month, day)
        found = to_remind(on(12, 31))
        assert (found.letters, found.left_out[0].why_not) == (
            (), "reminded three times: a person decides what comes next",
        )  # fmt: skip

    def test_two_levels_of_one_customer_are_two_letters(self, bill: Invoice, payer: Party) -> None:
        self.sent(payer, 1, "496.86", 7, 21)
        a_bill(payer, "10.00", on=on(7, 14))
        letters = to_remind(on(8, 4)).letters
        assert [(one.level, one.asked_gross) for one in letters] == [(1, D("10.00")), (2, D("496.86"))]

    def test_the_database_keeps_the_levels(self, bill: Invoice, payer: Party) -> None:
        first = self.sent(payer, 1, "496.86", 7, 21)
        row = {"reminder": first, "invoice": bill, "open_gross": D(5), "disputed_gross": D(0)}
        for change in (
            lambda: RemindedBill.objects.create(level=1, **row),
            lambda: RemindedBill.objects.create(level=3, **row),
            lambda: RemindedBill.objects.create(level=2, **(row | {"disputed_gross": D(5)})),
            lambda: RemindedBill.objects.update(level=2),
            lambda: PaymentReminder.objects.update(asked_gross=1),
            lambda: ReminderRules(first_days=9, second_days=9).save(),
        ):
            with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
                change()

    def test_what_the_paper_says(self, bill: Invoice, payer: Party, office) -> None:
        dispute(
            invoice=bill, amount=D("47.56"), reason="Forty minutes of wiring.", on=on(7, 14),
            at=at(14, month=7), by=office,
        )  # fmt: skip
        one = remind(party=payer, level=1, asked_seen=D("449.30"), at=at(21, month=7), by=office)
        told = one.paper.words
        assert told["opening"] == (
            "Perhaps it was forgotten in a busy week: in our books the bill below is not paid yet."
        )
        assert told["rows"] == [{
            "number": "I-2026-0001", "dated": "Tue 30 June 2026", "due_on": "Tue 14 July 2026", "days_over": "7",
            "billed": "496.86", "covered": "0.00", "open": "496.86", "disputed": "47.56", "asked": "449.30",
        }]  # fmt: skip
        assert (told["pay_by"], told["agreed"]) == ("Tue 28 July 2026", "")
        assert told["disputed"] == [
            "€47.56 of I-2026-0001 is disputed (Forty minutes of wiring). It is not asked for here, and stays open "
            "until that is settled."
        ]
        assert told["pays"][0]["reference"] == "RF47 I202 6000 1"
        assert "EUR449.30" in told["pays"][0]["code"]["text"]
        assert told["statement"]["closing"] == "496.86"
        text = papers_render.html(one.paper)
        for sentence in ("please ignore it", "Please ask for Orla", "IBAN IE29 AIBK", "first of three"):
            assert sentence in text

    def test_the_second_says_what_was_agreed(self, bill: Invoice, payer: Party) -> None:
        PersonFactory(proprietor=True)
        change_rules(
            fields={"private_words": "Boarding goes on."},
            at=at(1, month=7),
            by=PersonFactory(proprietor=True),
        )
        self.sent(payer, 1, "496.86", 7, 21)
        told = self.sent(payer, 2, "496.86", 8, 4).paper.words
        assert told["agreed"] == "Boarding goes on."
        assert told["opening"] == (
            "We reminded you on Tue 21 July 2026, and in our books the bill below is still open. Is anything "
            "unclear? Please call us."
        )

    def test_the_pages(self, bill: Invoice, payer: Party, office, client) -> None:
        una = a_customer("Una Kehoe")
        other = a_bill(una, "44.90", on=JUNE_30)
        client.force_login(office)
        page = reverse("bills_to_remind")
        with time_machine.travel(at(21, 10, month=7), tick=False):
            assert "2 bills to be reminded" in client.get(reverse("today")).text
            assert "Bills to be reminded: 2" in client.get(reverse("money")).text
            look = client.get(reverse("reminder_preview", args=[payer.pk, 1]))
            assert look["Content-Type"] == "application/pdf"
            shown = client.get(page).text
            assert "I-2026-0001</a>, due Tue 14 July 2026, 7 days over:" in shown.replace("\xa0", " ")
            keys = [f"{payer.pk}-1-496.86", f"{una.pk}-1-44.90"]
            assert all(f'value="{key}" checked' in shown for key in keys)
            assert "Tick at least one customer." in client.post(page, {"once": uuid.uuid4()}).text
            record_payment(
                party=una, amount=D("40.00"), on=on(7, 21), way="bank", at=at(21, 9, month=7), by=office
            )
            Party.objects.filter(pk=payer.pk).update(email="nuala@brackenridge.example")
            press = {"once": uuid.uuid4(), "letters": keys, "mail": "on"}
            answer = client.post(page, press, follow=True).text
            assert "1 reminder is issued" in answer
            assert "What Una Kehoe owes has changed meanwhile" in answer
            assert "already done" in client.post(page, press, follow=True).text
            assert "level 1: <a" in client.get(reverse("invoice", args=[bill.pk])).text
            account = client.get(reverse("account", args=[payer.pk])).text.replace("\xa0", " ")
            assert "level 1: €496.86 by Tue 28 July 2026" in account
        mailed = PaperMail.objects.values_list("paper__number", "to_email")
        assert list(mailed) == [("P-2026-0001", "nuala@brackenridge.example")]
        assert [row.invoice for row in RemindedBill.objects.all()] == [bill]
        assert other.reminded.count() == 0

    def test_the_rules_are_the_proprietors(self, client) -> None:
        client.force_login(PersonFactory(proprietor=True))
        address = reverse("reminder_rules_write")
        told = {
            "first_days": "5",
            "second_days": "5",
            "third_days": "20",
            "term_days": "10",
            "interest_from_level": "2",
        }
        page = client.post(address, told | {"once": uuid.uuid4()}).text
        assert "Each reminder comes later than the one before it." in page
        told["second_days"] = "12"
        assert "Written down." in client.post(address, told | {"once": uuid.uuid4()}, follow=True).text
        assert ReminderRules.here().days == (5, 12, 20)
        with pytest.raises(Refused, match="Only the proprietor"):
            change_rules(fields={"term_days": 3}, at=at(1), by=PersonFactory(office=True))
