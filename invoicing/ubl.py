"""How does an invoice read as Universal Business Language 2.1, the other syntax of the European standard?

Values in, bytes out; the same values give the same bytes. A credit note is a document type of its own here, with
the same content. Elements stand in the order that the schema asks for. Units and errors: `e_invoice`, whose `lacks` is
asked before. Sources: EN 16931-3-2 (syntax binding to UBL 2.1), from memory; checked by schema and rules in
tests/outside.

>>> category = root("cac:TaxCategory", {})
>>> _category(category, "S", Decimal("13.50"))
>>> [part.text for part in category]
['S', '13.5']
"""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import partial
from xml.etree.ElementTree import Element

from invoicing.e_invoice import OUTSIDE, SPECIFICATION, EInvoice, Kind, Line, Side
from invoicing.xml_words import add, add_if, amount, number, price, root, written

PARTS = {
    "xmlns:cac": "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2",
    "xmlns:cbc": "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2",
}
DOCUMENT = "urn:oasis:names:specification:ubl:schema:xsd:{}-2"
SEPA_TRANSFER, TRANSFER = "58", "30"  # UNTDID 4461

Money = Callable[[Element, str, Decimal], None]


def xml(told: EInvoice) -> bytes:
    """The document."""
    credits = told.kind == Kind.CREDIT_NOTE
    name = "CreditNote" if credits else "Invoice"
    top = root(name, {"xmlns": DOCUMENT.format(name), **PARTS})
    money = partial(_money, told.currency)
    _head(top, told, name)
    _side(
        add(top, "cac:AccountingSupplierParty/cac:Party"), told.seller, outside=told.outside, is_seller=True
    )
    _side(add(top, "cac:AccountingCustomerParty/cac:Party"), told.buyer, outside=told.outside)
    delivery = add(top, "cac:Delivery")
    add(delivery, "cbc:ActualDeliveryDate", told.until_on.isoformat())
    add_if(delivery, "cac:DeliveryLocation/cac:Address/cac:Country/cbc:IdentificationCode", told.deliver_to)
    _means(top, told, credits=credits)
    _vat(add(top, "cac:TaxTotal"), told, money)
    _sums(add(top, "cac:LegalMonetaryTotal"), told, money)
    for line in told.lines:
        _line(add(top, f"cac:{name}Line"), line, "CreditedQuantity" if credits else "InvoicedQuantity", money)
    return written(top)


def _head(top: Element, told: EInvoice, name: str) -> None:
    add(top, "cbc:CustomizationID", SPECIFICATION)
    add(top, "cbc:ID", told.number)
    add(top, "cbc:IssueDate", told.issued_on.isoformat())
    if told.due_on and name == "Invoice":
        add(top, "cbc:DueDate", told.due_on.isoformat())
    add(top, f"cbc:{name}TypeCode", told.kind)
    for note in told.notes:
        add(top, "cbc:Note", note)
    add(top, "cbc:DocumentCurrencyCode", told.currency)
    add_if(top, "cbc:BuyerReference", told.order)
    _period(top, told.from_on, told.until_on)
    add_if(top, "cac:OrderReference/cbc:ID", told.order)
    for one in told.earlier:
        before = add(top, "cac:BillingReference/cac:InvoiceDocumentReference")
        add(before, "cbc:ID", one.number)
        add(before, "cbc:IssueDate", one.on.isoformat())


