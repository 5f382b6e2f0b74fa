"""A customer's own VAT treatment: on the bill, from its day of supply on, and who may be treated how.

Figures worked by hand. What a document without VAT must name: Directive 2006/112/EC, Art. 226 (4), (11) and (11a).
"""

import datetime as dt
import io
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from pypdf import PdfReader

from invoicing.actions.customers import treat_vat
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice, VatTreatment
from nursery import papers_render, slots
from nursery.models import AuditRow, Party, VatRate
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import EntryFactory, MaterialFactory, StayFactory, a_customer, at

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_1, JUNE_30 = dt.date(2026, 6, 1), dt.date(2026, 6, 30)
ACCOUNTS = {"vat_number": "NL123456782B90", "checked_on": JUNE_1}


@pytest.fixture(autouse=True)
def keys() -> None:
    for key, wording in (("AE", "Reverse charge."), ("O", "Outside the scope of VAT."), ("E", "")):
        VatRate.objects.create(key=key, valid_from=dt.date(2020, 1, 1), percent=0, wording=wording)


def with_work(payer: Party) -> Party:
    """12.00 intake, 42.50 for 28 nights of class 3, and 354.70 of material: 409.20."""
    stay = StayFactory(owner=payer, size_class=3)
    frame = MaterialFactory(name="Winter frame", cost_net="283.76")
    EntryFactory(stay=stay, kind="material", activity=None, material=frame, quantity=1, unit="pc")
    return payer


def treated(payer: Party, key: str = "AE", since_on: dt.date = JUNE_1, **more: object) -> VatTreatment:
    told = {"reason": "Business in another EU state", **(ACCOUNTS if key == "AE" else {}), **more}
    return treat_vat(party=payer, key=key, since_on=since_on, at=at(2), by=PersonFactory(office=True), **told)  # type: ignore[arg-type]


def issued(payer: Party) -> Invoice:
    office = PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 17), by=office)


def test_a_business_in_another_state_accounts_for_the_vat_itself() -> None:
    payer = with_work(a_customer("Tuinen aan de Vecht", kind="business"))
    treated(payer)
    bill = issued(payer)
    assert (bill.net, bill.tax, bill.gross) == (D("409.20"), D("0.00"), D("409.20"))
    assert {line.vat_key for line in bill.lines.all()} == {"AE"}
    assert bill.buyer["vat_number"] == "NL123456782B90"
    told = bill.paper.words
    assert [(row["key"], row["wording"]) for row in told["vat"]] == [("AE", "Reverse charge.")]
    assert [(row["category"], row["reason"]) for row in told["e_invoice"]["vat"]] == [
        ("AE", "Reverse charge.")
    ]
    pages = PdfReader(io.BytesIO(papers_render.pdf(bill.paper))).pages
    text = " ".join(page.extract_text() for page in pages)
    assert "Reverse charge." in text
    assert "NL123456782B90" in text


def test_a_private_person_from_there_bears_the_vat_of_here() -> None:
    bill = issued(with_work(a_customer("Wilma Kranenburg")))
    assert (bill.net, bill.tax, bill.gross) == (D("409.20"), D("94.12"), D("503.32"))


@pytest.mark.engine
def test_the_day_of_supply_decides_and_what_was_written_last_for_a_day_holds() -> None:
    """21 nights of class 3 are 36.75: 10 before 13 June, 11 from it on; 17.50 + 12.00 intake bear 23 %, 6.79."""
    payer = a_customer("Tuinen aan de Vecht", kind="business")
    StayFactory(owner=payer, size_class=3, left_at=at(24), state="handed_back")
    treated(payer, "O", dt.date(2026, 6, 13), reason="mistyped")
    treated(payer, "AE", dt.date(2026, 6, 13))
    bill = issued(payer)
    assert [(one.vat_key, one.net, one.tax) for one in bill.taxes.order_by("-percent")] == [
        ("S", D("29.50"), D("6.79")),
        ("AE", D("33.25"), D("0.00")),
    ]
    treated(payer, "", dt.date(2026, 7, 1), reason="moved here")
    StayFactory(
        owner=payer, size_class=3, received_at=at(3, month=7), left_at=at(24, month=7), state="handed_back"
    )
    office = PersonFactory(office=True)
    later = draw_up(payer=payer, up_to_on=dt.date(2026, 7, 31), at=at(31, month=7), by=office)
    assert {line.vat_key for line in later.lines.all()} == {"S"}


