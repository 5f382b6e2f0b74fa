"""VAT of deposits that counts when money comes: nothing counts twice, and nothing of what bills deducted is lost."""

import datetime as dt
from decimal import Decimal

import pytest

from invoicing.actions.deposits import ask_deposit
from invoicing.actions.money_back import reverse
from invoicing.actions.payments import record_payment, set_payment_against
from invoicing.actions.write_offs import write_off
from invoicing.models import Invoice, Payment
from invoicing.overviews.vat_return import vat_return
from nursery.models import Nursery, Party, Person
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import StayFactory, a_customer, at
from tests.invoicing.test_billing_anew import taken_back
from tests.invoicing.test_journal import YEAR, billed, given_back, material, paid

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_3, JUNE_30, JULY_2 = dt.date(2026, 6, 3), dt.date(2026, 6, 30), dt.date(2026, 7, 2)


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def payer() -> Party:
    """A customer whose tree is announced: nothing is charged for keeping it yet."""
    r1()
    payer = a_customer()
    StayFactory(owner=payer, received_at=None, state="announced")
    return payer


@pytest.fixture
def deducted(payer: Party, office: Person) -> tuple[Payment, Invoice]:
    """A deposit of 30.00 that was paid, and a bill over 100.00 net that deducted it: 24.39 and 5.61."""
    ask_deposit(payer=payer, gross=D("30.00"), vat_key="S", on=JUNE_3, at=at(3, 12), by=office)
    payment = record_payment(party=payer, amount=D("30.00"), on=JUNE_3, way="bank", at=at(3, 13), by=office)
    material(payer, "100.00", JUNE_3)
    bill = billed(payer, JUNE_30)
    assert vat_return(YEAR).tax == D("23.00")
    return payment, bill


def test_money_that_the_bank_takes_back_leaves_what_a_bill_deducted(deducted, office: Person) -> None:
    payment, _ = deducted
    reverse(payment=payment, on=JULY_2, why="returned", reason="No cover", at=at(2, month=7), by=office)
    assert vat_return(YEAR).tax == D("23.00")


def test_so_does_money_that_is_set_against_another_bill(deducted, office: Person) -> None:
    payment, bill = deducted
    told = {
        "amounts": {bill.pk: D("30.00")},
        "reason": "It meant the bill",
        "at": at(2, month=7),
        "by": office,
    }
    set_payment_against(payment=payment, **told)
    assert vat_return(YEAR).tax == D("23.00")


def test_a_bill_taken_back_gives_the_deposit_free(deducted, office: Person) -> None:
    payment, bill = deducted
    reverse(payment=payment, on=JULY_2, why="returned", reason="No cover", at=at(2, month=7), by=office)
    taken_back(bill, office, at(2, 12, month=7))
    assert vat_return(YEAR).tax == D("0.00")
    last = vat_return(YEAR).rows[-1]
    assert (last.words, last.net, last.tax) == ("Deposit, given free by C-2026-0001", D("-24.39"), D("-5.61"))


def test_small_deductions_come_to_the_cent_of_their_bills(payer: Party, office: Person) -> None:
    deposit = ask_deposit(payer=payer, gross=D(300), vat_key="S", on=JUNE_3, at=at(3), by=office)
    paid(payer, "300.00", JUNE_3)
    for day in (10, 11, 12):
        on = dt.date(2026, 6, day)
        material(payer, "0.33", on)
        billed(payer, on)
    given_back(deposit, JUNE_30)
    received = vat_return(YEAR)
    Nursery.objects.update(deposit_vat_on="invoice")
    invoiced = vat_return(YEAR)
    assert (received.net, received.tax) == (invoiced.net, invoiced.tax) == (D("0.99"), D("0.24"))


def test_a_deposit_never_paid_and_given_up_bears_none(payer: Party, office: Person) -> None:
    deposit = ask_deposit(payer=payer, gross=D(300), vat_key="S", on=JUNE_3, at=at(3), by=office)
    owner = PersonFactory(proprietor=True)
    write_off(invoice=deposit, amount=D(300), reason="The tree never came", at=at(30), by=owner)
    told = vat_return(YEAR)
    assert (told.tax, [one.tax for one in told.written_off]) == (D("0.00"), [D("0.00")])


def test_the_page_says_by_how_much_the_journal_differs(
    payer: Party, office: Person, client, time_machine
) -> None:
    ask_deposit(payer=payer, gross=D(300), vat_key="S", on=JUNE_3, at=at(3), by=office)
    paid(payer, "120.00", JUNE_3)
    time_machine.move_to(at(30), tick=False)
    client.force_login(office)
    page = client.get("/money/vat/?from_on=2026-06-01&until_on=2026-06-30").text
    assert "by that it is €56.10 in these days" in page
    assert vat_return(YEAR).tax == D("22.44")


@pytest.mark.parametrize("gross", ["200000000.00", "9999999999.90"])
def test_a_deposit_may_be_as_large_as_a_bill(payer: Party, office: Person, gross: str) -> None:
    assert ask_deposit(payer=payer, gross=D(gross), vat_key="S", on=JUNE_3, at=at(3), by=office).gross == D(
        gross
    )
