"""A credit note about to be issued as the plain values of its e-invoice, frozen with its words."""

from dataclasses import replace
from typing import Any

from invoicing.e_invoice import Earlier, EInvoice, Kind, as_words, lacks
from invoicing.models import CreditNote
from invoicing.overviews.credits import Reckoned
from invoicing.overviews.e_invoice import WITH_DELIVERY_COUNTRY, buyer_of, line_of, seller_of, vat_sum_of
from nursery.money import ZERO


def credit_words(note: CreditNote, reckoned: Reckoned) -> dict[str, Any]:
    """What the paper freezes: the values, or why the standard has no place for this document."""
    told = credit_of(note, reckoned)
    why_not = lacks(told)
    return {"e_invoice": None if why_not else as_words(told), "e_invoice_lacks": why_not}


def credit_of(note: CreditNote, reckoned: Reckoned) -> EInvoice:
    """A credit note has positive amounts and names the invoice it changes (BG-3); nobody pays on it."""
    assert note.invoice.number is not None
    assert note.invoice.issued_on is not None
    vat = tuple(vat_sum_of(one) for one in reckoned.taxes)
    buyer = buyer_of(note.buyer)
    abroad = any(one.category == WITH_DELIVERY_COUNTRY for one in vat)
    lines = [
        replace(
            line_of(one.row), number=str(position), quantity=part.quantity, price=part.price, net=part.net
        )
        for position, (one, part) in enumerate(reckoned.parts, start=1)
    ]
    return EInvoice(
        kind=Kind.CREDIT_NOTE,
        number=note.number,
        issued_on=note.issued_on,
        due_on=None,
        from_on=min(line.from_on for line in lines),
        until_on=max(line.until_on for line in lines),
        currency=note.currency,
        seller=seller_of(note.seller),
        buyer=buyer,
        lines=tuple(lines),
        vat=vat,
        net=note.net,
        tax=note.tax,
        gross=note.gross,
        paid=ZERO,
        due=note.gross,
        order=note.buyer["order_reference"],
        deliver_to=buyer.country if abroad else "",
        earlier=(Earlier(note.invoice.number, note.invoice.issued_on),),
        notes=(note.reason,),
    )
