"""What an invoice must contain, point by point, read back from the PDF by a library that did not make it.

Source: Council Directive 2006/112/EC, Article 226, points 1 to 11a (consolidated text). Points that the nursery
never meets (simplified schemes, new means of transport, travel agents: 226 (12) to (15)) are left out. The figures are
those of the worked stay, worked by hand. Whether a given bill satisfies the law where it is issued, an accountant says.
"""

import datetime as dt
import io
import re

import pytest
from pypdf import PdfReader

from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from nursery import papers_render
from nursery.models import Paper
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at, worked_stay

pytestmark = [
    pytest.mark.django_db,
    # The PDF library leaves its colour profile open; nothing of ours.
    pytest.mark.filterwarnings("ignore:unclosed file.*sRGB2014:ResourceWarning"),
]


def read_back(paper: Paper) -> str:
    reader = PdfReader(io.BytesIO(papers_render.pdf(paper)))
    text = "\n".join(page.extract_text() for page in reader.pages)
    return re.sub(r"[ \u00a0]+", " ", text)


@pytest.fixture
def private() -> str:
    worked = worked_stay()
    on = dt.date(2026, 6, 29)
    draft = draw_up(payer=worked.payer, up_to_on=on, at=at(29, 16), by=worked.office)
    bill = issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=at(29, 16), by=worked.office)
    return read_back(bill.paper)


def test_every_point_of_article_226(private: str) -> None:
    points = {
        "1, date of issue": "Mon 29 June 2026",
        "2, sequential number that identifies it": "I-2026-0001",
        "3, VAT number of the supplier": "VAT no. IE6388047V",
        "5, full name of the supplier": "Derrynavail Nursery",
        "5, full address of the supplier": "Old Mill Lane 4, Derrynavail, Co. Wicklow, A67 X0Y0",
        "5, full name of the customer": "Nuala Brackenridge",
        "5, full address of the customer": "Harbour Road 12\nWicklow\nCo. Wicklow",
        "6, extent of the services": "190 min",
        "6, nature of the services": "Scrubbing (95 + 65 + 30)",
        "7, dates on which they were supplied": "3\u201329 June 2026",
        "8, unit price without VAT": "42.00 / 60 min",
        "8, taxable amount per rate": "221.60",
        "9, rate applied": "23 %",
        "10, VAT payable": "50.97",
    }
    assert {point: words for point, words in points.items() if words not in private} == {}


def test_every_figure_of_the_worked_stay_is_read_back(private: str) -> None:
    wanted = [
        "12.00",
        "25.50",
        "12.60",
        "133.00",
        "14.00",
        "4.50",
        "10.50",
        "9.50",
        "221.60",
        "50.97",
        "272.57",
    ]
    assert [
        figure for figure in wanted if not re.search(rf"(?<![\d.]){re.escape(figure)}(?!\d)", private)
    ] == []
    assert "Amount due" in private
    assert "Mon 13 July 2026" in private
    assert "IBAN IE29 AIBK 9311 5212 3456 78" in private


def test_the_annex_says_who_worked_when_and_how_it_was_recorded(private: str) -> None:
    annex = private.split("Annex: time sheet")[1]
    rows = re.findall(
        r"(\w{3} \d+ June) (Scrubbing|Jetting|Inspection) (\d\d:\d\d) (\d\d:\d\d) (\d+) (\w+) by the clock",
        annex,
    )
    assert rows == [
        ("Thu 4 June", "Scrubbing", "08:00", "09:37", "95", "Aoife"),
        ("Thu 4 June", "Jetting", "10:00", "10:12", "10", "Aoife"),
        ("Thu 11 June", "Scrubbing", "08:00", "09:03", "65", "Aoife"),
        ("Thu 11 June", "Jetting", "10:00", "10:08", "10", "Aoife"),
        ("Thu 18 June", "Scrubbing", "08:00", "08:28", "30", "Aoife"),
        ("Fri 26 June", "Inspection", "11:00", "11:16", "15", "Aoife"),
    ]


def test_a_business_stands_with_its_vat_number_and_order_and_both_trees_with_subtotals() -> None:
    """Point 4, the customer's VAT number, where the customer accounts for the tax; printed for every business."""
    firm = a_customer(
        "Bog Road Gardens",
        kind="business",
        vat_number="IE8256796U",
        order_reference="PO 77",
        contact_name="Eilis Farrelly",
    )
    for code, size in (("DN0501", 2), ("DN0502", 3)):
        StayFactory(owner=firm, tree=a_tree_of(firm, code), size_class=size)
    on, office = dt.date(2026, 6, 30), PersonFactory(office=True)
    draft = draw_up(payer=firm, up_to_on=on, at=at(30, 17), by=office)
    text = read_back(
        issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=at(30, 17), by=office).paper
    )
    assert "VAT no. IE8256796U" in text
    assert "PO 77" in text
    assert "Thu 30 July 2026" in text
    subtotals = re.findall(r"Subtotal (DN-050\d), Olive \d+ ([\d.]+)", text)
    assert subtotals == [("DN-0501", "37.50"), ("DN-0502", "54.50")]


def test_the_same_paper_gives_the_same_file() -> None:
    StayFactory(owner=(payer := a_customer()))
    on, office = dt.date(2026, 6, 30), PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=on, at=at(30, 17), by=office)
    paper = issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=at(30, 17), by=office).paper
    assert papers_render.pdf(paper) == papers_render.pdf(Paper.objects.get(pk=paper.pk))
