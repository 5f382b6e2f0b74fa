"""The accountant's journal and the VAT figures: the worked month to the cent, and balance for any history.

That both sides of every entry are equal is the rule of double entry (Pacioli 1494, Summa, from memory); that a credit
note lowers the VAT of its own period and an advance is taxed when it comes are Directive 2006/112/EC, Art. 90 and 65.
The figures of the worked month are the trade's own, no source.
"""

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.db import IntegrityError, InternalError, transaction
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from boarding.models import Stay
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.journal_accounts import name_accounts
from invoicing.actions.money_back import reverse as reverse_payment
from invoicing.actions.payments import give_payment, record_payment
from invoicing.actions.securities import take_security
from invoicing.actions.write_offs import write_off
from invoicing.journal import Account, Booking, entry
from invoicing.models import CreditTax, Invoice, InvoiceTax, JournalAccount, Payment
from invoicing.overviews.account import account_rows
from invoicing.overviews.credits import in_full, reckon
from invoicing.overviews.journal import Period, account_sums, journal
from invoicing.overviews.vat_return import period_of, vat_return
from nursery.models import AuditRow, Nursery, Party, Person, VatRate
from nursery.refusals import Refused
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import EntryFactory, MaterialFactory, StayFactory, a_customer, at
from tests.invoicing.test_money_cases import STEPS, History

D = Decimal
JUNE_3, JUNE_30 = dt.date(2026, 6, 3), dt.date(2026, 6, 30)
MAY_JUNE = Period(dt.date(2026, 5, 1), JUNE_30)
JULY_AUGUST = Period(dt.date(2026, 7, 1), dt.date(2026, 8, 31))
YEAR = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))


def sums(period: Period) -> dict[str, Decimal]:
    """Debit less credit by the name of the account."""
    return {one.name: one.debit - one.credit for one in account_sums(period)}


# --- The calculation ------------------------------------------------------------------------------------------------


def test_an_entry_that_does_not_balance_is_refused() -> None:
    with pytest.raises(ValueError, match="not equal"):
        entry([Booking(Account.BANK, D("5.00")), Booking(Account.CUSTOMERS, D("-4.99"))])


@pytest.mark.parametrize(
    ("day", "months", "first", "last"),
    [
        ("2026-06-30", 2, "2026-05-01", "2026-06-30"),
        ("2026-07-01", 2, "2026-07-01", "2026-08-31"),
        ("2026-12-31", 2, "2026-11-01", "2026-12-31"),
        ("2028-02-29", 1, "2028-02-01", "2028-02-29"),
        ("2026-02-01", 3, "2026-01-01", "2026-03-31"),
        ("2026-05-05", 12, "2026-01-01", "2026-12-31"),
    ],
)
def test_the_period_in_which_a_day_lies(day: str, months: int, first: str, last: str) -> None:
    found = period_of(dt.date.fromisoformat(day), months)
    assert (found.from_on.isoformat(), found.until_on.isoformat()) == (first, last)


# --- The worked month -----------------------------------------------------------------------------------------------


@pytest.fixture
def payer() -> Party:
    r1()
    VatRate.objects.create(key="R", valid_from=dt.date(2020, 1, 1), percent="13.5")
    payer = a_customer()
    StayFactory(owner=payer, received_at=None, state="announced")
    return payer


def material(payer: Party, net: str, day: dt.date, key: str = "S") -> None:
    thing = MaterialFactory(cost_net=D(net) / D("1.25"), vat_key=key)  # the uplift is 25 %
    stay = Stay.objects.get(payer=payer)
    EntryFactory(stay=stay, kind="material", activity=None, material=thing, quantity=1, unit="pc", day=day)


def paid(payer: Party | None, amount: str, on: dt.date, **told: object) -> Payment:
    when = dt.datetime.combine(on, dt.time(12), tzinfo=dt.UTC)
    told = {"way": "bank", "at": when, "by": PersonFactory(office=True)} | told
    return record_payment(party=payer, amount=D(amount), on=on, **told)  # type: ignore[arg-type]


def billed(payer: Party, on: dt.date) -> Invoice:
    when, by = dt.datetime.combine(on, dt.time(17), tzinfo=dt.UTC), PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=on, at=when, by=by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=by)


def given_back(bill: Invoice, on: dt.date) -> None:
    quantities = in_full(bill)
    issue_credit_note(
        invoice=bill, quantities=quantities, gross_seen=reckon(bill, quantities).gross, reason="x", on=on,
        at=dt.datetime.combine(on, dt.time(18), tzinfo=dt.UTC), by=PersonFactory(office=True),
    )  # fmt: skip


