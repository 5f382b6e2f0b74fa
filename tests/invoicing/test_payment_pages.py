"""The pages of payments and of the statement: what is asked, refused in words, and printed."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from invoicing.actions.payments import record_payment
from invoicing.models import CashReceipt, Invoice, InvoiceAccount, Payment, WriteOff
from invoicing.overviews.money import credit_of
from nursery import papers_render
from nursery.models import Nursery, Paper, Party
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at

pytestmark = pytest.mark.django_db
D = Decimal
MAY_31, JUNE_30 = dt.date(2026, 5, 31), dt.date(2026, 6, 30)


@pytest.fixture(autouse=True)
def _july() -> object:
    with time_machine.travel(at(24, 11, month=7), tick=False):
        yield


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def bills(payer: Party) -> tuple[Invoice, Invoice]:
    return a_bill(payer, "120.00", on=MAY_31), a_bill(payer, "496.86", on=JUNE_30)


@pytest.fixture
def office(client: Client) -> Client:
    client.force_login(PersonFactory(role="office"))
    return client


def press(client: Client, name: str, pk: int | None = None, ask: str = "", **told: object) -> str:
    address = reverse(name, args=[pk] if pk else []) + ask
    answer = client.post(address, {"once": str(uuid.uuid4())} | told, follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def paid(payer: Party | None, amount: str, way: str = "bank", **more: object) -> Payment:
    return record_payment(
        party=payer, amount=D(amount), on=dt.date(2026, 7, 10), way=way, at=at(10, month=7),
        by=PersonFactory(office=True), **more,
    )  # type: ignore[arg-type]  # fmt: skip


def test_the_payers_purpose_is_written_in_figures(
    office: Client, payer: Party, bills: tuple[Invoice, Invoice]
) -> None:
    payment, (may, june) = paid(payer, "300.00"), bills
    page = office.get(reverse("payment_against", args=[payment.pk])).content.decode()
    assert "I-2026-0001, at most €120.00" in page
    assert "I-2026-0002, at most €496.86" in page
    wrong = press(
        office, "payment_against", payment.pk, **{f"invoice_{may.pk}": "120.01", "reason": "by mail"}
    )
    assert "Write from 0 to 120.00: no more is open on I-2026-0001." in wrong
    assert 'value="120.01"' in wrong
    told = {f"invoice_{may.pk}": "", f"invoice_{june.pk}": "300,00", "reason": "She named June"}
    said = press(office, "payment_against", payment.pk, **told)
    assert "open again" in said
    assert [InvoiceAccount.objects.get(invoice=bill).open_gross for bill in bills] == [
        D("120.00"),
        D("196.86"),
    ]


def test_unclear_money_is_written_down_found_and_given(
    office: Client, payer: Party, bills: tuple[Invoice, Invoice]
) -> None:
    told = {"amount": "12,50", "received_on": "2026-07-20", "way": "bank", "payer_words": "N BRACKENR"}
    said = press(office, "payment_unclear", **told)
    assert "Nobody knows yet" in said
    assert "Not known yet (N BRACKENR)" in office.get(reverse("money")).content.decode()
    payment = Payment.objects.get()
    give = reverse("payment_give", args=[payment.pk])
    assert office.get(give)["Location"] == f"/people/find/?back=%2Fpayments%2F{payment.pk}%2Fgive%2F"
    assert "Is it Nuala Brackenridge&#x27;s money?" in office.get(f"{give}?party={payer.pk}").content.decode()
    said = press(office, "payment_give", payment.pk, ask=f"?party={payer.pk}", party=payer.pk)
    assert "It is Nuala Brackenridge&#x27;s now." in said
    assert InvoiceAccount.objects.get(invoice=bills[0]).paid_gross == D("12.50")


def test_a_credit_is_given_back_and_never_more(office: Client, payer: Party) -> None:
    bill = a_bill(payer, "149.30", on=JUNE_30)
    payment = paid(payer, "150.00")
    assert 'value="0.70"' in office.get(reverse("payment_refund", args=[payment.pk])).content.decode()
    wrong = press(office, "payment_refund", payment.pk, amount="0,71", on="2026-07-24")
    assert "Only €0.70 of this payment is held" in wrong
    press(office, "payment_refund", payment.pk, amount="0,70", on="2026-07-24")
    assert (credit_of(payer), InvoiceAccount.objects.get(invoice=bill).open_gross) == (0, 0)


def test_a_payment_is_reversed_with_its_reason(
    office: Client, payer: Party, bills: tuple[Invoice, Invoice]
) -> None:
    payment = paid(payer, "120.00")
    assert "Write the reason" in press(office, "payment_reverse", payment.pk, why="returned", on="2026-07-15")
    said = press(office, "payment_reverse", payment.pk, why="returned", on="2026-07-15", reason="No cover")
    assert "The bank took it back, Wed 15 July 2026: No cover" in said
    assert "Reverse it" not in said
    assert InvoiceAccount.objects.get(invoice=bills[0]).settled_on is None


def test_cash_is_rounded_and_its_receipt_printed_once(office: Client, payer: Party) -> None:
    a_bill(payer, "496.86", on=JUNE_30)
    told = {"amount": "496,85", "received_on": "2026-07-24", "way": "cash"}
    said = press(office, "payment_add", payer.pk, **told)
    assert "€0.01 is cash rounding; the bill is settled." in said
    payment = Payment.objects.get()
    press(office, "payment_receipt", payment.pk)
    assert "is there already" in press(office, "payment_receipt", payment.pk)
    paper = CashReceipt.objects.get().paper
    text = papers_render.html(paper)
    assert paper.number == "R-2026-0001"
    for words in (
        "€496.85",
        "Invoice I-2026-0001",
        "cash rounding",
        "Fri 24 July 2026",
        "Nuala Brackenridge",
    ):
        assert words in text


def test_only_cash_that_stayed_has_a_receipt(office: Client, payer: Party) -> None:
    assert "A receipt is for cash" in press(office, "payment_receipt", paid(payer, "5.00").pk)
    cash = paid(payer, "6.00", way="cash")
    press(office, "payment_reverse", cash.pk, why="mistake", on="2026-07-15", reason="Twice")
    assert "was reversed" in press(office, "payment_receipt", cash.pk)
    Nursery.objects.update(name="")
    assert "name and address are missing" in press(
        office, "payment_receipt", paid(payer, "7.00", way="cash").pk
    )
    assert not Paper.objects.filter(kind="cash_receipt").exists()


def test_the_proprietor_writes_a_debt_off_and_takes_it_back(
    client: Client, payer: Party, bills: tuple[Invoice, Invoice]
) -> None:
    client.force_login(PersonFactory(proprietor=True))
    bill = bills[0]
    assert "Write it off" in client.get(reverse("invoice", args=[bill.pk])).content.decode()
    said = press(client, "invoice_write_off", bill.pk, amount="120", reason="Gone abroad")
    assert "Gone abroad" in said
    assert "€120.00 written off Fri 24 July 2026" in said
    said = press(client, "write_off_back", WriteOff.objects.get().pk, reason="He is back")
    assert "take the write-off" not in said
    assert InvoiceAccount.objects.get(invoice=bill).open_gross == D("120.00")


# --- Statement --------------------------------------------------------------------------------------------------------


def test_the_statement_from_day_to_day(office: Client, payer: Party, bills: tuple[Invoice, Invoice]) -> None:
    paid(payer, "120.00", reference="May")
    paid(payer, "150.00")
    address = reverse("statement", args=[payer.pk]) + "?from_on=2026-06-30&until_on=2026-07-24"
    lines = office.get(f"{address}&csv=1").content.decode().splitlines()[1:]
    assert lines == [
        "2026-06-30,Balance before this day,,,120.00",
        "2026-06-30,Invoice I-2026-0002,496.86,,616.86",
        '2026-07-10,"Payment, bank transfer, May",,120.00,496.86',
        '2026-07-10,"Payment, bank transfer",,150.00,346.86',
    ]
    assert "at the end: €346.86" in office.get(address).content.decode()
    press(office, "statement_print", payer.pk, from_on="2026-06-30", until_on="2026-07-24")
    paper = Paper.objects.get(kind="statement")
    text = papers_render.html(paper)
    assert (paper.number, paper.words["closing"]) == ("S-2026-0001", "346.86")
    for words in (
        "Balance before this day",
        "Invoice I-2026-0002",
        "€346.86 is owed to us.",
        "Nuala Brackenridge",
    ):
        assert words in text


def test_a_statement_of_nothing_and_one_of_the_future(office: Client, payer: Party) -> None:
    page = office.get(reverse("statement", args=[payer.pk])).content.decode()
    assert "at the end: €0.00" in page
    for told, sentence in (
        ({"from_on": "2026-07-20", "until_on": "2026-07-25"}, "ends today or before"),
        ({"from_on": "2026-07-20", "until_on": "2026-07-19"}, "exchange them"),
    ):
        assert sentence in press(office, "statement_print", payer.pk, **told)
    assert not Paper.objects.exists()


@pytest.mark.parametrize("number", ["R-2026-0001", "S-2026-0001"])
def test_papers_about_money_are_for_the_desk(
    client: Client, office: Client, payer: Party, number: str
) -> None:
    a_bill(payer, "20.00", on=JUNE_30)
    press(office, "payment_receipt", paid(payer, "20.00", way="cash").pk)
    press(office, "statement_print", payer.pk)
    assert office.get(reverse("paper", args=[number])).status_code == 200
    client.force_login(PersonFactory(role="grower"))
    assert client.get(reverse("paper", args=[number])).status_code == 404
    assert number not in client.get(f"{reverse('find')}?find={number}", follow=True).content.decode().replace(
        f'value="{number}"', ""
    ).replace(f"“{number}”", "")
