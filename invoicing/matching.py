"""Whose money is it? A movement at the bank is proposed to a customer or an invoice, only where one alone is meant.

The number of a bill comes first. A name counts when it is one customer's whole name and nobody else bears that surname;
shortened to initials it counts only with an amount that is open. An amount alone says nothing. What is not clear stays
so: a person decides. Rules of this house, no source.

>>> book = Book({}, (Known(1, "Nuala Brackenridge"), Known(2, "Tom Brackenridge")), {})
>>> propose("NUALA BRACKENRIDGE", "", Decimal("5.00"), book).party is None
True
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from invoicing.payment_code import reference
from nursery.money import ZERO

NUMBER = re.compile(r"(?<![A-Z0-9])I[ ./-]?(\d{4})[ ./-]?(\d{4,6})(?!\d)", re.IGNORECASE)
LENGTHS = (4, 5, 6)  # digits of a number within its year
TITLES = frozenset({"mr", "mrs", "ms", "miss", "dr", "prof", "and"})


@dataclass(frozen=True)
class Known:
    """A customer."""

    party: int
    name: str


@dataclass(frozen=True)
class Bill:
    """An issued invoice: whose it is and what is open."""

    invoice: int
    party: int
    open: Decimal


@dataclass(frozen=True)
class Book:
    """What is known: bills by number, customers, and open bills by customer."""

    bills: Mapping[str, Bill]
    parties: Sequence[Known]
    open: Mapping[int, Sequence[Bill]]


@dataclass(frozen=True)
class Proposal:
    """To whom, for which bill, and why; nobody when it is not clear."""

    party: int | None
    invoice: int | None
    why: str


def numbers_in(text: str) -> list[str]:
    """Numbers of invoices in a reference, as we write them, or in a creditor reference whose check digits are right.

    >>> numbers_in("Rg. i2026 0047 und I-2026-0052"), numbers_in("rf66 i202 6004 7 thanks"), numbers_in("RF67I20260047")
    (['I-2026-0047', 'I-2026-0052'], ['I-2026-0047'], [])
    """
    found = [f"I-{year}-{int(number):04d}" for year, number in NUMBER.findall(text)]
    return list(dict.fromkeys([*found, *_in_creditor_references(text)]))


def _in_creditor_references(text: str) -> Iterator[str]:
    """Those of ISO 11649 that our prints bear; people type them with blanks or without."""
    bare = re.sub("[^A-Z0-9]", "", text.upper())
    for start in re.finditer(r"RF\d\dI(\d{4})(?=\d{4})", bare):
        for digits in LENGTHS:
            number = f"I-{start[1]}-{bare[start.end() : start.end() + digits]}"
            if bare.startswith(reference(number), start.start()):
                yield number
                break


def propose(name: str, written: str, amount: Decimal, book: Book) -> Proposal:
    """Who is meant, if one alone is."""
    bills = [book.bills[number] for number in numbers_in(written) if number in book.bills]
    if bills:
        return _by_number(bills)
    return _by_name(name, amount, book)


def words_of(name: str) -> tuple[str, ...]:
    """A name as bare words: without accents, titles and signs.

    >>> words_of("Ms. Síofra O'Hara-Byrne")
    ('siofra', 'ohara', 'byrne')
    """
    plain = unicodedata.normalize(
        "NFKD", name.replace("'", "").replace("\N{RIGHT SINGLE QUOTATION MARK}", "")
    )
    letters = "".join(one for one in plain if not unicodedata.combining(one)).casefold()
    return tuple(word for word in re.findall(r"\w+", letters) if word not in TITLES)


def _by_number(bills: Sequence[Bill]) -> Proposal:
    if len({bill.party for bill in bills}) > 1:
        return Proposal(None, None, "names bills of several customers")
    open_ones = [bill for bill in bills if bill.open > ZERO]
    if len(bills) == 1 and open_ones:
        return Proposal(bills[0].party, bills[0].invoice, "names the invoice")
    why = "names several invoices" if len(bills) > 1 else "names an invoice that is paid already"
    return Proposal(bills[0].party, None, why)


def _by_name(name: str, amount: Decimal, book: Book) -> Proposal:
    told = words_of(name)
    named = [known for known in book.parties if told and _is_called(told, words_of(known.name))]
    if len(named) != 1:
        why = "several customers are called so" if named else "no bill named, no customer called so"
        return Proposal(None, None, why)
    only = named[0]
    surname = words_of(only.name)[-1]
    if sum(surname in words_of(known.name) for known in book.parties) > 1:
        return Proposal(None, None, "more than one customer bears this surname")
    open_ones = book.open.get(only.party, ())
    fitting = [bill for bill in open_ones if bill.open == amount]
    if len(fitting) == 1:
        return Proposal(only.party, fitting[0].invoice, "name, and the amount of an open invoice")
    if open_ones and sum((bill.open for bill in open_ones), ZERO) == amount:
        return Proposal(only.party, None, "name, and all that is open")
    if sorted(told) == sorted(words_of(only.name)):
        return Proposal(only.party, None, "name alone; the amount fits no open invoice")
    return Proposal(None, None, "initials only, and the amount fits no open invoice")


def _is_called(told: Sequence[str], whole: Sequence[str]) -> bool:
    """The whole name in any order, or its last word with the initials of all others."""
    if not whole:
        return False
    short = [*(word[0] for word in whole[:-1]), whole[-1]]
    return sorted(told) in (sorted(whole), sorted(short))
