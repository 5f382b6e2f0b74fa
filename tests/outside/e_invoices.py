"""Kinds of document for the e-invoice, every figure worked by hand: what the nursery issues today, and what it will.

Line nets are quantity x price / base quantity, half up; VAT is rounded once for each category and rate.
"""

import datetime as dt
from decimal import Decimal as D

from invoicing.e_invoice import Account, Earlier, EInvoice, Kind, Line, Side, VatSum, exemption

FIRST, LAST, ISSUED = dt.date(2026, 6, 3), dt.date(2026, 6, 29), dt.date(2026, 6, 30)
NURSERY = Side(
    name="Derrynavail Nursery",
    country="IE",
    street="Old Mill Lane 4",
    town="Derrynavail",
    county="Co. Wicklow",
    postcode="A67 X0Y0",
    vat_number="IE6388047V",
    phone="+353 404 00 000",
    email="office@derrynavail.example",
)
NUALA = Side(
    name="Nuala Brackenridge", country="IE", street="Harbour Road 12", town="Wicklow", county="Co. Wicklow"
)
FIRM = Side(
    name="Bog Road Gardens",
    country="IE",
    street="Bog Road 1",
    town="Arklow",
    postcode="Y14 XX00",
    vat_number="IE8256796U",
    contact="Eilis Farrelly",
)
ABROAD = Side(
    name="Tuinen aan de Vecht", country="NL", street="Kade 5", town="Weesp", postcode="1382 AA",
    vat_number="NL123456782B90",
)  # fmt: skip
OUT_OF_UNION = Side(name="Fjordhagen", country="NO", street="Strandgata 2", town="Bergen", postcode="5004")
ACCOUNT = Account("IE29AIBK93115212345678", "Derrynavail Nursery", "AIBKIE2D")


def line(
    number: int,
    words: str,
    quantity: str,
    unit: str,
    price: str,
    net: str,
    key: str = "S 23",
    base: str = "1",
) -> Line:
    category, rate = key.split()
    return Line(
        str(number), words, "DN-0412, Olive", D(quantity), unit, D(price), D(base), D(net), category, D(rate),
        FIRST, LAST,
    )  # fmt: skip


def vat(key: str, net: str, tax: str, wording: str = "") -> VatSum:
    category, rate = key.split()
    return VatSum(category, D(rate), D(net), D(tax), *exemption(category, wording))


def document(lines: list[Line], sums: list[VatSum], gross: str, due: str = "", **more: object) -> EInvoice:
    told: dict[str, object] = {
        "kind": Kind.INVOICE,
        "number": "I-2026-0047",
        "issued_on": ISSUED,
        "due_on": dt.date(2026, 7, 14),
        "from_on": FIRST,
        "until_on": LAST,
        "currency": "EUR",
        "seller": NURSERY,
        "buyer": NUALA,
        "lines": tuple(lines),
        "vat": tuple(sums),
        "net": sum((one.net for one in sums), D("0.00")),
        "tax": sum((one.tax for one in sums), D("0.00")),
        "gross": D(gross),
        "due": D(due or gross),
        "paid": D(gross) - D(due or gross),
        "reference": "RF66I20260047",
        "account": ACCOUNT,
    }
    return EInvoice(**(told | more))  # type: ignore[arg-type]


INTAKE = line(1, "Intake and condition report", "1", "C62", "12.00", "12.00")
SCRUB = line(2, "Scrubbing (95 + 65 + 30)", "190", "MIN", "42.00", "133.00", base="60")
SOAP = line(3, "Product", "27.6", "MLT", "47.50", "1.31", base="1000")
WIRE = line(4, "Wire", "240", "GRM", "27.50", "6.60", base="1000")
NIGHTS = line(5, "Isolation surcharge", "21", "C62", "0.60", "12.60")


def plain(key: str, category: str, wording: str = "", **more: object) -> EInvoice:
    """One scrub of 133.00 under a key without VAT."""
    one = line(1, "Scrubbing", "190", "MIN", "42.00", "133.00", key, base="60")
    return document([one], [vat(key, "133.00", "0.00", wording)], "133.00", **more)


