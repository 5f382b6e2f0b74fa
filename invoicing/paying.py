"""The words by which an invoice is paid: the reference, and the code a banking app reads, as plain texts to freeze."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import segno

from invoicing import payment_code
from invoicing.models import Invoice
from nursery import words

LEVEL = "m"  # EPC069-12 asks for it
QUIET = 4  # white modules around, ISO/IEC 18004


def pay_words(invoice: Invoice, due: Decimal, to: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Reference and, where there is something to pay by SEPA, the code with what it says.

    `to` is the payee where it is another than the one frozen in the invoice.
    """
    assert invoice.number is not None
    reference = payment_code.reference(invoice.number)
    return {
        "reference": payment_code.in_fours(reference),
        "code": _code(to or invoice.seller, invoice.currency, due, reference),
    }


def square(text: str) -> dict[str, Any]:
    """The dark rows of a square code as one SVG path, with the side of its box; quiet zone included."""
    made = segno.make_qr(text, error=LEVEL, boost_error=False, encoding="utf-8")
    rows = [[bool(dark) for dark in row] for row in made.matrix]
    path = "".join(
        f"M{x + QUIET} {y + QUIET}.5h{length}" for y, row in enumerate(rows) for x, length in _dark_runs(row)
    )
    return {"side": len(rows) + 2 * QUIET, "path": path}


def _dark_runs(row: list[bool]) -> list[tuple[int, int]]:
    """Start and length of each run of dark modules."""
    starts = [x for x, dark in enumerate(row) if dark and (x == 0 or not row[x - 1])]
    ends = [x for x, dark in enumerate(row, start=1) if dark and (x == len(row) or not row[x])]
    return [(start, end - start) for start, end in zip(starts, ends, strict=True)]


def _code(seller: Mapping[str, str], currency: str, due: Decimal, reference: str) -> dict[str, Any] | None:
    iban = seller["iban"]
    if not payment_code.can_say(currency=currency, amount=due, iban=iban):
        return None
    name = seller["bank_account_name"] or seller["name"]
    text = payment_code.text(name=name, iban=iban, bic=seller["bic"], amount=due, reference=reference)
    says = (
        f"Payment code for a banking app: {words.money(due, currency)} to {name}, "
        f"IBAN {payment_code.in_fours(iban)}, reference {payment_code.in_fours(reference)}"
    )
    return {**square(text), "text": text, "says": says}