def test_deposit_and_receipt_follow_the_treatment() -> None:
    payer = a_customer("Tuinen aan de Vecht", kind="business")
    stay = StayFactory(owner=payer)
    treated(payer)
    office = PersonFactory(office=True)
    deposit = ask_deposit(payer=payer, gross=D("100.00"), vat_key="S", on=JUNE_30, at=at(30), by=office)
    assert [(one.vat_key, one.net, one.tax) for one in deposit.taxes.all()] == [
        ("AE", D("100.00"), D("0.00"))
    ]
    (piece,) = slots.pieces("isolation.price", stay, JUNE_30, None)
    assert piece.facts == "The surcharge is \u20ac0.60 a night, without VAT."


@pytest.mark.parametrize(
    ("kind", "told", "code"),
    [
        ("business", {"reason": " "}, "no-reason"),
        ("business", {"key": "G"}, "no-rate"),
        ("business", {"key": "E"}, "no-wording"),
        ("business", {"since_on": dt.date(2019, 12, 31)}, "no-rate"),
        ("private", {}, "private"),
        ("business", {"vat_number": ""}, "no-number"),
        ("business", {"checked_on": None}, "not-checked"),
        ("business", {"checked_on": dt.date(2026, 6, 3)}, "future"),
    ],
)  # fmt: skip
def test_what_cannot_be_written_down(kind: str, told: dict[str, object], code: str) -> None:
    payer = a_customer("Tuinen aan de Vecht", kind=kind)
    with pytest.raises(Refused) as refused:
        treated(payer, **{"key": "AE", **ACCOUNTS, **told})  # type: ignore[arg-type]
    assert refused.value.code == code
    assert not VatTreatment.objects.exists()


def test_it_is_written_on_the_page_with_who_and_why(client) -> None:
    payer = a_customer("Tuinen aan de Vecht", kind="business")
    client.force_login(PersonFactory(office=True))
    page = reverse("party_vat", args=[payer.pk])
    asked = {
        "key": "AE",
        "since_on": "2026-06-01",
        "reason": "Other EU state",
        "vat_number": "NL123456783B90",
    }
    wrong = client.post(page, asked)
    assert "NL123456783B90" in wrong.content.decode()
    assert list(wrong.context["form"].errors) == ["vat_number"]
    asked |= {"vat_number": "nl 123456782 b90", "checked_on": "2026-06-01"}
    assert client.post(page, asked).status_code == 302
    row = payer.vat_treatments.get()
    assert (row.key, row.vat_number, row.checked_on) == ("AE", "NL123456782B90", JUNE_1)
    payer.refresh_from_db()
    assert (payer.vat_number, payer.vat_checked_on) == ("NL123456782B90", JUNE_1)
    trail = AuditRow.objects.get(verb="wrote a VAT treatment down")
    assert (trail.after["vat"], trail.reason) == ("Reverse charge", "Other EU state")
    assert (
        "Reverse charge, from Mon 1 June 2026: Other EU state"
        in client.get(reverse("party", args=[payer.pk])).content.decode()
    )
    assert "looked up Mon 1 June 2026" in client.get(page).content.decode()


@pytest.mark.engine
@pytest.mark.parametrize(
    "wrong",
    [{"key": "S"}, {"reason": ""}, {"vat_number": ""}, {"checked_on": None}],
    ids=["a taxed key", "no reason", "no number", "not checked"],
)
def test_the_database_refuses(wrong: dict[str, object]) -> None:
    row = treated(a_customer("Tuinen aan de Vecht", kind="business"))
    values = {
        name: getattr(row, name) for name in ("party", "since_on", "key", "reason", "noted_at", "noted_by")
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        VatTreatment.objects.create(**(values | ACCOUNTS | wrong))
    with pytest.raises(IntegrityError), transaction.atomic():
        VatTreatment.objects.filter(pk=row.pk).update(reason="other")
    with pytest.raises(IntegrityError), transaction.atomic():
        VatRate.objects.create(key="K", valid_from=JUNE_1, percent=5)
