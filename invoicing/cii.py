"""How does an invoice read as UN/CEFACT Cross Industry Invoice, the XML inside the PDF?

Values in, bytes out; the same values give the same bytes. Elements stand in the order that the schema asks for. Profile
EN 16931 of Factur-X, which is the European standard itself. Units and errors: `e_invoice`, whose `lacks` is asked
before. Sources: EN 16931-3-3 (syntax binding to CII D16B), from memory; checked by schema and rules in tests/outside.

>>> event = root("ram:Event", {})
>>> _day(event, "ram:OccurrenceDateTime", date(2026, 6, 29))
>>> event[0][0].text
'20260629'
"""

from datetime import date
from decimal import Decimal
from xml.etree.ElementTree import Element

from invoicing.e_invoice import OUTSIDE, SPECIFICATION, EInvoice, Line, Side, VatSum
from invoicing.xml_words import add, add_if, amount, number, price, root, written

NAMESPACES = {
    "xmlns:rsm": "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100",
    "xmlns:ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100",
    "xmlns:qdt": "urn:un:unece:uncefact:data:standard:QualifiedDataType:100",
    "xmlns:udt": "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100",
}
YEAR_MONTH_DAY = "102"  # UNTDID 2379
SEPA_TRANSFER, TRANSFER = "58", "30"  # UNTDID 4461


def xml(told: EInvoice) -> bytes:
    """The document."""
    top = root("rsm:CrossIndustryInvoice", NAMESPACES)
    context = add(top, "rsm:ExchangedDocumentContext")
    add(context, "ram:GuidelineSpecifiedDocumentContextParameter/ram:ID", SPECIFICATION)
    head = add(top, "rsm:ExchangedDocument")
    add(head, "ram:ID", told.number)
    add(head, "ram:TypeCode", told.kind)
    _day(head, "ram:IssueDateTime", told.issued_on)
    for note in told.notes:
        add(head, "ram:IncludedNote/ram:Content", note)
    trade = add(top, "rsm:SupplyChainTradeTransaction")
    for line in told.lines:
        _line(add(trade, "ram:IncludedSupplyChainTradeLineItem"), line)
    _agreement(add(trade, "ram:ApplicableHeaderTradeAgreement"), told)
    _delivery(add(trade, "ram:ApplicableHeaderTradeDelivery"), told)
    _settlement(add(trade, "ram:ApplicableHeaderTradeSettlement"), told)
    return written(top)


def _line(item: Element, line: Line) -> None:
    add(item, "ram:AssociatedDocumentLineDocument/ram:LineID", line.number)
    product = add(item, "ram:SpecifiedTradeProduct")
    add(product, "ram:Name", line.words)
    add_if(product, "ram:Description", line.description)
    charged = add(item, "ram:SpecifiedLineTradeAgreement/ram:NetPriceProductTradePrice")
    add(charged, "ram:ChargeAmount", price(line.price))
    if line.base != 1:
        add(charged, "ram:BasisQuantity", number(line.base), unitCode=line.unit)
    billed = number(line.quantity)
    add(item, "ram:SpecifiedLineTradeDelivery/ram:BilledQuantity", billed, unitCode=line.unit)
    settled = add(item, "ram:SpecifiedLineTradeSettlement")
    _vat_key(add(settled, "ram:ApplicableTradeTax"), line.category, line.rate)
    _period(settled, line.from_on, line.until_on)
    add(settled, "ram:SpecifiedTradeSettlementLineMonetarySummation/ram:LineTotalAmount", amount(line.net))


def _agreement(agreement: Element, told: EInvoice) -> None:
    add_if(agreement, "ram:BuyerReference", told.order)
    _side(add(agreement, "ram:SellerTradeParty"), told.seller, outside=told.outside, is_seller=True)
    _side(add(agreement, "ram:BuyerTradeParty"), told.buyer, outside=told.outside)
    add_if(agreement, "ram:BuyerOrderReferencedDocument/ram:IssuerAssignedID", told.order)


