"""The e-invoice: frozen with the words, the same in the PDF and on the page, and why there is none."""

import datetime as dt
import io
from dataclasses import replace
from decimal import Decimal

import pytest
from pypdf import PdfReader

from invoicing import cii, payment_code
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.e_invoice import as_words, exemption, from_words, lacks
from invoicing.factur_x import enclosure
from invoicing.models import Invoice
from nursery import papers_render
from nursery.models import Nursery, Paper, Party, VatRate
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    an_issued_invoice,
    at,
)
from tests.outside.e_invoices import DOCUMENTS, NUALA, vat

D = Decimal
JUNE_30 = dt.date(2026, 6, 30)
PRIVATE = DOCUMENTS["private"]

# --- Plain values ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_frozen_values_are_read_back_as_they_were(kind: str) -> None:
    assert from_words(as_words(DOCUMENTS[kind])) == DOCUMENTS[kind]


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_every_kind_that_the_standard_knows_lacks_nothing(kind: str) -> None:
    assert lacks(DOCUMENTS[kind]) == ""


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        (
            replace(PRIVATE, seller=replace(PRIVATE.seller, vat_number="")),
            "The nursery\u2019s VAT number was not written down when this was issued.",
        ),
        (
            replace(DOCUMENTS["reverse charge"], buyer=NUALA),
            "The customer accounts for the VAT, and the customer\u2019s VAT number was not written down.",
        ),
        (
            replace(PRIVATE, vat=(*PRIVATE.vat, vat("O 0", "5.00", "0.00"))),
            "It has lines outside the scope of VAT beside others, which the standard does not allow on one document.",
        ),
        (
            replace(DOCUMENTS["exempt"], vat=(vat("E 0", "133.00", "0.00"),)),
            "It has lines exempt from VAT, and the reason was not written at the VAT key.",
        ),
    ],
    ids=["seller's number", "buyer's number", "outside beside others", "exempt without reason"],
)
def test_why_there_is_none(told: object, sentence: str) -> None:
    assert lacks(told) == sentence  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("category", "wording", "reason"),
    [
        ("S", "Standard", ("", "")),
        ("Z", "", ("", "")),
        ("E", "Art. 132", ("Art. 132", "")),
        ("AE", "", ("Reverse charge", "VATEX-EU-AE")),
        ("AE", "Reverse charge: you account.", ("Reverse charge: you account.", "VATEX-EU-AE")),
        ("G", "", ("Export outside the European Union", "VATEX-EU-G")),
        ("K", "", ("Intra-Community supply", "VATEX-EU-IC")),
        ("O", "", ("Not subject to VAT", "VATEX-EU-O")),
    ],
)
def test_a_reason_stands_only_where_no_vat_is_charged(
    category: str, wording: str, reason: tuple[str, str]
) -> None:
    assert exemption(category, wording) == reason


def test_a_letter_that_xml_has_not_is_left_out_and_the_others_are_kept() -> None:
    text = cii.xml(DOCUMENTS["letters that XML minds"]).decode()
    assert "<ram:Name>Wire &lt;3 mm &amp; \u201csoft\u201d</ram:Name>" in text
    assert "<ram:Name>O\u2019Dowd &amp; Sons &lt;garden&gt;</ram:Name>" in text


@pytest.mark.parametrize("number", ["", "---", "I-2026-0047-0000000000000000"])
def test_no_reference_is_made_of_what_does_not_fit(number: str) -> None:
    with pytest.raises(ValueError, match="No reference can be made"):
        payment_code.reference(number)


@pytest.mark.parametrize("amount", ["0.00", "-5.00", "1000000000.00"])
def test_a_payment_code_says_no_amount_that_is_none(amount: str) -> None:
    assert not payment_code.can_say(currency="EUR", amount=D(amount), iban="IE29AIBK93115212345678")
    with pytest.raises(ValueError, match="cannot say"):
        payment_code.text(name="D", iban="IE29AIBK93115212345678", amount=D(amount), reference="RF45G72UUR")


def test_a_long_name_is_cut_where_the_code_ends() -> None:
    told = payment_code.text(
        name="N" * 90, iban="IE29AIBK93115212345678", amount=D(5), reference="RF45G72UUR"
    )
    assert told.split("\n")[5] == "N" * 70


# --- Issued documents ------------------------------------------------------------------------------------------------


def an_invoice_as_the_nursery_is(payer: Party) -> Invoice:
    StayFactory(owner=payer)
    office = PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 17), by=office)


def issued(kind: str = "private", **details: object) -> Invoice:
    return an_issued_invoice(a_customer(kind=kind, **details))


