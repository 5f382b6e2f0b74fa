"""The file of an issued invoice, through the real actions, against what others wrote to read it.

Sources: schemas and rules of EN 16931 as in test_e_invoice.py; PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1) by
page-validation 0.11.0; structure and attachment by pikepdf 10.18.0; the payment code by zbarimg.
"""

import datetime as dt
import io
import subprocess
from decimal import Decimal
from pathlib import Path

import page
import pikepdf
import pytest

from invoicing import cii, ubl
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.customers import treat_vat
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.e_invoice import from_words
from invoicing.models import Invoice
from invoicing.overviews.credits import in_full, reckon
from nursery import papers_render
from nursery.models import Paper, Party, VatRate
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    at,
    worked_stay,
)
from tests.outside.en16931 import Rules, against_schema

pytestmark = [
    pytest.mark.django_db,
    # The PDF library leaves its colour profile open; nothing of ours.
    pytest.mark.filterwarnings("ignore:unclosed file.*sRGB2014:ResourceWarning"),
]
JUNE_30 = dt.date(2026, 6, 30)
FX = "{urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#}"


def issued_to(payer: Party) -> Paper:
    office = PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 17), by=office)
    bill = issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 17), by=office)
    return Paper.objects.get(pk=bill.paper.pk)


def private() -> Party:
    return worked_stay().payer


def business() -> Party:
    """Two trees, an order, minutes not charged, half a minute's share, and a plant at the reduced rate."""
    payer = a_customer("Bog Road Gardens", kind="business", vat_number="IE8256796U", order_reference="PO 77")
    stay = StayFactory(owner=payer)
    work = ActivityFactory(name="Scrubbing")
    EntryFactory(stay=stay, activity=work, quantity=Decimal("32.5"))
    EntryFactory(stay=stay, activity=work, kind="not_charged", quantity=10, reason="our mistake")
    VatRate.objects.create(key="R", valid_from=dt.date(2026, 1, 1), percent="13.5")
    plant = MaterialFactory(name="Accent plant", vat_key="R", cost_net="14.40")
    EntryFactory(
        stay=StayFactory(owner=payer), kind="material", activity=None, material=plant, quantity=1, unit="pc"
    )
    return payer


def accounting_for_the_vat() -> Party:
    """A customer abroad, one of whose lines is under reverse charge."""
    payer = a_customer("Tuinen aan de Vecht", kind="business", vat_number="NL123456782B90")
    VatRate.objects.create(key="AE", valid_from=dt.date(2026, 1, 1), percent=0, wording="Reverse charge.")
    mulch = MaterialFactory(name="Mulch", vat_key="AE", unit="l")
    EntryFactory(
        stay=StayFactory(owner=payer), kind="material", activity=None, material=mulch, quantity=2, unit="l"
    )
    return payer


@pytest.mark.parametrize(
    ("key", "reason", "named"),
    [
        ("AE", "Reverse charge.", True),
        ("K", "Intra-Community supply.", True),
        ("G", "Export outside the European Union.", True),
        ("O", "Outside the scope of VAT.", False),  # BR-O-2: no VAT number beside it
        ("E", "Exempt, as the provision says.", True),
        ("Z", "", True),
    ],
)
def test_a_customer_treated_in_another_way_passes_with_the_reason(
    rules: Rules, key: str, reason: str, named: bool
) -> None:
    payer = a_customer("Tuinen aan de Vecht", kind="business", vat_number="NL123456782B90")
    StayFactory(owner=payer)
    VatRate.objects.create(key=key, valid_from=dt.date(2026, 1, 1), percent=0, wording=reason or "Zero rate.")
    treat_vat(
        party=payer, key=key, since_on=dt.date(2026, 1, 1), reason="Abroad", vat_number=payer.vat_number,
        checked_on=dt.date(2026, 1, 1), at=at(3), by=PersonFactory(office=True),
    )  # fmt: skip
    told = from_words(issued_to(payer).words["e_invoice"])
    (vat,) = told.vat
    assert (vat.category, vat.reason, vat.net, vat.tax) == (key, reason, Decimal("37.50"), Decimal("0.00"))
    for syntax, xml in (("cii", cii.xml(told)), ("ubl", ubl.xml(told))):
        assert against_schema(xml) == []
        assert rules.broken(syntax, xml) == []
        assert (b"NL123456782B90" in xml) is named


