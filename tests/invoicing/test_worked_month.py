"""The worked month to its last cent: two trees, one bill, and the statement that ends at nothing."""

import datetime as dt
import io
import re
from decimal import Decimal as D

import pikepdf
import pytest
from lxml import etree
from pypdf import PdfReader

from invoicing.actions.receipts import issue_statement
from invoicing.models import InvoiceAccount
from invoicing.overviews.account import account_page, statement
from nursery import papers_render
from tests.factories_invoicing import at
from tests.told_once import retold, told_once
from tests.worked_month import to_the_end, worked_month

pytestmark = [pytest.mark.django_db, pytest.mark.engine]

PINE_BOARDING = "Boarding class 3, 3–30 June 2026, 28 nights at month price (stay continues)"
LINES = [
    ("DN-0412", "Intake and condition report", "1.0", "12.0000", 1, "12.00", "S"),
    ("DN-0412", "Boarding class 2, 3–29 June 2026, 26 nights at month price", "1.0", "25.5000", 1, "25.50", "S"),
    ("DN-0412", "Isolation surcharge, 3–23 June 2026", "21.0", "0.6000", 1, "12.60", "S"),
    ("DN-0412", "Scrubbing (95 + 65 + 30)", "190.0", "42.0000", 60, "133.00", "S"),
    ("DN-0412", "Jetting (10 + 10)", "20.0", "42.0000", 60, "14.00", "S"),
    ("DN-0412", "Spraying (2.5 + 2.5 + 2.5)", "7.5", "48.0000", 60, "6.00", "S"),
    ("DN-0412", "Product", "27.6", "47.5000", 1000, "1.31", "S"),
    ("DN-0412", "Wash material", "3.0", "1.5000", 1, "4.50", "S"),
    ("DN-0412", "Inspection", "15.0", "42.0000", 60, "10.50", "S"),
    ("DN-0412", "Not charged: instruction of a new grower, 4 June", "-20.0", "42.0000", 60, "-14.00", "S"),
    ("DN-0412", "Above agreed cap of 150.00, not charged", "-1.0", "5.3100", 1, "-5.31", "S"),
    ("DN-0412", "Packing class 2", "1.0", "9.5000", 1, "9.50", "S"),
    ("DN-0413", "Intake and condition report", "1.0", "12.0000", 1, "12.00", "S"),
    ("DN-0413", PINE_BOARDING, "1.0", "42.5000", 1, "42.50", "S"),
    ("DN-0413", "Needle cleaning (85 + 45)", "130.0", "46.0000", 60, "99.67", "S"),
    ("DN-0413", "Wiring (150 + 120)", "270.0", "58.0000", 60, "261.00", "S"),
    ("DN-0413", "Wire", "240.0", "27.5000", 1000, "6.60", "S"),
    ("DN-0413", "Spraying", "5.0", "48.0000", 60, "4.00", "S"),
    ("DN-0413", "Product", "18.4", "47.5000", 1000, "0.87", "S"),
    ("DN-0413", "Accent plant", "1.0", "18.0000", 1, "18.00", "R"),
    ("DN-0413", "Goodwill: a missed call", "-1.0", "5.0000", 1, "-5.00", "S"),
]  # fmt: skip


def rows_of(draft):
    names = ("tree_words", "words", "quantity", "price_net", "base_quantity", "net", "vat_key")
    rows = draft.lines.order_by("position").values_list(*names)
    return [(tree[:7], words, str(many), str(price), base, str(net), key)
            for tree, words, many, price, base, net, key in rows]  # fmt: skip


DEDUCTED = "Less deposit invoice I-2026-0031 of Wed 3 June 2026; VAT of 56.10 was charged there"
LESS = ("Deposit", DEDUCTED, "-1.0", "243.9000", 1, "-243.90", "S")
JULY_24 = dt.date(2026, 7, 24)
STATEMENT = [
    ("2026-06-03", "Deposit invoice I-2026-0031", "300.00", None, "300.00"),
    ("2026-06-03", "Payment, bank transfer", None, "300.00", "0.00"),
    ("2026-06-30", "Invoice I-2026-0047", "496.86", None, "496.86"),
    ("2026-07-10", "Payment, bank transfer", None, "300.00", "196.86"),
    ("2026-07-12", "Invoice I-2026-0052", "42.13", None, "238.99"),
    ("2026-07-14", "Credit note C-2026-0004 to invoice I-2026-0047", None, "47.56", "191.43"),
    ("2026-07-20", "Payment, bank transfer", None, "150.00", "41.43"),
    ("2026-07-24", "Payment, bank transfer", None, "41.43", "0.00"),
]


def text_of(paper):
    pages = PdfReader(io.BytesIO(papers_render.pdf(paper))).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def plain(amount):
    return None if amount is None else str(amount)


