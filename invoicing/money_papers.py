"""The words of the receipt for cash and of the statement: all that their prints say, as plain texts."""

import datetime as dt
from decimal import Decimal
from typing import Any

from invoicing.documents import buyer
from invoicing.models import Payment
from invoicing.overviews.account import AccountRow, Statement
from invoicing.overviews.payment import PaymentPage
from nursery import words
from nursery.models import Nursery, Person
from nursery.money import ZERO


def receipt_words(page: PaymentPage, on: dt.date, by: Person) -> dict[str, Any]:
    """What was taken, from whom, for which bills; by first name, as on every paper."""
    payment, currency = page.payment, Nursery.here().currency
    for_bills: dict[str, Decimal] = {}
    for use in page.uses:
        if use.invoice:
            for_bills[use.number] = for_bills.get(use.number, ZERO) + use.amount
    rows = [
        {"words": f"Invoice {number}", "amount": words.cash(paid)}
        for number, paid in for_bills.items()
        if paid
    ]
    if page.account.held_gross > 0:
        rows.append({"words": "On account, held as credit", "amount": words.cash(page.account.held_gross)})
    return {
        "currency": currency,
        "dated": words.day(on),
        "customer": buyer(payment.party, on) if payment.party else {"name": payment.payer_words, "lines": []},
        "received_on": words.day(payment.received_on),
        "amount": words.money(payment.amount_gross, currency),
        "rows": rows,
        "rounding": words.money(page.rounding, currency) if page.rounding else "",
        "taken_by": payment.recorded_by.first_name,
        "printed_by": by.first_name,
        "reference": payment.reference,
    }


def security_words(payment: Payment, by: Person) -> dict[str, Any]:
    """What was taken from whom, and what may become of it."""
    assert payment.party is not None
    currency = Nursery.here().currency
    return {
        "currency": currency,
        "dated": words.day(payment.received_on),
        "customer": buyer(payment.party, payment.received_on),
        "amount": words.money(payment.amount_gross, currency),
        "way": payment.get_way_display(),
        "reference": payment.reference,
        "taken_by": by.first_name,
    }


def statement_words(told: Statement, on: dt.date) -> dict[str, Any]:
    """Opening balance, every move with the balance after it, and what is owed at the end."""
    currency = Nursery.here().currency
    return {
        "currency": currency,
        "dated": words.day(on),
        "customer": buyer(told.party, on),
        "from_on": words.day(told.from_on),
        "until_on": words.day(told.until_on),
        "opening": words.cash(told.opening),
        "rows": [_row(row) for row in told.rows],
        "added": words.cash(told.added),
        "taken_off": words.cash(told.taken_off),
        "closing": words.cash(told.closing),
        "ends": ends_words(told, currency),
    }


def ends_words(told: Statement, currency: str) -> str:
    """What the last line means."""
    if told.closing > 0:
        return f"{words.money(told.closing, currency)} is owed to us."
    if told.closing < 0:
        return f"{words.money(-told.closing, currency)} is held for you."
    return "Nothing is owed either way."


def _row(row: AccountRow) -> dict[str, str]:
    return {
        "day": words.day(row.day),
        "words": row.words,
        "added": "" if row.billed is None else words.cash(row.billed),
        "taken_off": "" if row.paid is None else words.cash(row.paid),
        "balance": words.cash(row.balance),
    }