@pytest.fixture
def month(payer: Party) -> Party:
    """A deposit of 300.00; 649.24 net less 243.90, 496.86; in July 34.25 more, and 38.67 taken back."""
    ask_deposit(payer=payer, gross=D(300), vat_key="S", on=JUNE_3, at=at(3), by=PersonFactory(office=True))
    paid(payer, "300.00", JUNE_3)
    # The disputed 38.67 are a line of their own here; it is the sums that count.
    material(payer, "592.57", dt.date(2026, 6, 4))
    material(payer, "38.67", dt.date(2026, 6, 5))
    material(payer, "18.00", dt.date(2026, 6, 6), key="R")
    bill = billed(payer, JUNE_30)
    assert bill.gross == D("496.86")
    paid(payer, "300.00", dt.date(2026, 7, 10))
    material(payer, "34.25", dt.date(2026, 7, 11))
    assert billed(payer, dt.date(2026, 7, 12)).gross == D("42.13")
    quantities = {bill.lines.get(net="38.67").pk: D(1)}
    issue_credit_note(
        invoice=bill, quantities=quantities, gross_seen=D("47.56"), reason="Disputed.", on=dt.date(2026, 7, 14),
        at=at(14, 18, month=7), by=PersonFactory(office=True),
    )  # fmt: skip
    paid(payer, "150.00", dt.date(2026, 7, 20))
    paid(payer, "41.43", dt.date(2026, 7, 24))
    return payer


@pytest.mark.django_db
def test_vat_of_the_worked_month(month: Party) -> None:
    first, second = vat_return(MAY_JUNE), vat_return(JULY_AUGUST)
    assert (first.tax, second.tax) == (D("147.62"), D("-1.01"))
    assert [(one.key, one.percent, one.net, one.tax) for one in first.figures] == [
        ("S", D("23.00"), D("631.24"), D("145.19")), ("R", D("13.50"), D("18.00"), D("2.43")),
    ]  # fmt: skip
    assert [(one.day.isoformat(), one.document, one.net, one.tax) for one in first.rows] == [
        ("2026-06-03", "I-2026-0001", D("243.90"), D("56.10")),
        ("2026-06-30", "I-2026-0002", D("18.00"), D("2.43")),
        ("2026-06-30", "I-2026-0002", D("387.34"), D("89.09")),
    ]
    assert [(one.document, one.tax) for one in second.rows] == [
        ("I-2026-0003", D("7.88")), ("C-2026-0001", D("-8.89")),
    ]  # fmt: skip
    assert first.net + second.net == D("644.82")


@pytest.mark.django_db
def test_the_journal_of_the_worked_month_ends_at_nothing_owed(month: Party) -> None:
    assert sums(YEAR) == {
        "Bank": D("791.43"), "Customers": D("0.00"), "Deposits on account, net": D("0.00"),
        "VAT charged": D("-146.61"), "Keeping and care of trees": D("-644.82"),
    }  # fmt: skip
    assert sums(MAY_JUNE)["Customers"] == D("496.86")
    first = next(journal(MAY_JUNE))
    assert [(one.account.value, one.debit, one.credit) for one in first.bookings] == [
        ("customers", D("300.00"), None), ("deposits", None, D("243.90")), ("vat", None, D("56.10")),
    ]  # fmt: skip


@pytest.mark.django_db
def test_vat_of_a_deposit_counts_when_its_payment_came_or_as_the_setting_says(payer: Party) -> None:
    office = PersonFactory(office=True)
    deposit = ask_deposit(payer=payer, gross=D(600), vat_key="S", on=JUNE_30, at=at(30), by=office)
    assert vat_return(MAY_JUNE).tax == 0
    paid(payer, "200.00", dt.date(2026, 7, 2))
    paid(payer, "400.00", dt.date(2026, 7, 3))
    rows = vat_return(JULY_AUGUST).rows
    assert [(one.words, one.net, one.tax) for one in rows] == [
        ("Deposit received", D("162.60"), D("37.40")), ("Deposit received", D("325.20"), D("74.80")),
    ]  # fmt: skip
    given_back(deposit, dt.date(2026, 9, 1))
    later = vat_return(period_of(dt.date(2026, 9, 1), 2))
    assert [(one.document, one.net, one.tax) for one in later.rows] == [
        ("C-2026-0001", D("-325.20"), D("-74.80")), ("C-2026-0001", D("-162.60"), D("-37.40")),
    ]  # fmt: skip
    Nursery.objects.update(deposit_vat_on="invoice")
    assert [vat_return(one).tax for one in (MAY_JUNE, JULY_AUGUST)] == [D("112.20"), D("0.00")]
    assert vat_return(period_of(dt.date(2026, 9, 1), 2)).tax == D("-112.20")