def figures_in_the_file(paper):
    """Line total, tax, gross and amount due of the XML that the PDF carries, and its deducted or corrected document."""
    with pikepdf.open(io.BytesIO(papers_render.pdf(paper))) as file:
        xml = etree.fromstring(file.attachments["factur-x.xml"].get_file().read_bytes())
    sums = xml.find(".//{*}SpecifiedTradeSettlementHeaderMonetarySummation")
    names = ("LineTotalAmount", "TaxTotalAmount", "GrandTotalAmount", "DuePayableAmount")
    earlier = xml.findtext(".//{*}InvoiceReferencedDocument/{*}IssuerAssignedID")
    return (
        [sums.findtext(f"{{*}}{name}") for name in names],
        earlier,
        len(xml.findall(".//{*}IncludedSupplyChainTradeLineItem")),
    )


def tell():
    month = worked_month()
    return month, *to_the_end(month)


told = told_once(tell)


@pytest.fixture
def ended(told, db, settings):
    return retold(told, settings)


def test_the_deposit_of_3_june(ended):
    month, *_ = ended
    asked = month.payer.invoices.get(number="I-2026-0031")
    assert (asked.net, asked.tax, asked.gross) == (D("243.90"), D("56.10"), D("300.00"))
    assert figures_in_the_file(asked.paper) == (["243.90", "56.10", "300.00", "300.00"], None, 1)


def test_the_bill_of_june_line_by_line(ended):
    _, june, _, _ = ended
    assert june.number == "I-2026-0047"
    assert rows_of(june) == [*LINES, LESS]
    sums = {
        tree: sum(D(row[5]) for row in rows_of(june) if row[0] == tree) for tree in ("DN-0412", "DN-0413")
    }
    assert sums == {"DN-0412": D("209.60"), "DN-0413": D("439.64")}
    taxes = [(one.vat_key, one.percent, one.net, one.tax) for one in june.taxes.order_by("-percent")]
    assert taxes == [
        ("S", D("23.00"), D("387.34"), D("89.09")), ("R", D("13.50"), D("18.00"), D("2.43"))
    ]  # fmt: skip
    assert (june.net, june.tax, june.gross) == (D("405.34"), D("91.52"), D("496.86"))


def test_its_print_and_its_file_say_the_same(ended):
    _, june, _, _ = ended
    text = text_of(june.paper)
    for said in (
        "I-2026-0047", "209.60", "439.64", "Work at rates 169.31", "Work before cap 155.31", "243.90",
        "387.34", "89.09", "2.43", "405.34", "91.52", "€496.86", "Subtotal",
    ):  # fmt: skip
        assert said in text, said
    assert figures_in_the_file(june.paper) == (["405.34", "91.52", "496.86", "496.86"], "I-2026-0031", 22)


def test_the_bill_of_july_is_the_whole_stay_less_what_was_billed(ended):
    """39 nights of class 3 are 62.75; 42.50 of them stood on the bill of June."""
    _, _, july, _ = ended
    assert [(row[1].partition(",")[0], row[5]) for row in rows_of(july)] == [
        ("Boarding class 3", "20.25"), ("Packing class 3", "14.00")
    ]  # fmt: skip
    assert (july.number, july.net, july.tax, july.gross) == ("I-2026-0052", D("34.25"), D("7.88"), D("42.13"))
    assert figures_in_the_file(july.paper)[0] == ["34.25", "7.88", "42.13", "42.13"]


def test_the_credit_for_forty_minutes_of_wiring(ended):
    _, _, _, note = ended
    assert (note.number, note.net, note.tax, note.gross) == ("C-2026-0004", D("38.67"), D("8.89"), D("47.56"))
    assert figures_in_the_file(note.paper)[:2] == (["38.67", "8.89", "47.56", "47.56"], "I-2026-0047")
    assert "47.56" in text_of(note.paper)


def test_the_account_ends_at_nothing(ended):
    month, *_ = ended
    lines = statement(month.payer, dt.date(2026, 6, 1), JULY_24).rows
    rows = [
        (one.day.isoformat(), one.words, *map(plain, (one.billed, one.paid, one.balance))) for one in lines
    ]
    assert rows == STATEMENT
    assert account_page(month.payer, JULY_24).balance == D("0.00")
    assert account_page(month.payer, JULY_24).credit == D("0.00")
    accounts = InvoiceAccount.objects.order_by("invoice__number").values_list("invoice__number", "settled_on")
    assert [(number, day.isoformat()) for number, day in accounts] == [
        ("I-2026-0031", "2026-06-03"), ("I-2026-0047", "2026-07-20"), ("I-2026-0052", "2026-07-24"),
    ]  # fmt: skip


def test_the_payment_of_20_july_is_split_oldest_first(ended):
    month, *_ = ended
    payment = month.payer.payments.get(amount_gross="150.00")
    split = payment.allocations.order_by("pk").values_list("invoice__number", "amount_gross")
    assert list(split) == [("I-2026-0047", D("149.30")), ("I-2026-0052", D("0.70"))]


def test_the_statement_on_paper(ended):
    month, *_ = ended
    paper = issue_statement(
        party=month.payer, from_on=dt.date(2026, 6, 3), until_on=JULY_24, at=at(24, 18, month=7), by=month.office
    )  # fmt: skip
    text = text_of(paper)
    for said in ("496.86", "196.86", "238.99", "191.43", "41.43", "0.00", "C-2026-0004", "I-2026-0052"):
        assert said in text, said
    assert paper.words["closing"].endswith("0.00")
