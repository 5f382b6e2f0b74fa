"""The e-invoice as a file on the page of an invoice."""

import io

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from invoicing import ubl
from invoicing.actions.drafts import draw_up
from invoicing.e_invoice import from_words
from invoicing.models import Invoice
from nursery import papers_render
from nursery.models import Nursery, Paper
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, an_issued_invoice, at

pytestmark = [
    pytest.mark.django_db,
    # The PDF library leaves its colour profile open; nothing of ours.
    pytest.mark.filterwarnings("ignore:unclosed file.*sRGB2014:ResourceWarning"),
]


@pytest.fixture
def office(client: Client) -> Client:
    client.force_login(PersonFactory(office=True), backend="django.contrib.auth.backends.ModelBackend")
    return client


def page_of(office: Client, bill: Invoice) -> str:
    return office.get(reverse("invoice", args=[bill.pk])).content.decode()


def test_pdf_and_download_are_the_same_bytes(office: Client) -> None:
    bill = an_issued_invoice()
    answer = office.get(reverse("invoice_cii", args=[bill.pk]))
    assert answer["Content-Disposition"] == 'attachment; filename="I-2026-0001-cii.xml"'
    assert answer["Content-Type"] == "application/xml"
    carried = PdfReader(io.BytesIO(papers_render.pdf(bill.paper))).attachments
    assert carried == {"factur-x.xml": [answer.content]}


def test_the_other_syntax_says_the_same_frozen_words(office: Client) -> None:
    bill = an_issued_invoice()
    answer = office.get(reverse("invoice_ubl", args=[bill.pk]))
    assert answer["Content-Disposition"] == 'attachment; filename="I-2026-0001-ubl.xml"'
    assert answer.content == ubl.xml(from_words(bill.paper.words["e_invoice"]))


def test_the_page_offers_both_files(office: Client) -> None:
    bill = an_issued_invoice()
    page = page_of(office, bill)
    assert f'href="/invoices/{bill.pk}/cii/"' in page
    assert f'href="/invoices/{bill.pk}/ubl/"' in page
    assert "There is no e-invoice" not in page


def test_a_draft_has_none(office: Client) -> None:
    StayFactory(owner=(payer := a_customer()))
    draft = draw_up(payer=payer, up_to_on=at(30).date(), at=at(30, 17), by=PersonFactory(office=True))
    answer = office.get(reverse("invoice_ubl", args=[draft.pk]), follow=True)
    assert "There is no e-invoice of this; its page says why." in answer.content.decode()


def test_a_bill_without_our_vat_number_says_why_it_has_none(office: Client) -> None:
    payer = a_customer()
    numbers = Nursery.objects.filter(pk=1)
    numbers.update(vat_number="")
    page = page_of(office, an_issued_invoice(payer))
    assert "The nursery\u2019s VAT number was not written down when this was issued." in page
    assert "/cii/" not in page


def test_a_bill_from_before_says_so(office: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """The guards forbid to change its words, so the words are taken away while it is read."""
    bill = an_issued_invoice()
    read = Paper.from_db

    def as_it_was(*row: object) -> Paper:
        paper = read(*row)  # type: ignore[arg-type]
        for name in ("e_invoice", "e_invoice_lacks", "pay"):
            paper.words.pop(name, None)
        return paper

    monkeypatch.setattr(Paper, "from_db", as_it_was)
    assert "It was issued before e-invoices were made." in page_of(office, bill)