@pytest.mark.django_db
def test_a_deposit_given_back_before_it_was_paid_bears_no_vat(payer: Party) -> None:
    office = PersonFactory(office=True)
    deposit = ask_deposit(payer=payer, gross=D(600), vat_key="S", on=JUNE_3, at=at(3), by=office)
    given_back(deposit, JUNE_30)
    assert vat_return(YEAR).rows == ()
    assert sums(YEAR) == dict.fromkeys(("Customers", "Deposits on account, net", "VAT charged"), D("0.00"))


@pytest.mark.django_db
def test_a_bad_debt_stands_apart(payer: Party) -> None:
    material(payer, "100.00", JUNE_3)
    bill, owner = billed(payer, JUNE_30), PersonFactory(proprietor=True)
    before = vat_return(YEAR).tax
    write_off(invoice=bill, amount=D("61.50"), reason="x", at=at(1, month=7), by=owner)
    told = vat_return(YEAR)
    assert told.tax == before
    assert [(one.number, one.gross, one.tax) for one in told.written_off] == [
        ("I-2026-0001", D("61.50"), D("11.50")),
    ]  # fmt: skip
    assert sums(YEAR)["Bad debts"] == D("61.50")


@pytest.mark.django_db
def test_money_of_nobody_known_and_securities_have_accounts_of_their_own(payer: Party) -> None:
    office = PersonFactory(office=True)
    unclear = paid(None, "50.00", JUNE_3)
    give_payment(payment=unclear, party=payer, at=at(2, month=7), by=office)
    assert (sums(MAY_JUNE)["Money whose payer is not known"], sums(YEAR)["Customers"]) == (D(-50), D(-50))
    assert sums(JULY_AUGUST) == {"Money whose payer is not known": D(50), "Customers": D(-50)}
    held = take_security(party=payer, amount=D(80), on=JUNE_3, way="card", at=at(3), by=office)
    assert sums(YEAR)["Deposits held as security"] == D(-80)
    Stay.objects.update(received_at=at(3), left_at=at(10), state="handed_back")
    bill = billed(payer, JUNE_30)
    assert sums(YEAR)["Deposits held as security"] == bill.gross - D(80)
    told = {"payment": held, "on": dt.date(2026, 7, 3), "why": "returned", "reason": "x"}
    reverse_payment(**told, at=at(3, month=7), by=office)
    assert (sums(YEAR)["Deposits held as security"], sums(YEAR)["Card payments"]) == (0, 0)
    assert sums(YEAR)["Customers"] == bill.gross - D(50)


@pytest.mark.django_db
def test_money_taken_back_before_its_payer_was_known_never_reaches_the_customer(payer: Party) -> None:
    office = PersonFactory(office=True)
    unclear = paid(None, "50.00", JUNE_3)
    give_payment(payment=unclear, party=payer, at=at(2, month=7), by=office)
    told = {"payment": unclear, "on": dt.date(2026, 6, 30), "why": "returned", "reason": "x"}
    reverse_payment(**told, at=at(3, month=7), by=office)
    assert sums(YEAR).get("Customers", D(0)) == 0
    assert sums(YEAR).get("Money whose payer is not known", D(0)) == 0


# --- Any history ----------------------------------------------------------------------------------------------------


class Booked(History):
    """The same deeds, with bills that have lines and VAT."""

    def __init__(self) -> None:
        super().__init__()
        r1()
        StayFactory(owner=self.payer, received_at=None, state="announced")

    def bill(self, amount: Decimal, which: int, on: dt.date) -> None:
        material(self.payer, str(amount), on)
        billed(self.payer, on)

    def credit(self, amount: Decimal, which: int, on: dt.date) -> None:
        """A note over all that is left of one bill."""
        if bill := self.one(Invoice.objects.exclude(issued_on=None), which):
            given_back(bill, on)


