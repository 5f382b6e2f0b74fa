"""The words of a credit note: everything its print says, as plain texts, frozen when it is issued.

It names the invoice it changes: Directive 2006/112/EC, Art. 219. How it must be worded where you are, your accountant
knows.
"""

from typing import Any

from invoicing.credits import CreditedPart
from invoicing.documents import price_words, vat_words
from invoicing.models import CreditNote
from invoicing.overviews.credits import Creditable, Reckoned
from invoicing.overviews.e_credit import credit_words
from nursery import units, words


def words_of(note: CreditNote, reckoned: Reckoned) -> dict[str, Any]:
    """The whole context of the print. `note` bears its number, day and both sides already."""
    assert note.invoice.issued_on is not None
    return {
        "currency": note.currency,
        "customer": note.buyer,
        "dated": words.day(note.issued_on),
        "invoice": note.invoice.number,
        "invoice_dated": words.day(note.invoice.issued_on),
        "to_deposit": note.invoice.is_deposit,
        "reason": note.reason,
        "whole": note.bills_anew,
        "lines": [_line(position, one, part) for position, (one, part) in enumerate(reckoned.parts, start=1)],
        "vat": [vat_words(one) for one in reckoned.taxes],
        "net": words.cash(note.net),
        "tax": words.cash(note.tax),
        "gross": words.money(note.gross, note.currency),
        **credit_words(note, reckoned),
    }


def _line(position: int, one: Creditable, part: CreditedPart) -> dict[str, str]:
    return {
        "position": str(position),
        "invoice_position": str(one.row.position),
        "tree": one.row.tree_words,
        "words": one.row.words,
        "quantity": units.format_quantity(part.quantity, one.row.unit),
        "price": words.cash(part.price) if one.line.is_deposit else price_words(one.row),
        "net": words.cash(part.net),
        "key": one.row.vat_key,
    }
