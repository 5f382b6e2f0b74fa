"""How are days, times and sums of money written here? The same words on pages, in mails and on papers.

Days as "Wed 3 June 2026", times in 24 hours, money always with its currency. Values are already on the
nursery's wall clock and already rounded: nothing is converted here. Sources, both from memory: in English the
currency sign stands before the figure without a space, a code before it with a hard space (European Union
Interinstitutional Style Guide, 7.3.3); groups of three by a space, never by a comma, which half Europe reads
as the decimal mark (ISO 80000-1).

>>> day(dt.date(2026, 6, 3)), money(Decimal("272.57")), clock_time(dt.time(14, 5))
('Wed 3 June 2026', '€272.57', '14:05')
"""

import datetime as dt
from decimal import Decimal

HARD_SPACE = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"
SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def day(on: dt.date) -> str:
    """'Wed 3 June 2026'."""
    return f"{short_day(on)} {on.year}"


def short_day(on: dt.date) -> str:
    """'Wed 3 June', where the year stands in the heading."""
    return f"{DAYS[on.weekday()]} {on.day} {MONTHS[on.month - 1]}"


def clock_time(at: dt.time | dt.datetime) -> str:
    """'14:05'."""
    return f"{at:%H:%M}"


def moment(at: dt.datetime) -> str:
    """'Wed 3 June 2026, 14:05'."""
    return f"{day(at)}, {clock_time(at)}"


def lowered(label: str) -> str:
    """A label within a sentence: only its first letter becomes small.

    >>> lowered("Export outside the European Union")
    'export outside the European Union'
    """
    return label[:1].lower() + label[1:]


def money(amount: Decimal, currency: str = "EUR") -> str:
    """'€272.57', '−€5.00', 'CHF 272.57' (hard space).

    >>> money(Decimal("-5"), "GBP"), money(Decimal("1250.5"), "EUR").replace(HARD_SPACE, "_")
    ('−£5.00', '€1_250.50')
    """
    sign = SIGNS.get(currency, f"{currency}{HARD_SPACE}")
    return f"{_minus(amount)}{sign}{_grouped(amount)}"


def cash(amount: Decimal) -> str:
    """'272.57' for a column whose heading names the currency."""
    return f"{_minus(amount)}{_grouped(amount)}"


def _minus(amount: Decimal) -> str:
    return MINUS if amount < 0 else ""


def _grouped(amount: Decimal) -> str:
    return f"{abs(amount):,.2f}".replace(",", HARD_SPACE)