@pytest.mark.parametrize("made", [private, business, accounting_for_the_vat], ids=lambda made: made.__name__)
def test_what_is_issued_passes_schema_and_rules(rules: Rules, made: object) -> None:
    told = from_words(issued_to(made()).words["e_invoice"])  # type: ignore[operator]
    for syntax, xml in (("cii", cii.xml(told)), ("ubl", ubl.xml(told))):
        assert against_schema(xml) == []
        assert rules.broken(syntax, xml) == []


@pytest.mark.parametrize("part", [False, True], ids=["all", "part"])
def test_a_credit_note_passes_too_and_names_the_invoice(rules: Rules, part: bool) -> None:
    """Two rates and minutes not charged: all of it, and ten minutes with the plant."""
    bill = Invoice.objects.get(paper=issued_to(business()))
    plant = bill.lines.get(words__startswith="Accent plant").pk
    scrub = bill.lines.get(words__startswith="Scrubbing").pk
    quantities = {scrub: Decimal(10), plant: Decimal(1)} if part else in_full(bill)
    note = issue_credit_note(
        invoice=bill,
        quantities=quantities,
        gross_seen=reckon(bill, quantities).gross,
        reason="It was agreed otherwise.",
        on=JUNE_30,
        at=at(30, 18),
        by=PersonFactory(office=True),
    )
    told = from_words(Paper.objects.get(pk=note.paper.pk).words["e_invoice"])
    assert (told.kind, told.earlier[0].number, told.gross) == ("381", "I-2026-0001", note.gross)
    # 10 min at 42.00 are 7.00 and 1.61; the plant 18.00 and 2.43
    assert (note.net, note.tax) == ((Decimal("25.00"), Decimal("4.04")) if part else (bill.net, bill.tax))
    for syntax, xml in (("cii", cii.xml(told)), ("ubl", ubl.xml(told))):
        assert against_schema(xml) == []
        assert rules.broken(syntax, xml) == []
    with pikepdf.open(io.BytesIO(papers_render.pdf(note.paper))) as file:
        assert file.attachments["factur-x.xml"].get_file().read_bytes() == cii.xml(told)


def on_account(gross: str, key: str = "S") -> tuple[Invoice, Paper]:
    """A deposit invoice of 3 June to a customer with the bill of two rates, paid."""
    payer, office = business(), PersonFactory(office=True)
    deposit = ask_deposit(
        payer=payer, gross=Decimal(gross), vat_key=key, on=dt.date(2026, 6, 3), at=at(3, 12), by=office
    )
    record_payment(
        party=payer, amount=deposit.gross, on=dt.date(2026, 6, 3), way="bank", at=at(3, 12), by=office
    )
    return deposit, issued_to(payer)


@pytest.mark.parametrize(
    ("gross", "due"),
    [("60.00", "72.05"), ("600.00", "20.43"), ("20.43", "111.62")],
    ids=["a part of the bill", "more than the bill", "the reduced rate alone"],
)
def test_a_deposit_its_bill_and_the_note_over_its_rest_pass_and_name_each_other(
    rules: Rules, gross: str, due: str
) -> None:
    """Of 90.75 net at 23 % and 18.00 at 13.5 %, 132.05; UNTDID 1001: 386 prepayment invoice, 380, 381."""
    deposit, paper = on_account(gross, "R" if gross == "20.43" else "S")
    told = [from_words(one.words["e_invoice"]) for one in (deposit.paper, paper)]
    assert [(one.kind, [before.number for before in one.earlier]) for one in told] == [
        ("386", []), ("380", ["I-2026-0001"]),
    ]  # fmt: skip
    assert told[1].due == Decimal(due)
    quantities = in_full(deposit)
    if quantities:
        note = issue_credit_note(
            invoice=deposit, quantities=quantities, gross_seen=reckon(deposit, quantities).gross,
            reason="The stay is over.", on=JUNE_30, at=at(30, 18), by=PersonFactory(office=True),
        )  # fmt: skip
        told.append(from_words(note.paper.words["e_invoice"]))
        assert (told[2].kind, told[2].earlier[0].number) == ("381", "I-2026-0001")
    for one in told:
        for syntax, xml in (("cii", cii.xml(one)), ("ubl", ubl.xml(one))):
            assert against_schema(xml) == []
            assert rules.broken(syntax, xml) == []


