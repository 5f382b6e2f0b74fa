"""Numbers that others give out: is this IBAN, BIC, VAT number, country or currency written as its issuer says?

Plain texts in, the compact text out; "" stays "". Errors: `NotValid` with a sentence for the field. Whether the
number exists is known to its issuer alone: only the form and the check digits are looked at.
Sources: python-stdnum for ISO 13616 (IBAN), ISO 9362 (BIC) and the VAT numbers of the states; the country list
iso3166.tab of the time-zone database (IANA), here from the package tzdata; ISO 4217 for the currencies, of which
only those with two decimals are taken, because money here has two.

>>> iban("ie29 aibk 9311 5212 3456 78"), country("ie"), currency("eur")
('IE29AIBK93115212345678', 'IE', 'EUR')
"""

import re
from functools import cache
from importlib.resources import files

from stdnum import bic as stdnum_bic
from stdnum import iban as stdnum_iban
from stdnum.ch import vat as swiss_vat
from stdnum.eu import vat as eu_vat
from stdnum.exceptions import ValidationError
from stdnum.gb import vat as british_vat

CURRENCIES = {
    "EUR": "euro",
    "GBP": "pound sterling",
    "CHF": "Swiss franc",
    "DKK": "Danish krone",
    "NOK": "Norwegian krone",
    "SEK": "Swedish krona",
    "PLN": "zloty",
    "CZK": "Czech koruna",
    "RON": "Romanian leu",
    "USD": "US dollar",
    "CAD": "Canadian dollar",
    "AUD": "Australian dollar",
    "NZD": "New Zealand dollar",
}


class NotValid(ValueError):
    """What was typed breaks the issuer's own rule; `sentence` says what to look at."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def iban(text: str) -> str:
    """The account number without spaces.

    >>> iban("GB82WEST12345698765432")
    'GB82WEST12345698765432'
    """
    typed = _compact(text)
    if typed and not stdnum_iban.is_valid(typed):
        raise NotValid("This IBAN does not add up: compare it with the bank statement, digit by digit.")
    return typed


def bic(text: str) -> str:
    """The bank's code, 8 or 11 characters.

    >>> bic("aibk ie 2d")
    'AIBKIE2D'
    """
    typed = _compact(text)
    if typed and not stdnum_bic.is_valid(typed):
        raise NotValid("A BIC has 8 or 11 letters and digits, for example AIBKIE2D.")
    return typed


def vat_number(text: str) -> str:
    """The VAT number with its two letters of the state in front; check digits where the state has published them.

    >>> vat_number("IE 6433435F"), vat_number("")
    ('IE6433435F', '')
    """
    typed = _compact(text)
    if not typed:
        return ""
    if not re.fullmatch("[A-Z]{2}[A-Z0-9+*]{2,13}", typed):
        raise NotValid(
            "Write the VAT number with the two letters of its state in front, for example IE6433435F."
        )
    try:
        _check_vat(typed)
    except ValidationError as wrong:
        raise NotValid(
            "This VAT number does not add up: compare it with the certificate or a bill."
        ) from wrong
    return typed


def _check_vat(typed: str) -> None:
    state = typed[:2]
    if state in ("GB", "XI"):
        british_vat.validate(typed[2:])
    elif state == "CH":
        swiss_vat.validate(typed)
    elif state.lower() in eu_vat.MEMBER_STATES or state == "EL":
        eu_vat.validate(typed)


def country(text: str) -> str:
    """The two letters of a country."""
    typed = _compact(text)
    if typed not in countries():
        raise NotValid("Write the two letters of the country, for example IE.")
    return typed


def currency(text: str) -> str:
    """The three letters of a currency with two decimals."""
    typed = _compact(text)
    if typed not in CURRENCIES:
        raise NotValid("Choose a currency with two decimals, for example EUR.")
    return typed


@cache
def countries() -> dict[str, str]:
    """Names of all countries by their two letters.

    >>> countries()["IE"]
    'Ireland'
    """
    table = files("tzdata").joinpath("zoneinfo", "iso3166.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if line and not line.startswith("#"))
    return {code: name.strip() for code, name in rows}


def _compact(text: str) -> str:
    return re.sub(r"[\s.\-]", "", text).upper()
