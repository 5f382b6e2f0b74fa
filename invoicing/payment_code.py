"""How does a customer pay without typing: the creditor reference of an invoice, and the text of its payment code.

Units: amounts in euro as Decimal with two places. Errors: ValueError for what no code can say. Sources: ISO 11649
(creditor reference: RF, two check digits after ISO 7064 Mod 97-10, up to 21 letters and digits); EPC069-12, Quick
Response Code: Guidelines to Enable Data Capture for the Initiation of a SEPA Credit Transfer, version 002.

>>> reference("I-2026-0047"), in_fours(reference("I-2026-0047"))
('RF66I20260047', 'RF66 I202 6004 7')
"""

import re
from decimal import Decimal

from nursery.money import cents

LONGEST_REFERENCE = 21
LONGEST_NAME = 70
MOST = Decimal("999999999.99")
CURRENCY = "EUR"
UTF_8 = "1"


def reference(number: str) -> str:
    """The RF reference of a document: its number without marks, with check digits in front.

    >>> reference("539007547034")
    'RF18539007547034'
    """
    own = re.sub("[^A-Z0-9]", "", number.upper())
    if not own or len(own) > LONGEST_REFERENCE:
        raise ValueError(f"No reference can be made of {number!r}.")
    # Letters count as 10 to 35; "RF00" goes behind, as with an IBAN.
    digits = "".join(str(int(letter, 36)) for letter in f"{own}RF00")
    return f"RF{98 - int(digits) % 97:02d}{own}"


def in_fours(text: str) -> str:
    """As references and account numbers are printed.

    >>> in_fours("IE29AIBK93115212345678")
    'IE29 AIBK 9311 5212 3456 78'
    """
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def can_say(*, currency: str, amount: Decimal, iban: str) -> bool:
    """Whether there is something to pay that a payment code can say.

    >>> can_say(currency="EUR", amount=Decimal("0.00"), iban="IE29AIBK93115212345678")
    False
    """
    return bool(iban) and currency == CURRENCY and 0 < amount <= MOST


def text(*, name: str, iban: str, amount: Decimal, reference: str, bic: str = "") -> str:
    """The lines of the code; the purpose of line 9 stays empty.

    >>> to = {"name": "Derrynavail Nursery", "iban": "IE29AIBK93115212345678"}
    >>> text(**to, amount=Decimal(5), reference="RF45G72UUR").splitlines()[5:]
    ['Derrynavail Nursery', 'IE29AIBK93115212345678', 'EUR5.00', '', 'RF45G72UUR']
    """
    if not can_say(currency=CURRENCY, amount=amount, iban=iban):
        raise ValueError(f"A payment code cannot say {amount} to {iban!r}.")
    name = " ".join(name.split())[:LONGEST_NAME]
    lines = ("BCD", "002", UTF_8, "SCT", bic, name, iban, f"{CURRENCY}{cents(amount):f}", "", reference)
    return "\n".join(lines)