class JournalBalances(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(steps=STEPS, deposits=st.lists(st.decimals("0.01", "999.99", places=2), max_size=2))
    def test_every_entry_balances_and_customers_are_what_their_accounts_say(self, steps, deposits) -> None:
        story = Booked()
        for gross in deposits:
            told = {"payer": story.payer, "gross": gross, "vat_key": "S", "on": dt.date(2026, 7, 1)}
            ask_deposit(**told, at=at(1, month=7), by=story.office)
        for step in steps:
            story.do(*step)
        for one in journal(YEAR):
            assert sum((line.amount for line in one.bookings), D(0)) == 0
        moved = sums(YEAR)
        assert sum(moved.values(), D(0)) == 0
        rows = list(account_rows(story.payer))
        assert moved.get("Customers", D(0)) == (rows[-1].balance if rows else 0)
        Nursery.objects.update(deposit_vat_on="invoice")
        issued = InvoiceTax.objects.exclude(invoice__issued_at=None)  # a bill refused at issue stays a draft
        documents = sum((one.tax for one in issued), D(0))
        documents -= sum((one.tax for one in CreditTax.objects.all()), D(0))
        assert vat_return(YEAR).tax == documents == -moved.get("VAT charged", D(0))
        parts = [period_of(dt.date(2026, month, 1), 2) for month in (1, 3, 5, 7, 9, 11)]
        for basis in ("invoice", "receipt"):
            Nursery.objects.update(deposit_vat_on=basis)
            assert sum((vat_return(one).tax for one in parts), D(0)) == vat_return(YEAR).tax


# --- Pages ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def signed(client: Client, time_machine) -> Client:
    time_machine.move_to(at(5, 12, month=9), tick=False)
    client.force_login(PersonFactory(proprietor=True), backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.django_db
def test_the_file_is_streamed_balances_and_holds_every_entry(month: Party, signed: Client) -> None:
    asked = {"from_on": "2026-05-01", "until_on": "2026-06-30"}
    answer = signed.get(reverse("journal_file"), asked)
    assert answer.streaming
    assert answer["Content-Disposition"] == 'attachment; filename="journal-2026-05-01-2026-06-30.csv"'
    lines = list(csv.reader(io.StringIO(answer.getvalue().decode("utf-8-sig"))))
    assert lines[0][-2:] == ["Debit", "Credit"]
    assert [line[4:] for line in lines[1:4]] == [
        ["210", "Customers", "", "", "300.00", ""],
        ["320", "Deposits on account, net", "S", "23.00", "", "243.90"],
        ["340", "VAT charged", "S", "23.00", "", "56.10"],
    ]
    debits, credits = (sum(D(line[column] or 0) for line in lines[1:-1]) for column in (8, 9))
    assert [D(one) for one in lines[-1][8:]] == [debits, credits]
    assert debits - credits == 0


@pytest.mark.django_db
def test_the_pages_show_the_last_period_that_is_over(month: Party, signed: Client) -> None:
    page = signed.get(reverse("vat_figures")).content.decode()
    assert "From Wed 1 July 2026 to Mon 31 August 2026" in page
    assert "\u22121.01" in page
    page = signed.get(
        reverse("vat_figures"), {"from_on": "2026-05-01", "until_on": "2026-06-30"}
    ).content.decode()
    assert "147.62" in page
    lines = signed.get(
        reverse("vat_figures"), {"from_on": "2026-05-01", "until_on": "2026-06-30", "csv": "vat"}
    ).content.decode()
    assert lines.splitlines()[1].endswith("S,23.00,243.90,56.10")
    page = signed.get(
        reverse("vat_figures"), {"from_on": "2026-07-01", "until_on": "2026-06-30"}
    ).content.decode()
    assert "The last day lies before the first" in page
    assert "the difference is 0.00" in signed.get(reverse("journal")).content.decode()
    assert reverse("journal") in signed.get(reverse("money")).content.decode()


@pytest.mark.django_db
def test_long_periods_ask_no_more_often(month: Party, django_assert_max_num_queries) -> None:
    for number in range(5, 25):
        paid(month, "10.00", dt.date(2026, 8, number))
    with django_assert_max_num_queries(16):
        assert len(list(journal(YEAR))) == 28
    with django_assert_max_num_queries(10):
        vat_return(YEAR)


@pytest.mark.django_db
@pytest.mark.engine
def test_accounts_are_named_by_the_proprietor(signed: Client) -> None:
    owner = Person.objects.get(role="proprietor")
    named = {Account.BANK: ("1800", "Current account")}
    assert name_accounts(named=named, at=at(5), by=owner) == named
    assert JournalAccount.objects.get().number == "1800"
    assert AuditRow.objects.get(verb="named accounts of the journal").after == {
        "bank": "1800 Current account"
    }
    for wrong, by, code in (
        ({Account.CASH: ("1800", "Till")}, owner, "same-number"),
        ({Account.CASH: (" ", "Till")}, owner, "incomplete"),
        ({Account.CASH: ("1", "Till")}, PersonFactory(office=True), "not-proprietor"),
    ):
        with pytest.raises(Refused) as refused:
            name_accounts(named=wrong, at=at(5), by=by)
        assert refused.value.code == code
    page = signed.post(reverse("journal_accounts"), {"number_bank": "1800"}).content.decode()
    assert "Write something here; it is needed." in page
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        JournalAccount.objects.update(number="")