@pytest.mark.django_db
def test_what_is_frozen_are_the_figures_of_the_document() -> None:
    bill = issued("business", name="Bog Road Gardens", vat_number="IE8256796U", order_reference="PO 77")
    told = from_words(Paper.objects.get(pk=bill.paper.pk).words["e_invoice"])
    assert (told.kind, told.number, told.issued_on, told.due_on) == (
        "380",
        "I-2026-0001",
        JUNE_30,
        dt.date(2026, 7, 30),
    )
    # Intake 12.00 and 28 nights of class 2 at 25.50; 37.50 x 23 % = 8.625.
    assert [(line.words.split(",")[0], line.net, line.rate) for line in told.lines] == [
        ("Intake and condition report", D("12.00"), D("23.00")),
        ("Boarding class 2", D("25.50"), D("23.00")),
    ]
    assert (told.net, told.tax, told.gross, told.paid, told.due) == (
        D("37.50"),
        D("8.63"),
        D("46.13"),
        D("0.00"),
        D("46.13"),
    )
    assert (told.order, told.buyer.vat_number, told.buyer.town) == ("PO 77", "IE8256796U", "Wicklow")
    assert (told.buyer.phone, told.buyer.email) == ("", "")


@pytest.mark.django_db
def test_a_bill_without_our_vat_number_has_none() -> None:
    payer = a_customer()
    Nursery.objects.update(vat_number="")
    words = an_invoice_as_the_nursery_is(payer).paper.words
    assert words["e_invoice"] is None
    assert (
        words["e_invoice_lacks"] == "The nursery\u2019s VAT number was not written down when this was issued."
    )
    assert enclosure(words) is None


@pytest.mark.django_db
def test_a_material_outside_the_scope_beside_the_stay_has_no_place_in_the_standard() -> None:
    stay = StayFactory(owner=(payer := a_customer()))
    VatRate.objects.create(
        key="O", valid_from=dt.date(2026, 1, 1), percent=0, wording="Outside the scope of VAT."
    )
    stamp = MaterialFactory(name="Passport stamp", vat_key="O")
    EntryFactory(stay=stay, kind="material", activity=None, material=stamp, quantity=1, unit="pc")
    bill = an_invoice_as_the_nursery_is(payer)
    assert bill.paper.words["e_invoice_lacks"].startswith(
        "It has lines outside the scope of VAT beside others"
    )


@pytest.mark.django_db
def test_a_paper_from_before_still_prints() -> None:
    now = issued().paper
    words = {
        name: value
        for name, value in now.words.items()
        if name not in ("e_invoice", "e_invoice_lacks", "pay")
    }
    words["customer"] = {name: value for name, value in words["customer"].items() if name != "address"}
    old = Paper(kind="invoice", number=now.number, issued_at=now.issued_at, words=words)
    text = papers_render.html(old)
    assert '<th scope="row">Payment reference</th><td>I-2026-0001</td>' in text
    assert "<svg" not in text
    assert PdfReader(io.BytesIO(papers_render.pdf(old))).attachments == {}


# --- How to pay ------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_print_names_the_reference_and_what_the_code_says() -> None:
    text = papers_render.html(issued().paper)
    assert "RF47 I202 6000 1, or the number of this invoice" in text
    assert (
        "<title>Payment code for a banking app: \u20ac46.13 to Derrynavail Nursery, "
        "IBAN IE29 AIBK 9311 5212 3456 78, reference RF47 I202 6000 1</title>"
    ) in text


@pytest.mark.django_db
@pytest.mark.parametrize("change", [{"currency": "GBP"}, {"iban": ""}], ids=["not euro", "no account"])
def test_no_code_where_it_could_not_be_paid_by(change: dict[str, str]) -> None:
    payer = a_customer()
    Nursery.objects.update(**change)
    words = an_invoice_as_the_nursery_is(payer).paper.words
    assert words["pay"] == {"reference": "RF47 I202 6000 1", "code": None}


def paid_by_credit(amount: str) -> Invoice:
    payer, office = a_customer(), PersonFactory(office=True)
    record_payment(party=payer, amount=D(amount), on=JUNE_30, way="bank", at=at(30, 8), by=office)
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    return issue(
        invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 17), by=office, use_credit=True
    )


@pytest.mark.django_db
def test_what_is_paid_already_is_not_asked_for_again() -> None:
    words = paid_by_credit("40.00").paper.words
    told = from_words(words["e_invoice"])
    assert (told.gross, told.paid, told.due) == (D("46.13"), D("40.00"), D("6.13"))
    assert words["pay"]["code"]["text"].split("\n")[7] == "EUR6.13"


@pytest.mark.django_db
def test_a_bill_that_credit_pays_in_full_has_neither_code_nor_account() -> None:
    words = paid_by_credit("50.00").paper.words
    assert words["pay"]["code"] is None
    assert from_words(words["e_invoice"]).account is None
