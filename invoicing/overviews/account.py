"""A customer's account: documents and payments in order of day, with the balance after each."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from invoicing.models import Dispute, Invoice, PaymentReminder
from invoicing.overviews.deposits import KnownDeposit, deposits_left
from invoicing.overviews.disputes import disputes_with
from invoicing.overviews.drawn import Drawn, drawn_for
from invoicing.overviews.money import credit_of, security_of
from invoicing.overviews.moves import Move, moves_of
from invoicing.overviews.reminding import reminders_to
from invoicing.overviews.waiting import left_out
from nursery.models import Party
from nursery.money import ZERO


@dataclass(frozen=True)
class AccountRow:
    """One move; `invoice` or `payment` is set for the page behind it."""

    day: dt.date
    words: str
    billed: Decimal | None
    paid: Decimal | None
    balance: Decimal
    invoice: int | None = None
    payment: int | None = None


@dataclass(frozen=True)
class AccountPage:
    """The whole account of one party."""

    party: Party
    rows: tuple[AccountRow, ...]
    credit: Decimal
    unbilled: Drawn
    draft: Invoice | None
    left_out: tuple[str, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    reminders: tuple[PaymentReminder, ...] = ()
    deposits: tuple[KnownDeposit, ...] = ()
    security: Decimal = ZERO

    @property
    def usable(self) -> Decimal:
        """The credit without what is held as security."""
        return self.credit - self.security

    @property
    def balance(self) -> Decimal:
        """Invoices less payments: what the party owes us, negative when we hold money."""
        return self.rows[-1].balance if self.rows else ZERO

    @property
    def owed(self) -> Decimal:
        """What the party is to pay: a security is set against nothing yet."""
        return self.balance + self.security


@dataclass(frozen=True)
class Statement:
    """A customer's account from one day to another, both included."""

    party: Party
    from_on: dt.date
    until_on: dt.date
    opening: Decimal
    rows: tuple[AccountRow, ...]

    @property
    def closing(self) -> Decimal:
        return self.rows[-1].balance if self.rows else self.opening

    @property
    def added(self) -> Decimal:
        return sum((row.billed for row in self.rows if row.billed is not None), ZERO)

    @property
    def taken_off(self) -> Decimal:
        return sum((row.paid for row in self.rows if row.paid is not None), ZERO)


def account_page(party: Party, today: dt.date) -> AccountPage:
    """Documents and payments of a party with running balance, and what is unbilled so far."""
    return AccountPage(
        party=party,
        rows=tuple(account_rows(party)),
        credit=credit_of(party),
        unbilled=drawn_for(party, up_to_on=today, work_before=today),
        draft=Invoice.objects.filter(payer=party, issued_at=None).first(),
        left_out=left_out(party, today),
        disputes=tuple(disputes_with(party)),
        reminders=tuple(reminders_to(party)),
        deposits=tuple(deposits_left(party.pk)),
        security=security_of(party),
    )


def account_rows(party: Party) -> Iterable[AccountRow]:
    """Invoices add, payments take off; on one day invoices first."""
    return _running(moves_of(party), ZERO)


def statement(party: Party, from_on: dt.date, until_on: dt.date) -> Statement:
    """What was owed as the first day began, everything from day to day, and what is owed as the last one ends."""
    moves = moves_of(party)
    opening = sum((move.amount for move in moves if move.day < from_on), ZERO)
    within = [move for move in moves if from_on <= move.day <= until_on]
    return Statement(party, from_on, until_on, opening, tuple(_running(within, opening)))


def statement_lines(told: Statement) -> tuple[AccountRow, ...]:
    """The rows of a statement with its opening balance before them."""
    return (AccountRow(told.from_on, "Balance before this day", None, None, told.opening), *told.rows)


def first_day(party: Party, otherwise: dt.date) -> dt.date:
    """The day of the first move."""
    return min((move.day for move in moves_of(party)), default=otherwise)


def _running(moves: Iterable[Move], balance: Decimal) -> Iterable[AccountRow]:
    for move in moves:
        balance += move.amount
        billed, paid = (move.amount, None) if move.amount >= 0 else (None, -move.amount)
        yield AccountRow(move.day, move.words, billed, paid, balance, move.invoice, move.payment)