def test_the_file_is_archive_print_and_data_in_one(tmp_path: Path) -> None:
    paper = issued_to(private())
    made = papers_render.pdf(paper)
    assert made == papers_render.pdf(Paper.objects.get(pk=paper.pk))
    for profile in ("3a", "ua1"):
        report = page.validate_pdf_bytes(made, profile=profile)
        assert [(failure.rule_id, failure.message) for failure in report.failures] == []
    with pikepdf.open(io.BytesIO(made)) as file:
        it_carries_the_xml(file, cii.xml(from_words(paper.words["e_invoice"])))
        it_says_what_it_is(file)
        it_reads_the_code_aloud(file)
    assert code_on(made, tmp_path).split("\n") == [
        "BCD", "002", "1", "SCT", "AIBKIE2D", "Derrynavail Nursery", "IE29AIBK93115212345678", "EUR272.57", "",
        "RF47I20260001",
    ]  # fmt: skip


def it_carries_the_xml(file: pikepdf.Pdf, xml: bytes) -> None:
    assert list(file.attachments) == ["factur-x.xml"]
    carried = file.attachments["factur-x.xml"]
    assert carried.get_file().read_bytes() == xml
    assert carried.get_file().mime_type in ("text/xml", "application/xml")
    assert carried.obj.AFRelationship == pikepdf.Name.Alternative
    assert [entry.objgen for entry in file.Root.AF] == [carried.obj.objgen]


def it_says_what_it_is(file: pikepdf.Pdf) -> None:
    assert "/Filter" not in file.Root.Metadata
    assert file.Root.Metadata.read_bytes().count(b"<rdf:RDF") == 1
    with file.open_metadata(update_docinfo=False) as told:
        assert (told["pdfaid:part"], told["pdfaid:conformance"], told["pdfuaid:part"]) == ("3", "A", "1")
        names = ("DocumentType", "DocumentFileName", "Version", "ConformanceLevel")
        assert [told[FX + name] for name in names] == ["INVOICE", "factur-x.xml", "1.0", "EN 16931"]
        assert told["dc:title"] == "Invoice I-2026-0001"
    assert str(file.Root.Lang) == "en-IE"
    assert file.Root.MarkInfo.Marked
    assert file.Root.ViewerPreferences.DisplayDocTitle
    assert file.Root.OutputIntents[0].S == pikepdf.Name.GTS_PDFA1


def it_reads_the_code_aloud(file: pikepdf.Pdf) -> None:
    elements = [one for one in file.objects if isinstance(one, pikepdf.Dictionary)]
    figures = [str(one.Alt) for one in elements if one.get("/S") == pikepdf.Name.Figure]
    assert figures == [
        "Payment code for a banking app: \u20ac272.57 to Derrynavail Nursery, "
        "IBAN IE29 AIBK 9311 5212 3456 78, reference RF47 I202 6000 1"
    ]


def code_on(made: bytes, folder: Path) -> str:
    (folder / "bill.pdf").write_bytes(made)
    subprocess.run(["pdftoppm", "-r", "150", "-gray", folder / "bill.pdf", folder / "bill"], check=True)
    read = [
        subprocess.run(["zbarimg", "-q", "--raw", one], capture_output=True, text=True, check=False).stdout
        for one in sorted(folder.glob("bill-*.pgm"))
    ]
    (found,) = [text.rstrip("\n") for text in read if text]
    return found
