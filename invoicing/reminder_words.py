"""The words of a payment reminder: all that its print says, as plain texts.

What may be said where you are, a lawyer knows; the sentence about what was agreed is a setting.
"""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from invoicing.documents import buyer
from invoicing.models import ReminderRules
from invoicing.money_papers import statement_words
from invoicing.overviews.account import statement
from invoicing.overviews.reminding import LateBill, Letter
from invoicing.paying import pay_words
from invoicing.payment_code import in_fours
from nursery import papers, units, words
from nursery.models import Nursery, PartyKind, Person
from nursery.money import ZERO

TITLES = {1: "Payment reminder", 2: "Second payment reminder", 3: "Third payment reminder"}
ORDER = {1: "first", 2: "second", 3: "third"}
AS_AGREED_FROM = 2  # the first reminder is friendly and names no consequences


def pay_by(rules: ReminderRules, on: dt.date) -> dt.date:
    """The new day by which payment is asked for."""
    return on + dt.timedelta(days=max(rules.term_days, 1))


def reminder_words(letter: Letter, rules: ReminderRules, on: dt.date, by: Person) -> dict[str, Any]:
    """What a reminder of that day says."""
    here, business = Nursery.here(), letter.party.kind == PartyKind.BUSINESS
    agreed = rules.business_words if business else rules.private_words
    return {
        "currency": here.currency,
        "dated": words.day(on),
        "customer": buyer(letter.party, on),
        "level": ORDER[letter.level],
        "opening": opening(letter, business=business),
        "rows": [_row(bill) for bill in letter.bills],
        "asked": words.money(letter.asked_gross, here.currency),
        "pay_by": words.day(pay_by(rules, on)),
        "disputed": [_disputed(bill, here.currency) for bill in letter.bills if bill.disputed_gross],
        "credit": words.money(letter.credit, here.currency) if letter.credit else "",
        "iban": in_fours(here.iban),
        "pays": [_pays(bill) for bill in letter.bills],
        "agreed": agreed if letter.level >= AS_AGREED_FROM else "",
        "late": _late(letter, here.currency),
        "written_by": by.first_name,
        "statement": _statement(letter, on),
    }


def opening(letter: Letter, *, business: bool) -> str:
    """The first sentence: friendly at the first level, plain at the others, a threat at none."""
    one = len(letter.bills) == 1
    what = "the bill below is" if one else "the bills below are"
    if letter.level == 1 and business:
        return (
            f"In our books {what} not paid yet; perhaps the payment is on its way, or the bill went astray."
        )
    if letter.level == 1:
        return f"Perhaps it was forgotten in a busy week: in our books {what} not paid yet."
    last = f" on {words.day(letter.last_on)}" if letter.last_on else ""
    if letter.level == 2:
        return (
            f"We reminded you{last}, and in our books {what} still open. Is anything unclear? Please call us."
        )
    return (
        f"We have reminded you twice, last{last}, and in our books {what} still open. Please pay by the day named "
        "below, or call us before it, so that we find a way together."
    )


def _row(bill: LateBill) -> dict[str, str]:
    invoice, account = bill.account.invoice, bill.account
    assert invoice.issued_on is not None
    return {
        "number": bill.number,
        "dated": words.day(invoice.issued_on),
        "due_on": words.day(account.due_on),
        "days_over": str(bill.days_over),
        "billed": words.cash(account.gross),
        "covered": words.cash(account.paid_gross),
        "open": words.cash(bill.open_gross),
        "disputed": words.cash(bill.disputed_gross) if bill.disputed_gross else "",
        "asked": words.cash(bill.asked_gross),
    }


def _disputed(bill: LateBill, currency: str) -> str:
    reasons = "; ".join(doubt.reason.rstrip(".") for doubt in bill.doubts)
    return (
        f"{words.money(bill.disputed_gross, currency)} of {bill.number} is disputed ({reasons}). It is not asked for "
        "here, and stays open until that is settled."
    )


def _pays(bill: LateBill) -> dict[str, Any]:
    """Reference and code of one bill, over what is asked for of it, to the account of today."""
    told = pay_words(bill.account.invoice, bill.asked_gross, to=papers.letterhead())
    return {
        "number": bill.number,
        "asked": words.money(bill.asked_gross, bill.account.invoice.currency),
        **told,
    }


def _late(letter: Letter, currency: str) -> dict[str, Any] | None:
    """Interest and lump sum of businesses, reckoned to the day of the letter; on no bill, without VAT."""
    together = letter.interest + letter.lump_sum
    if not together:
        return None
    rows = [(bill, bill.late) for bill in letter.bills if bill.late]
    return {
        "rows": [
            {
                "number": bill.number,
                "days": [
                    f"{units.format_quantity(span.days, 'day')} at {units.format_number(span.percent)} % "
                    f"on {words.cash(span.base)}"
                    for span in late.spans
                ],
                "interest": words.cash(late.interest),
                "lump_sum": words.cash(late.lump_sum) if late.lump_sum else "",
            }
            for bill, late in rows
        ],
        "a_day": words.money(sum((late.a_day for _, late in rows), ZERO), currency),
        "interest": words.cash(letter.interest),
        "lump_sum": words.cash(letter.lump_sum),
        "together": words.money(together, currency),
    }


def _statement(letter: Letter, on: dt.date) -> dict[str, Any]:
    days: Sequence[dt.date] = [day for bill in letter.bills if (day := bill.account.invoice.issued_on)]
    told = statement_words(statement(letter.party, min(days), on), on)
    return {
        name: told[name]
        for name in ("from_on", "until_on", "opening", "rows", "added", "taken_off", "closing", "ends")
    }
