"""An invoice about to be issued as the plain values of its e-invoice, read once, then frozen with the words."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from invoicing import payment_code
from invoicing.credits import TaxBack
from invoicing.e_invoice import (
    Account,
    Earlier,
    EInvoice,
    Kind,
    Line,
    Side,
    VatSum,
    as_words,
    exemption,
    lacks,
    unit_code,
)
from invoicing.models import CreditNote, Invoice, InvoiceLine, InvoiceTax
from invoicing.tax import category_of

WITH_DELIVERY_COUNTRY = "K"  # BR-IC-12


def e_invoice_words(
    invoice: Invoice, lines: Iterable[InvoiceLine], paid: Decimal, replaced: Iterable[CreditNote] = ()
) -> dict[str, Any]:
    """What the paper freezes: the values, or why the standard has no place for this document."""
    told = e_invoice_of(invoice, lines, paid, replaced)
    why_not = lacks(told)
    return {"e_invoice": None if why_not else as_words(told), "e_invoice_lacks": why_not}


def e_invoice_of(
    invoice: Invoice, lines: Iterable[InvoiceLine], paid: Decimal, replaced: Iterable[CreditNote] = ()
) -> EInvoice:
    """The values. `invoice` bears its number, days and both sides already."""
    assert invoice.number is not None
    assert invoice.issued_on is not None
    vat = tuple(vat_sum_of(row) for row in invoice.taxes.all())
    buyer = buyer_of(invoice.buyer)
    listed = list(lines)
    due = invoice.gross - paid
    abroad = any(one.category == WITH_DELIVERY_COUNTRY for one in vat)
    return EInvoice(
        kind=Kind.PREPAYMENT if invoice.is_deposit else Kind.INVOICE,
        number=invoice.number,
        issued_on=invoice.issued_on,
        due_on=invoice.due_on,
        from_on=invoice.supply_from_on,
        until_on=invoice.supply_until_on,
        currency=invoice.currency,
        seller=seller_of(invoice.seller),
        buyer=buyer,
        lines=tuple(line_of(line) for line in listed),
        vat=vat,
        net=invoice.net,
        tax=invoice.tax,
        gross=invoice.gross,
        paid=paid,
        due=due,
        reference=payment_code.reference(invoice.number),
        order=invoice.buyer["order_reference"],
        account=_account(invoice.seller) if due else None,
        deliver_to=buyer.country if abroad else "",
        earlier=(*deducted_by(listed), *in_place_of(replaced)),
    )


def deducted_by(lines: Iterable[InvoiceLine]) -> tuple[Earlier, ...]:
    """The deposit invoices of which the bill takes something, each once."""
    found = [line.deducts.invoice for line in lines if line.deducts]
    named = {one.number: one.issued_on for one in found}
    return tuple(Earlier(number, on) for number, on in named.items() if number and on)


def in_place_of(replaced: Iterable[CreditNote]) -> tuple[Earlier, ...]:
    """The bills that were taken back and are billed anew with this one."""
    found = (one.invoice for one in replaced)
    return tuple(Earlier(one.number, one.issued_on) for one in found if one.number and one.issued_on)


def seller_of(told: dict[str, str]) -> Side:
    """The nursery, from the letterhead frozen with a document."""
    names = ("name", "street", "town", "county", "postcode", "country", "vat_number", "phone", "email")
    return Side(**{name: told[name] for name in names})


def buyer_of(told: dict[str, Any]) -> Side:
    """Without telephone and e-mail: issued documents outlive the erasing of a customer's data."""
    return Side(name=told["name"], vat_number=told["vat_number"], contact=told["contact"], **told["address"])


def _account(told: dict[str, str]) -> Account | None:
    name = told["bank_account_name"] or told["name"]
    return Account(told["iban"], name, told["bic"]) if told["iban"] else None


def line_of(line: InvoiceLine) -> Line:
    """An issued line, or one about to be."""
    return Line(
        number=str(line.position),
        words=line.words,
        description=line.tree_words,
        quantity=line.quantity,
        unit=unit_code(line.unit),
        price=line.price_net,
        base=Decimal(line.base_quantity),
        net=line.net,
        category=category_of(line.vat_key),
        rate=line.vat_percent,
        from_on=line.from_on,
        until_on=line.until_on,
    )


def vat_sum_of(row: InvoiceTax | TaxBack) -> VatSum:
    """What one rate of an invoice or of a credit note comes to."""
    category = category_of(row.vat_key)
    reason, code = exemption(category, row.wording)
    return VatSum(category, row.percent, row.net, row.tax, reason, code)