def _side(party: Element, side: Side, *, outside: bool, is_seller: bool = False) -> None:
    add_if(party, "cbc:EndpointID", side.email, schemeID="EM")
    if outside and is_seller:
        # Outside the scope no VAT number may be named, and some number of the seller must be (BR-O-2, BR-CO-26).
        add(party, "cac:PartyIdentification/cbc:ID", side.vat_number)
    address = add(party, "cac:PostalAddress")
    add_if(address, "cbc:StreetName", side.street)
    add_if(address, "cbc:AdditionalStreetName", side.street_2)
    add_if(address, "cbc:CityName", side.town)
    add_if(address, "cbc:PostalZone", side.postcode)
    add_if(address, "cbc:CountrySubentity", side.county)
    add(address, "cac:Country/cbc:IdentificationCode", side.country)
    if side.vat_number and not outside:
        registered = add(party, "cac:PartyTaxScheme")
        add(registered, "cbc:CompanyID", side.vat_number)
        add(registered, "cac:TaxScheme/cbc:ID", "VAT")
    add(party, "cac:PartyLegalEntity/cbc:RegistrationName", side.name)
    if side.contact or side.phone or side.email:
        contact = add(party, "cac:Contact")
        add_if(contact, "cbc:Name", side.contact)
        add_if(contact, "cbc:Telephone", side.phone)
        add_if(contact, "cbc:ElectronicMail", side.email)


def _means(top: Element, told: EInvoice, *, credits: bool) -> None:
    account = told.account
    if account is None:
        return
    means = add(top, "cac:PaymentMeans")
    add(means, "cbc:PaymentMeansCode", SEPA_TRANSFER if told.currency == "EUR" else TRANSFER)
    if credits and told.due_on:  # a credit note has no due date of its own
        add(means, "cbc:PaymentDueDate", told.due_on.isoformat())
    add_if(means, "cbc:PaymentID", told.reference)
    payee = add(means, "cac:PayeeFinancialAccount")
    add(payee, "cbc:ID", account.iban)
    add_if(payee, "cbc:Name", account.name)
    add_if(payee, "cac:FinancialInstitutionBranch/cbc:ID", account.bic)


def _vat(total: Element, told: EInvoice, money: Money) -> None:
    money(total, "cbc:TaxAmount", told.tax)
    for one in told.vat:
        part = add(total, "cac:TaxSubtotal")
        money(part, "cbc:TaxableAmount", one.net)
        money(part, "cbc:TaxAmount", one.tax)
        category = add(part, "cac:TaxCategory")
        _category(category, one.category, one.rate)
        add_if(category, "cbc:TaxExemptionReasonCode", one.code)
        add_if(category, "cbc:TaxExemptionReason", one.reason)
        add(category, "cac:TaxScheme/cbc:ID", "VAT")


def _sums(sums: Element, told: EInvoice, money: Money) -> None:
    money(sums, "cbc:LineExtensionAmount", told.net)
    money(sums, "cbc:TaxExclusiveAmount", told.net)
    money(sums, "cbc:TaxInclusiveAmount", told.gross)
    if told.paid:
        money(sums, "cbc:PrepaidAmount", told.paid)
    money(sums, "cbc:PayableAmount", told.due)


def _line(item: Element, line: Line, quantity: str, money: Money) -> None:
    add(item, "cbc:ID", line.number)
    add(item, f"cbc:{quantity}", number(line.quantity), unitCode=line.unit)
    money(item, "cbc:LineExtensionAmount", line.net)
    _period(item, line.from_on, line.until_on)
    product = add(item, "cac:Item")
    add_if(product, "cbc:Description", line.description)
    add(product, "cbc:Name", line.words)
    category = add(product, "cac:ClassifiedTaxCategory")
    _category(category, line.category, line.rate)
    add(category, "cac:TaxScheme/cbc:ID", "VAT")
    charged = add(item, "cac:Price")
    money(charged, "cbc:PriceAmount", line.price)
    if line.base != 1:
        add(charged, "cbc:BaseQuantity", number(line.base), unitCode=line.unit)


def _category(category: Element, code: str, rate: Decimal) -> None:
    """What is outside the scope has no rate, not even 0 (BR-O-5)."""
    add(category, "cbc:ID", code)
    if code != OUTSIDE:
        add(category, "cbc:Percent", number(rate))


def _period(parent: Element, first: date, last: date) -> None:
    period = add(parent, "cac:InvoicePeriod")
    add(period, "cbc:StartDate", first.isoformat())
    add(period, "cbc:EndDate", last.isoformat())


def _money(currency: str, parent: Element, path: str, value: Decimal) -> None:
    text = price(value) if path == "cbc:PriceAmount" else amount(value)
    add(parent, path, text, currencyID=currency)
