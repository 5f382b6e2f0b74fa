"""Deposits on their pages: asked for, seen on the account and at the check-in, given back; in the file that prints."""

import datetime as dt
import subprocess
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import CreditNote, Invoice
from invoicing.overviews.account import account_rows
from nursery import papers_render, slots
from nursery.models import Party, Person
from tests.factories import PersonFactory, r1
from tests.factories_boarding import a_visit
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.filterwarnings("ignore:unclosed file.*sRGB2014:ResourceWarning"),
]
D = Decimal
JUNE_3, JUNE_30 = dt.date(2026, 6, 3), dt.date(2026, 6, 30)


@pytest.fixture
def office(client: Client, time_machine) -> Person:
    time_machine.move_to(at(3, 12), tick=False)
    person = PersonFactory(office=True)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return person


@pytest.fixture
def payer() -> Party:
    r1()
    return a_customer()


def posted(client: Client, payer: Party, **changes: str):
    told = {"amount": "300,00", "vat_key": "S", "issued_on": "2026-06-03"} | changes
    return client.post(reverse("deposit_ask", args=[payer.pk]), told)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"amount": "1,250"}, "1,250"),
        ({"amount": "-5"}, "Write"),
        ({"amount": "0"}, "Write how much is agreed, more than nothing."),
        ({"issued_on": "2026-06-04"}, "An invoice is not dated ahead"),
        ({"vat_key": "R"}, "This is not among what can be chosen now"),
    ],
)
def test_bad_input_is_said_at_its_field_and_kept(
    client: Client, office: Person, payer: Party, changes, sentence
):
    page = posted(client, payer, **changes).content.decode()
    assert sentence in page
    assert 'class="error"' in page
    assert f'value="{changes.get("amount", "300,00")}"' in page
    assert not Invoice.objects.exists()


def test_from_asking_to_giving_back(client: Client, office: Person, payer: Party, time_machine) -> None:
    deposit = Invoice.objects.get(pk=int(posted(client, payer)["Location"].split("/")[-2]))
    assert (deposit.gross, deposit.net, deposit.tax) == (D("300.00"), D("243.90"), D("56.10"))
    page = client.get(reverse("invoice", args=[deposit.pk])).content.decode()
    assert "Deposit invoice I-2026-0001: what was billed, and is it paid?" in page
    assert "how the VAT of a deposit that is kept is treated, your accountant knows" in page
    record_payment(party=payer, amount=D(300), on=JUNE_3, way="bank", at=at(3, 13), by=office)
    StayFactory(owner=payer)
    time_machine.move_to(at(30, 18), tick=False)
    client.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    page = client.get(reverse("invoice", args=[draft.pk])).content.decode()
    assert "Less deposit invoice I-2026-0001" in page
    bill = issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 18), by=office)
    assert bill.gross == 0
    page = client.get(reverse("invoice", args=[deposit.pk])).content.decode()
    assert "Deducted" in page
    assert "I-2026-0002</a>" in page
    address = reverse("invoice_credit", args=[deposit.pk])
    told = {"whole": "on", "reason": "The stay is over.", "issued_on": "2026-06-30"}
    shown = client.post(address, told).content.decode()
    rest = D("253.87")  # 300.00 less 37.50 for intake and a month, and 8.63 VAT
    assert "over \u20ac253.87" in shown
    client.post(address, told | {"gross": str(rest)})
    assert CreditNote.objects.get().gross == rest
    assert "Give back what is left" not in client.get(reverse("invoice", args=[deposit.pk])).content.decode()
    assert [row.words for row in account_rows(payer)] == [
        "Deposit invoice I-2026-0001",
        "Payment, bank transfer",
        "Invoice I-2026-0002",
        "Credit note C-2026-0001 to deposit invoice I-2026-0001",
    ]
    account = client.get(reverse("account", args=[payer.pk])).content.decode()
    assert "Deposits not used up" not in account


def test_the_account_lists_what_is_left_of_deposits_and_money_its_file(
    client: Client, office: Person, payer: Party
) -> None:
    posted(client, payer)
    record_payment(party=payer, amount=D(100), on=JUNE_3, way="bank", at=at(3, 13), by=office)
    account = client.get(reverse("account", args=[payer.pk])).content.decode()
    assert "Deposits not used up" in account
    lines = client.get(reverse("money"), {"csv": "deposits"}).content.decode().splitlines()
    assert lines[1].split(",")[-3:] == ["100.00", "81.30", "100.00"]


def test_the_check_in_says_what_is_agreed_and_leads_to_it(
    client: Client, office: Person, payer: Party
) -> None:
    visit = a_visit(a_tree_of(payer), by=office)
    assert slots.pieces("receipt.deposit", visit, JUNE_3, office) == []
    (piece,) = slots.pieces("visit.deposit", visit, JUNE_3, office)
    assert (piece.facts.payer, piece.facts.sentences) == (payer.pk, [])
    assert slots.pieces("visit.deposit", visit, JUNE_3, PersonFactory()) == []
    posted(client, payer)
    (piece,) = slots.pieces("receipt.deposit", visit, JUNE_3, office)
    assert piece.facts == [
        "\u20ac300.00 on account, deposit invoice I-2026-0001 of Wed 3 June 2026, \u20ac300.00 of it still to be "
        "paid. Your bills deduct it once; what is left at the end is paid back or kept for you, as you wish. If "
        "the tree does not come, the terms decide."
    ]
    page = client.get(reverse("visit", args=[visit.pk])).content.decode()
    assert f'href="/people/{payer.pk}/deposit/"' in page


def test_the_prints_name_the_deposit(client: Client, office: Person, payer: Party, tmp_path) -> None:
    posted(client, payer)
    record_payment(party=payer, amount=D(300), on=JUNE_3, way="bank", at=at(3, 13), by=office)
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 18), by=office)
    asked, bill = (
        text_of(paper, tmp_path) for paper in (one.paper for one in Invoice.objects.order_by("pk"))
    )
    for words in ("Deposit invoice I-2026-0001", "due at once", "243.90", "56.10", "300.00", "before supply"):
        assert words in asked, words
    # Intake 12.00 and a month of class 2 at 25.50.
    for words in ("Net before deposits", "37.50", "Less deposit invoice I-2026-0001", "8.63", "0.00"):
        assert words in bill, words


def text_of(paper, folder) -> str:
    file = folder / f"{paper.number}.pdf"
    file.write_bytes(papers_render.pdf(paper))
    made = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True, check=True)
    return made.stdout
