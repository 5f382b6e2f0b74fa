"""An invoice as plain values: what must bookkeeping software be told so that nobody types it again?

One frozen dataclass, from which `cii` and `ubl` write the same document in the two syntaxes of the European standard.
Names of business terms (BT) and groups (BG) stand beside the values. Units: amounts in the document's currency as
Decimal with two places, prices up to four, rates in per cent, days as dates. Nothing is calculated or rounded here:
every figure is the frozen one of the document. Errors: `lacks` says in a sentence why the standard has no place for a
document. Sources: EN 16931-1 with its rules BR-*; codes of UN/ECE Recommendation 20 (units), UNTDID 1001 (kinds of
document), UNTDID 5305 (VAT categories) and the list VATEX (exemption reasons), the last from memory.

>>> unit_code("min"), unit_code("ml"), unit_code("night")
('MIN', 'MLT', 'C62')
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any

SPECIFICATION = "urn:cen.eu:en16931:2017"  # BT-24: the standard itself, no national version of it

# Recommendation 20 has no night; a night, a tree, a piece are "one" of what the line names.
ONE = "C62"
UNITS = {
    "min": "MIN",
    "h": "HUR",
    "day": "DAY",
    "ml": "MLT",
    "l": "LTR",
    "g": "GRM",
    "kg": "KGM",
    "cm": "CMT",
    "m": "MTR",
}

# Where no VAT is charged the standard asks for the reason; for E it depends on the law, so there is no default.
REASONS = {
    "E": ("", ""),
    "AE": ("Reverse charge", "VATEX-EU-AE"),
    "G": ("Export outside the European Union", "VATEX-EU-G"),
    "K": ("Intra-Community supply", "VATEX-EU-IC"),
    "O": ("Not subject to VAT", "VATEX-EU-O"),
}
OUTSIDE = "O"
BUYER_ACCOUNTS = ("AE", "K")


class Kind(StrEnum):
    """BT-3."""

    INVOICE = "380"
    CREDIT_NOTE = "381"
    PREPAYMENT = "386"


@dataclass(frozen=True)
class Side:
    """BG-4 seller, BG-7 buyer, with postal address and contact."""

    name: str
    country: str
    street: str = ""
    street_2: str = ""
    town: str = ""
    county: str = ""
    postcode: str = ""
    vat_number: str = ""
    contact: str = ""
    phone: str = ""
    email: str = ""


@dataclass(frozen=True)
class Line:
    """BG-25: one line, its net as it was frozen; `description` is the tree it belongs to."""

    number: str
    words: str
    description: str
    quantity: Decimal
    unit: str
    price: Decimal
    base: Decimal
    net: Decimal
    category: str
    rate: Decimal
    from_on: date
    until_on: date


@dataclass(frozen=True)
class VatSum:
    """BG-23: what one category and rate come to."""

    category: str
    rate: Decimal
    net: Decimal
    tax: Decimal
    reason: str = ""
    code: str = ""


@dataclass(frozen=True)
class Earlier:
    """BG-3: the document that this one corrects, or the deposit invoice it deducts."""

    number: str
    on: date


@dataclass(frozen=True)
class Account:
    """BG-17: where to pay to."""

    iban: str
    name: str = ""
    bic: str = ""


@dataclass(frozen=True)
class EInvoice:
    """The whole document. Reductions are lines with a negative quantity; a credit note has positive amounts."""

    kind: str
    number: str
    issued_on: date
    due_on: date | None
    from_on: date
    until_on: date
    currency: str
    seller: Side
    buyer: Side
    lines: tuple[Line, ...]
    vat: tuple[VatSum, ...]
    net: Decimal
    tax: Decimal
    gross: Decimal
    paid: Decimal
    due: Decimal
    reference: str = ""
    order: str = ""
    account: Account | None = None
    deliver_to: str = ""
    earlier: tuple[Earlier, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def outside(self) -> bool:
        """Whether it is outside the scope of VAT, and must not name a VAT number (BR-O-2 to BR-O-4)."""
        return any(one.category == OUTSIDE for one in self.vat)


def unit_code(unit: str) -> str:
    """BT-130: the code of a unit as it is printed."""
    return UNITS.get(unit, ONE)


def exemption(category: str, wording: str) -> tuple[str, str]:
    """BT-120 and BT-121: the reason in words and as a code, both empty where VAT is charged or the rate is zero.

    >>> exemption("AE", ""), exemption("E", "Education, Art. 132"), exemption("S", "ignored")
    (('Reverse charge', 'VATEX-EU-AE'), ('Education, Art. 132', ''), ('', ''))
    """
    if category not in REASONS:
        return "", ""
    words, code = REASONS[category]
    return wording or words, code


def lacks(told: EInvoice) -> str:
    """The sentence that says why the standard would refuse this document; "" when it would not.

    Sources: BR-S-2 and its like for Z, E, AE, G, K (VAT number of the seller), BR-CO-26 (some number of the seller),
    BR-AE-2 and BR-IC-2 (VAT number of the buyer), BR-O-11 to BR-O-14 (O stands alone), BR-E-10 (reason).
    """
    categories = {one.category for one in told.vat}
    if not told.seller.vat_number:
        return "The nursery’s VAT number was not written down when this was issued."
    if categories & set(BUYER_ACCOUNTS) and not told.buyer.vat_number:
        return "The customer accounts for the VAT, and the customer’s VAT number was not written down."
    if told.outside and len(categories) > 1:
        return "It has lines outside the scope of VAT beside others, which the standard does not allow on one document."
    if any(one.category == "E" and not one.reason for one in told.vat):
        return "It has lines exempt from VAT, and the reason was not written at the VAT key."
    return ""


def as_words(told: EInvoice) -> dict[str, Any]:
    """The values as texts, to be frozen with the words of the paper; `from_words` reads them again."""
    return {field.name: _plain(getattr(told, field.name)) for field in fields(told)}


def from_words(words: Mapping[str, Any]) -> EInvoice:
    """The values that were frozen."""
    account = words["account"]
    return EInvoice(
        **_texts(words, "kind", "number", "currency", "reference", "order", "deliver_to"),
        **_days(words, "issued_on", "from_on", "until_on"),
        **_numbers(words, "net", "tax", "gross", "paid", "due"),
        due_on=date.fromisoformat(words["due_on"]) if words["due_on"] else None,
        seller=Side(**words["seller"]),
        buyer=Side(**words["buyer"]),
        lines=tuple(_line(one) for one in words["lines"]),
        vat=tuple(_vat(one) for one in words["vat"]),
        account=Account(**account) if account else None,
        earlier=tuple(Earlier(**_texts(one, "number"), **_days(one, "on")) for one in words["earlier"]),
        notes=tuple(words["notes"]),
    )


def _line(told: Mapping[str, Any]) -> Line:
    return Line(
        **_texts(told, "number", "words", "description", "unit", "category"),
        **_numbers(told, "quantity", "price", "base", "net", "rate"),
        **_days(told, "from_on", "until_on"),
    )


def _vat(told: Mapping[str, Any]) -> VatSum:
    return VatSum(**_texts(told, "category", "reason", "code"), **_numbers(told, "rate", "net", "tax"))


def _texts(told: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: str(told[name]) for name in names}


def _numbers(told: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: Decimal(told[name]) for name in names}


def _days(told: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: date.fromisoformat(told[name]) for name in names}


def _plain(value: Any) -> Any:
    """Texts, lists and objects only, as JSON has them."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:f}" if isinstance(value, Decimal) else value