WORKED_MONTH_LINES = [
    line(1, "Intake and condition report", "1", "C62", "12.00", "12.00"),
    line(2, "Boarding class 2, 3\u201329 June, 26 nights at month price", "1", "C62", "25.50", "25.50"),
    line(3, "Isolation surcharge", "21", "C62", "0.60", "12.60"),
    line(4, "Scrubbing (95 + 65 + 30)", "190", "MIN", "42.00", "133.00", base="60"),
    line(5, "Jetting (10 + 10)", "20", "MIN", "42.00", "14.00", base="60"),
    line(6, "Spraying, share of 3 rounds", "7.5", "MIN", "48.00", "6.00", base="60"),
    line(7, "Product", "27.6", "MLT", "47.50", "1.31", base="1000"),
    line(8, "Wash material", "3", "C62", "1.50", "4.50"),
    line(9, "Inspection", "15", "MIN", "42.00", "10.50", base="60"),
    line(10, "Not charged: instruction of a new grower, 4 June", "-20", "MIN", "42.00", "-14.00", base="60"),
    line(11, "Above agreed cap of 150.00, not charged", "-1", "C62", "5.31", "-5.31"),
    line(12, "Packing class 2", "1", "C62", "9.50", "9.50"),
    line(13, "Intake and condition report", "1", "C62", "12.00", "12.00"),
    line(14, "Boarding class 3, 3\u201330 June, 28 nights (stay continues)", "1", "C62", "42.50", "42.50"),
    line(15, "Needle cleaning (85 + 45)", "130", "MIN", "46.00", "99.67", base="60"),
    line(16, "Wiring (150 + 120)", "270", "MIN", "58.00", "261.00", base="60"),
    line(17, "Wire", "240", "GRM", "27.50", "6.60", base="1000"),
    line(18, "Spraying, share of 1 round", "5.0", "MIN", "48.00", "4.00", base="60"),
    line(19, "Product", "18.4", "MLT", "47.50", "0.87", base="1000"),
    line(20, "Accent plant", "1", "C62", "18.00", "18.00", "S 13.5"),
    line(21, "Goodwill", "-1", "C62", "5.00", "-5.00"),
    line(22, "Less deposit invoice I-2026-0031", "-1", "C62", "243.90", "-243.90"),
]
DEPOSIT = Earlier("I-2026-0031", FIRST)

DOCUMENTS: dict[str, EInvoice] = {
    "private": document([INTAKE, NIGHTS], [vat("S 23", "24.60", "5.66")], "30.26"),
    "business with an order": document(
        [INTAKE], [vat("S 23", "12.00", "2.76")], "14.76", buyer=FIRM, order="PO 77"
    ),
    "minutes, millilitres, grams": document([SCRUB, SOAP, WIRE], [vat("S 23", "140.91", "32.41")], "173.32"),
    "two rates": document(
        [INTAKE, line(2, "Accent plant", "1", "C62", "18.00", "18.00", "S 13.5")],
        [vat("S 23", "12.00", "2.76"), vat("S 13.5", "18.00", "2.43")],
        "35.19",
    ),
    "the worked month with its deposit deducted": document(
        WORKED_MONTH_LINES,
        [vat("S 23", "387.34", "89.09"), vat("S 13.5", "18.00", "2.43")],
        "496.86",
        earlier=(DEPOSIT,),
    ),
    "paid in part": document([INTAKE], [vat("S 23", "12.00", "2.76")], "14.76", "9.76"),
    "paid in full": document([INTAKE], [vat("S 23", "12.00", "2.76")], "14.76", "0.00", account=None),
    "lines that cancel": document(
        [INTAKE, line(2, "Not charged: our mistake", "-1", "C62", "12.00", "-12.00")],
        [vat("S 23", "0.00", "0.00")],
        "0.00",
        account=None,
    ),
    "deposit": document(
        [line(1, "Payment on account", "1", "C62", "243.90", "243.90")],
        [vat("S 23", "243.90", "56.10")],
        "300.00",
        kind=Kind.PREPAYMENT,
        number="I-2026-0031",
    ),
    # A deposit is agreed gross: 600.00 = 487.80 + 112.20, where net x rate would be 112.19.
    "deposit whose VAT is what the gross contains": document(
        [line(1, "Payment on account", "1", "C62", "487.80", "487.80")],
        [vat("S 23", "487.80", "112.20")],
        "600.00",
        kind=Kind.PREPAYMENT,
        number="I-2026-0032",
    ),
    "credit note": document(
        [line(1, "Wiring, 40 min credited", "40", "MIN", "58.00", "38.67", base="60")],
        [vat("S 23", "38.67", "8.89")],
        "47.56",
        kind=Kind.CREDIT_NOTE,
        number="C-2026-0004",
        due_on=dt.date(2026, 7, 14),
        account=None,
        earlier=(Earlier("I-2026-0047", ISSUED),),
        notes=("Credit note to invoice no. I-2026-0047 of 30 June 2026: minutes disputed.",),
    ),
    "reverse charge": plain("AE 0", "AE", "Reverse charge: the customer accounts for the VAT.", buyer=ABROAD),
    "export": plain("G 0", "G", buyer=OUT_OF_UNION),
    "intra-community supply": plain("K 0", "K", buyer=ABROAD, deliver_to="NL"),
    "zero rate": plain("Z 0", "Z"),
    "exempt": plain("E 0", "E", "Exempt under the law of the place, as the accountant wrote it."),
    "outside the scope": plain("O 0", "O", "Outside the scope of VAT."),
    "in another currency": document([INTAKE], [vat("S 23", "12.00", "2.76")], "14.76", currency="GBP"),
    "letters that XML minds": document(
        [line(1, "Wire <3 mm & \u201csoft\u201d\x0b", "1", "C62", "12.00", "12.00")],
        [vat("S 23", "12.00", "2.76")],
        "14.76",
        buyer=Side(name="O\u2019Dowd & Sons <garden>", country="IE", town="Bray"),
    ),
}
