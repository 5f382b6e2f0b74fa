"""Edge cases of payments with their figures, and random histories: what is owed less what is held is the balance."""

import contextlib
import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from invoicing import cash
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.late_interest import give_interest_up, keep_interest
from invoicing.actions.money_back import refund, reverse
from invoicing.actions.payments import give_payment, record_payment, set_payment_against, use_credit
from invoicing.actions.recount import recount
from invoicing.actions.write_offs import take_write_off_back, write_off
from invoicing.models import (
    CashRounding,
    Invoice,
    InvoiceAccount,
    LateInterest,
    Payment,
    PaymentAccount,
    PaymentReminder,
    RemindedBill,
    WriteOff,
)
from invoicing.overviews.account import account_rows, statement
from invoicing.overviews.credits import creditable
from invoicing.overviews.money import credit_of, money_page
from nursery.models import Paper, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, an_issued_invoice, at

D = Decimal
MAY_31, JUNE_30 = dt.date(2026, 5, 31), dt.date(2026, 6, 30)


def open_of(*bills: Invoice) -> list[Decimal]:
    return [InvoiceAccount.objects.get(invoice=bill).open_gross for bill in bills]


@pytest.mark.django_db
class TestCases:
    """The figures of the edge cases as the trade knows them."""

    @pytest.fixture
    def payer(self) -> Party:
        return a_customer()

    def pay(self, payer: Party, amount: str, way: str = "bank", invoice: Invoice | None = None) -> Payment:
        return record_payment(
            party=payer, amount=D(amount), on=dt.date(2026, 7, 10), way=way, at=at(10, month=7),
            by=PersonFactory(office=True), invoice=invoice,
        )  # fmt: skip

    @pytest.mark.parametrize(("named", "left"), [(None, ["0.00", "316.86"]), ("June", ["120.00", "196.86"])])
    def test_part_payment(self, payer: Party, named: str | None, left: list[str]) -> None:
        may, june = a_bill(payer, "120.00", on=MAY_31), a_bill(payer, "496.86", on=JUNE_30)
        self.pay(payer, "300.00", invoice=june if named else None)
        assert open_of(may, june) == [D(one) for one in left]

    def test_over_payment(self, payer: Party) -> None:
        bill = a_bill(payer, "149.30", on=JUNE_30)
        self.pay(payer, "150.00")
        assert (open_of(bill), credit_of(payer)) == ([D("0.00")], D("0.70"))

    def test_cash(self, payer: Party) -> None:
        bill = a_bill(payer, "496.86", on=JUNE_30)
        self.pay(payer, "496.85", way="cash")
        account = InvoiceAccount.objects.get(invoice=bill)
        assert (account.gross, account.open_gross, account.settled_on) == (
            D("496.86"),
            0,
            dt.date(2026, 7, 10),
        )
        assert CashRounding.objects.get().amount_gross == D("0.01")


@pytest.mark.django_db
def test_a_credit_note_dated_before_the_payment_counts_from_its_own_day() -> None:
    """46.13 of 30 June, paid on 10 July; 12.00 with VAT, 14.76, credited as of 5 July, written on the 12th."""
    payer, by = a_customer(), PersonFactory(office=True)
    bill = an_issued_invoice(payer, on=JUNE_30, by=by)
    record_payment(
        party=payer, amount=bill.gross, on=dt.date(2026, 7, 10), way="bank", at=at(10, month=7), by=by
    )
    first = creditable(bill)[0]
    given_back = {first.row.pk: first.line.left}
    issue_credit_note(
        invoice=bill, quantities=given_back, gross_seen=D("14.76"), reason="x", on=dt.date(2026, 7, 5),
        at=at(12, month=7), by=by,
    )  # fmt: skip
    today = dt.date(2026, 7, 20)
    pages = [money_page(dt.date(2026, 7, day), today) for day in (4, 5, 9, 10)]
    sums = [(page.owed_sums.gross, page.held_sums.gross) for page in pages]
    assert sums == [(D("46.13"), 0), (D("31.37"), 0), (D("31.37"), 0), (0, D("14.76"))]
    assert [(row.day.day, row.balance) for row in account_rows(payer)] == [
        (30, D("46.13")), (5, D("31.37")), (10, D("-14.76")),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("owed", "taken"),
    [("496.86", "496.85"), ("496.87", "496.85"), ("496.88", "496.90"), ("496.92", "496.90"), ("496.93", "496.95"),
     ("496.85", "496.85"), ("0.02", "0.00")],
)  # fmt: skip
def test_to_the_nearest_five_cents(owed: str, taken: str) -> None:
    assert cash.taken(D(owed), D("0.05")) == D(taken)


def test_a_step_is_more_than_nothing() -> None:
    with pytest.raises(ValueError, match="greater than zero"):
        cash.taken(D(1), D(0))


def asked_for_interest(bill: Invoice, by: Person) -> None:
    """A reminder of the bill, as rows alone."""
    day = dt.date(2026, 7, 1)
    paper = Paper.objects.create(
        kind="reminder",
        number=f"P-2026-{bill.pk:04d}",
        title="x",
        issued_on=day,
        issued_at=at(1),
        issued_by=by,
        words={},
    )
    reminder = PaymentReminder.objects.create(
        party=bill.payer,
        level=1,
        on=day,
        pay_by_on=dt.date(2026, 7, 8),
        asked_gross=1,
        paper=paper,
        at=at(1),
        by=by,
    )
    RemindedBill.objects.create(
        reminder=reminder, invoice=bill, level=1, open_gross=1, disputed_gross=0, interest=D("60.00")
    )


STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            (
                "bill",
                "pay",
                "pay",
                "cash",
                "unclear",
                "give",
                "against",
                "refund",
                "reverse",
                "off",
                "back",
                "credit",
                "interest",
            )
        ),
        st.decimals("0.01", "99.99", places=2),
        st.integers(0, 5),
        st.integers(0, 6),
    ),
    min_size=4,
    max_size=14,
)


class History:
    """Random deeds on one customer's money, one a day; what is refused changes nothing."""

    def __init__(self) -> None:
        self.payer: Party = a_customer()
        self.office: Person = PersonFactory(office=True)
        self.owner: Person = PersonFactory(proprietor=True)
        self.day = 1

    def do(self, deed: str, amount: Decimal, which: int, back: int) -> None:
        self.day += 1
        with contextlib.suppress(Refused):
            getattr(self, deed)(amount, which, dt.date(2026, 7, max(2, self.day - back)))

    @property
    def now(self) -> dict[str, object]:
        return {"at": at(self.day, month=7)}

    def bill(self, amount: Decimal, which: int, on: dt.date) -> None:
        a_bill(self.payer, str(amount), on=on, by=self.office)

    def pay(self, amount: Decimal, which: int, on: dt.date, way: str = "bank", party: object = 0) -> None:
        record_payment(
            party=self.payer if party == 0 else None,
            amount=amount,
            on=on,
            way=way,
            by=self.office,
            **self.now,
        )  # type: ignore[arg-type]

    def cash(self, amount: Decimal, which: int, on: dt.date) -> None:
        """What is open, to five cents."""
        owed = (
            InvoiceAccount.objects.filter(settled_on=None)
            .order_by("invoice__issued_on", "invoice_id")
            .first()
        )
        self.pay(cash.taken(owed.open_gross if owed else amount, D("0.05")), which, on, "cash")

    def unclear(self, amount: Decimal, which: int, on: dt.date) -> None:
        self.pay(amount, which, on, party=None)

    def give(self, amount: Decimal, which: int, on: dt.date) -> None:
        if payment := self.one(Payment.objects.filter(party=None), which):
            give_payment(payment=payment, party=self.payer, by=self.office, **self.now)

    def against(self, amount: Decimal, which: int, on: dt.date) -> None:
        bill = self.one(Invoice.objects.all(), which)
        if (payment := self.one(Payment.objects.all(), which)) and bill:
            set_payment_against(
                payment=payment, amounts={bill.pk: min(amount, payment.amount_gross, bill.gross)}, reason="x",
                by=self.office, **self.now,
            )  # fmt: skip

    def refund(self, amount: Decimal, which: int, on: dt.date) -> None:
        if holder := self.one(PaymentAccount.objects.filter(used_up_on=None), which):
            some = min(amount, holder.held_gross)
            refund(payment=holder.payment, amount=some, on=on, by=self.office, **self.now)

    def reverse(self, amount: Decimal, which: int, on: dt.date) -> None:
        if payment := self.one(Payment.objects.all(), which):
            reverse(payment=payment, on=on, why="returned", reason="x", by=self.office, **self.now)

    def off(self, amount: Decimal, which: int, on: dt.date) -> None:
        if account := self.one(InvoiceAccount.objects.filter(settled_on=None), which):
            some = min(amount, account.open_gross)
            write_off(invoice=account.invoice, amount=some, reason="x", by=self.owner, **self.now)

    def back(self, amount: Decimal, which: int, on: dt.date) -> None:
        if row := self.one(WriteOff.objects.filter(undoes=None), which):
            take_write_off_back(write_off=row, reason="x", by=self.owner, **self.now)

    def credit(self, amount: Decimal, which: int, on: dt.date) -> None:
        if account := self.one(InvoiceAccount.objects.filter(settled_on=None), which):
            use_credit(invoice=account.invoice, by=self.office, **self.now)

    def interest(self, amount: Decimal, which: int, on: dt.date) -> None:
        """Money held is kept for what a reminder asked, and every third time the last of it is given up."""
        bill = self.one(Invoice.objects.all(), which)
        holder = self.one(PaymentAccount.objects.filter(party=self.payer), which)
        if bill and holder:
            if not bill.reminded.exists():
                asked_for_interest(bill, self.office)
            some = min(amount, max(holder.held_gross, D("0.01")))
            keep_interest(payment=holder.payment, invoice=bill, amount=some, by=self.office, **self.now)
        if (kept := self.one(LateInterest.objects.filter(undoes=None), which)) and which % 3 == 0:
            give_interest_up(interest=kept, reason="x", by=self.office, **self.now)

    @staticmethod
    def one(rows, which):
        found = list(rows.order_by("pk"))
        return found[which % len(found)] if found else None


class MoneyAddsUp(TestCase):
    @settings(max_examples=40)
    @given(steps=STEPS)
    def test_every_day_of_every_history(self, steps: list[tuple[str, Decimal, int, int]]) -> None:
        story = History()
        for step in steps:
            story.do(*step)
        today = dt.date(2026, 7, story.day)
        rows = list(account_rows(story.payer))
        for day in (dt.date(2026, 7, number) for number in range(1, story.day + 1)):
            page = money_page(day, today)
            mine = [one.held for one in page.held if one.party == story.payer]
            assert all(D(0) < one.open_gross <= one.gross for one in page.owed), day
            balance = next((row.balance for row in reversed(rows) if row.day <= day), D(0))
            assert page.owed_sums.gross - sum(mine, D(0)) == balance, day
            told = statement(story.payer, day, today)
            assert told.opening + told.added - told.taken_off == told.closing
            assert told.closing == (rows[-1].balance if rows else D(0))
        assert sum(open_of(*Invoice.objects.all()), D(0)) - credit_of(story.payer) == told.closing
        assert recount(at=at(story.day, month=7)) == 0