def _side(party: Element, side: Side, *, outside: bool, is_seller: bool = False) -> None:
    if outside and is_seller:
        # Outside the scope no VAT number may be named, and some number of the seller must be (BR-O-2, BR-CO-26).
        add(party, "ram:ID", side.vat_number)
    add(party, "ram:Name", side.name)
    if side.contact or side.phone or side.email:
        contact = add(party, "ram:DefinedTradeContact")
        add_if(contact, "ram:PersonName", side.contact)
        add_if(contact, "ram:TelephoneUniversalCommunication/ram:CompleteNumber", side.phone)
        add_if(contact, "ram:EmailURIUniversalCommunication/ram:URIID", side.email)
    address = add(party, "ram:PostalTradeAddress")
    add_if(address, "ram:PostcodeCode", side.postcode)
    add_if(address, "ram:LineOne", side.street)
    add_if(address, "ram:LineTwo", side.street_2)
    add_if(address, "ram:CityName", side.town)
    add(address, "ram:CountryID", side.country)
    add_if(address, "ram:CountrySubDivisionName", side.county)
    add_if(party, "ram:URIUniversalCommunication/ram:URIID", side.email, schemeID="EM")
    if not outside:
        add_if(party, "ram:SpecifiedTaxRegistration/ram:ID", side.vat_number, schemeID="VA")


def _delivery(delivery: Element, told: EInvoice) -> None:
    add_if(delivery, "ram:ShipToTradeParty/ram:PostalTradeAddress/ram:CountryID", told.deliver_to)
    supplied = add(delivery, "ram:ActualDeliverySupplyChainEvent")
    _day(supplied, "ram:OccurrenceDateTime", told.until_on)


def _settlement(settlement: Element, told: EInvoice) -> None:
    add_if(settlement, "ram:PaymentReference", told.reference)
    add(settlement, "ram:InvoiceCurrencyCode", told.currency)
    _means(settlement, told)
    for one in told.vat:
        _vat(add(settlement, "ram:ApplicableTradeTax"), one)
    _period(settlement, told.from_on, told.until_on)
    if told.due_on:
        _day(add(settlement, "ram:SpecifiedTradePaymentTerms"), "ram:DueDateDateTime", told.due_on)
    _sums(add(settlement, "ram:SpecifiedTradeSettlementHeaderMonetarySummation"), told)
    for earlier in told.earlier:
        before = add(settlement, "ram:InvoiceReferencedDocument")
        add(before, "ram:IssuerAssignedID", earlier.number)
        _day(before, "ram:FormattedIssueDateTime", earlier.on, "qdt")


def _means(settlement: Element, told: EInvoice) -> None:
    account = told.account
    if account is None:
        return
    means = add(settlement, "ram:SpecifiedTradeSettlementPaymentMeans")
    add(means, "ram:TypeCode", SEPA_TRANSFER if told.currency == "EUR" else TRANSFER)
    creditor = add(means, "ram:PayeePartyCreditorFinancialAccount")
    add(creditor, "ram:IBANID", account.iban)
    add_if(creditor, "ram:AccountName", account.name)
    add_if(means, "ram:PayeeSpecifiedCreditorFinancialInstitution/ram:BICID", account.bic)


def _vat(tax: Element, one: VatSum) -> None:
    add(tax, "ram:CalculatedAmount", amount(one.tax))
    add(tax, "ram:TypeCode", "VAT")
    add_if(tax, "ram:ExemptionReason", one.reason)
    add(tax, "ram:BasisAmount", amount(one.net))
    add(tax, "ram:CategoryCode", one.category)
    add_if(tax, "ram:ExemptionReasonCode", one.code)
    _rate(tax, one.category, one.rate)


def _vat_key(tax: Element, category: str, rate: Decimal) -> None:
    add(tax, "ram:TypeCode", "VAT")
    add(tax, "ram:CategoryCode", category)
    _rate(tax, category, rate)


def _rate(tax: Element, category: str, rate: Decimal) -> None:
    """What is outside the scope has no rate, not even 0 (BR-O-5)."""
    if category != OUTSIDE:
        add(tax, "ram:RateApplicablePercent", number(rate))


def _sums(sums: Element, told: EInvoice) -> None:
    add(sums, "ram:LineTotalAmount", amount(told.net))
    add(sums, "ram:TaxBasisTotalAmount", amount(told.net))
    add(sums, "ram:TaxTotalAmount", amount(told.tax), currencyID=told.currency)
    add(sums, "ram:GrandTotalAmount", amount(told.gross))
    if told.paid:
        add(sums, "ram:TotalPrepaidAmount", amount(told.paid))
    add(sums, "ram:DuePayableAmount", amount(told.due))


def _period(parent: Element, first: date, last: date) -> None:
    period = add(parent, "ram:BillingSpecifiedPeriod")
    _day(period, "ram:StartDateTime", first)
    _day(period, "ram:EndDateTime", last)


def _day(parent: Element, path: str, on: date, prefix: str = "udt") -> None:
    add(parent, f"{path}/{prefix}:DateTimeString", f"{on:%Y%m%d}", format=YEAR_MONTH_DAY)
