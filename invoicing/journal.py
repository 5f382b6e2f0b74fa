"""The accountant's journal: which accounts does each document and each movement of money touch, and by how much?

Double entry: what is above nothing stands on the left (debit), what is below on the right (credit), and every entry
adds up to 0.00. Units: money as Decimal with two places, rates in per cent. Errors: ValueError for an entry that
does not balance. Sources: the rule of double entry; the accounts are our own defaults, numbers and names are settings.

>>> entry((Booking(Account.CUSTOMERS, Decimal("123.00")), Booking(Account.SALES, Decimal("-100.00"), "S", Decimal(23)),
...        Booking(Account.VAT, Decimal("-23.00"), "S", Decimal(23))))[2].credit
Decimal('23.00')
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from nursery.money import ZERO


class Account(StrEnum):
    """What an account is for."""

    CASH = "cash"
    BANK = "bank"
    CARD = "card"
    CHEQUE = "cheque"
    CUSTOMERS = "customers"
    UNCLEAR = "unclear"
    VAT = "vat"
    DEPOSITS = "deposits"
    SECURITIES = "securities"
    SALES = "sales"
    INTEREST = "interest"
    ROUNDING = "rounding"
    BAD_DEBTS = "bad_debts"


# Number and name until the nursery writes its own.
DEFAULTS: dict[Account, tuple[str, str]] = {
    Account.CASH: ("110", "Cash"),
    Account.BANK: ("120", "Bank"),
    Account.CARD: ("130", "Card payments"),
    Account.CHEQUE: ("140", "Cheques"),
    Account.CUSTOMERS: ("210", "Customers"),
    Account.UNCLEAR: ("310", "Money whose payer is not known"),
    Account.DEPOSITS: ("320", "Deposits on account, net"),
    Account.SECURITIES: ("330", "Deposits held as security"),
    Account.VAT: ("340", "VAT charged"),
    Account.SALES: ("510", "Keeping and care of trees"),
    Account.INTEREST: ("520", "Interest and lump sums for late payment"),
    Account.ROUNDING: ("610", "Cash rounding"),
    Account.BAD_DEBTS: ("620", "Bad debts"),
}


@dataclass(frozen=True)
class Booking:
    """One line of an entry: above nothing it is a debit, below nothing a credit."""

    account: Account
    amount: Decimal
    vat_key: str = ""
    percent: Decimal | None = None

    @property
    def debit(self) -> Decimal | None:
        return self.amount if self.amount > 0 else None

    @property
    def credit(self) -> Decimal | None:
        return -self.amount if self.amount < 0 else None


def entry(bookings: Iterable[Booking]) -> tuple[Booking, ...]:
    """The lines of one entry without those of nothing."""
    lines = tuple(one for one in bookings if one.amount)
    if sum((one.amount for one in lines), ZERO):
        raise ValueError("The two sides of an entry are not equal.")
    return lines


def moved(amount: Decimal, to: Account, from_: Account) -> tuple[Booking, ...]:
    """An amount from one account to another.

    >>> [(one.account.value, one.amount) for one in moved(Decimal("5.00"), Account.BANK, Account.CUSTOMERS)]
    [('bank', Decimal('5.00')), ('customers', Decimal('-5.00'))]
    """
    return entry((Booking(to, amount), Booking(from_, -amount)))
