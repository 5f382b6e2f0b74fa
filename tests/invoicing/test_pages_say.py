"""What pages of money say so that nobody has to guess: who is owed what, what is short, what goes out how."""

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.estimates import draw_up_estimate
from invoicing.actions.payments import record_payment
from invoicing.actions.reminding import remind
from invoicing.actions.securities import take_security
from invoicing.overviews.account import account_page
from invoicing.overviews.reminding import to_remind
from nursery.models import Nursery, Person
from tests.estimate_scenes import told
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_bill, a_customer, a_tree_of, an_issued_invoice, at

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_30 = dt.date(2026, 6, 30)


@pytest.fixture
def office(client: Client, time_machine) -> Person:
    time_machine.move_to(at(30, 17), tick=False)
    person = PersonFactory(office=True)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return person


def test_a_security_takes_nothing_off_what_is_owed(client: Client, office: Person) -> None:
    payer = a_customer()
    a_bill(payer, "167.96", on=JUNE_30)
    take_security(party=payer, amount=D(100), on=JUNE_30, way="bank", at=at(30, 12), by=office)
    page = client.get(reverse("account", args=[payer.pk])).text
    assert "Owed to us: €167.96; €100.00 is held as security." in page
    assert account_page(payer, JUNE_30).balance == D("67.96")


def test_a_deposit_says_first_what_the_nursery_has_not_written_of_itself(
    client: Client, office: Person
) -> None:
    payer = a_customer()
    url = reverse("deposit_ask", args=[payer.pk])
    assert "would be printed without" not in client.get(url).text
    Nursery.objects.update(vat_number="", iban="")
    assert "would be printed without our VAT number and without an account to pay to" in client.get(url).text


def test_a_deposit_paid_in_part_says_what_is_still_asked_for(client: Client, office: Person) -> None:
    payer = a_customer()
    StayFactory(owner=payer)
    deposit = ask_deposit(payer=payer, gross=D(200), vat_key="S", on=JUNE_30, at=at(30, 9), by=office)
    paid = {"party": payer, "amount": D(120), "on": JUNE_30, "way": "bank", "invoice": deposit}
    record_payment(**paid, at=at(30, 10), by=office)  # type: ignore[arg-type]
    page = client.get(reverse("account", args=[payer.pk])).text
    assert '<td class="figure">120.00</td><td class="figure">200.00</td><td class="figure">80.00</td>' in page


@pytest.mark.parametrize(("figure", "said"), [("10.00", True), ("150.00", False)])
def test_a_cap_below_the_least_that_is_expected_is_pointed_at(
    client: Client, office: Person, figure: str, said: bool
) -> None:
    payer = a_customer()
    stay = StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))
    scene = {"title": "Against scale", "told": told(agreed_net=D(figure)), "at": at(3, 11), "by": office}
    version = draw_up_estimate(stay=stay, **scene)  # type: ignore[arg-type]
    page = client.get(reverse("estimate", args=[version.estimate_id])).text
    assert ("below the least that is expected" in page) is said


def test_nothing_is_disputed_of_a_bill_that_is_paid(client: Client, office: Person) -> None:
    bill = an_issued_invoice(by=office)
    paid = {"party": bill.payer, "amount": bill.gross, "on": JUNE_30, "way": "bank", "invoice": bill}
    record_payment(**paid, at=at(30, 16), by=office)  # type: ignore[arg-type]
    answer = client.get(reverse("invoice_dispute", args=[bill.pk]), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("invoice", args=[bill.pk])
    assert "Nothing of I-2026-0001 is open" in answer.text


def test_a_cash_rounding_taken_back_says_so(client: Client, office: Person) -> None:
    bill = an_issued_invoice(by=office)  # 46.13
    paid = {"party": bill.payer, "amount": D("46.15"), "on": JUNE_30, "way": "cash", "invoice": bill}
    record_payment(**paid, at=at(30, 16), by=office)  # type: ignore[arg-type]
    line = bill.lines.get(kind="intake")
    note = {"gross_seen": D("14.76"), "reason": "Not agreed", "on": JUNE_30, "at": at(30, 17), "by": office}
    issue_credit_note(invoice=bill, quantities={line.pk: D(1)}, **note)  # type: ignore[arg-type]
    said = [row.words for row in account_page(bill.payer, JUNE_30).rows if "rounding" in row.words]
    assert said == ["Cash rounding", "Cash rounding taken back"]


def test_reminders_issued_say_which_are_to_be_printed(client: Client, office: Person, time_machine) -> None:
    payer = a_customer(email="nuala@brackenridge.example")
    a_bill(payer, "40.00", on=dt.date(2026, 6, 1))
    (letter,) = to_remind(JUNE_30, payer).letters
    remind(party=payer, level=1, asked_seen=letter.asked_gross, at=at(30, 16), by=office)
    assert "; to be printed" in client.get(reverse("bills_to_remind")).text


@pytest.mark.parametrize(("kind", "offers"), [("private", False), ("business", True)])
def test_only_of_a_business_its_system_may_refuse(
    client: Client, office: Person, kind: str, offers: bool
) -> None:
    bill = an_issued_invoice(a_customer(kind=kind), by=office)
    page = client.get(reverse("invoice", args=[bill.pk])).text
    assert ("Their system refused the e-invoice" in page) is offers


def test_names_keep_their_capitals(client: Client) -> None:
    client.force_login(PersonFactory(proprietor=True), backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("vat_rate_add")).text
    assert "European Union" in page
    assert "european union" not in page
