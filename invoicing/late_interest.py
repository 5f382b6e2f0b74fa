"""What does a bill paid late cost in interest, and is there a lump sum for it? Between businesses only, where agreed.

Units: money as Decimal with two places, rates in per cent a year, days as dates. Each day after the day the bill was
due bears a 365th of a year's interest on what was open as the day before it ended, also in a leap year; rounded once,
for the whole time. Errors: none; a day before the first rate bears nothing. Sources: Directive 2011/7/EU, Articles 3, 4
and 6 (reference rate of 1 January or 1 July and at least eight points; a fixed sum); actual days over 365: common
practice, no source. Example: 1 000.00 paid 30 days late at 2.15 and 8 points.

>>> rates = [Rate(dt.date(2026, 1, 1), Decimal("10.15"))]
>>> interest(spans(Decimal(1000), dt.date(2026, 6, 1), dt.date(2026, 7, 1), rates=rates))
Decimal('8.34')
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import groupby

from nursery.money import ZERO, cents

DAYS_OF_A_YEAR = 365
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Rate:
    """Per cent a year from a day on."""

    valid_from: dt.date
    percent: Decimal


@dataclass(frozen=True)
class Fall:
    """From the end of a day so much less is open: paid, credited, written off; below nothing: open again."""

    on: dt.date
    amount: Decimal


@dataclass(frozen=True)
class Span:
    """So many days on which the same was open at the same rate; the last day is counted."""

    until_on: dt.date
    days: int
    base: Decimal
    percent: Decimal


def spans(
    gross: Decimal,
    due_on: dt.date,
    until_on: dt.date,
    *,
    rates: Sequence[Rate],
    falls: Iterable[Fall] = (),
    leaves_out: Decimal = ZERO,
) -> tuple[Span, ...]:
    """The days after the due day up to a day, by what was open; `leaves_out` bears no interest, as it is disputed.

    >>> half = [Fall(dt.date(2026, 6, 11), Decimal(600))]
    >>> [(one.days, one.base) for one in spans(Decimal(1000), dt.date(2026, 6, 1), dt.date(2026, 7, 1),
    ...     rates=[Rate(dt.date(2026, 1, 1), Decimal(10))], falls=half)]
    [(10, Decimal('1000.00')), (20, Decimal('400.00'))]
    """
    fallen = sorted(falls, key=lambda fall: fall.on)
    days = [due_on + ONE_DAY * n for n in range(1, (until_on - due_on).days + 1)]

    def told(day: dt.date) -> tuple[Decimal, Decimal]:
        covered = sum((fall.amount for fall in fallen if fall.on < day), ZERO)
        return max(gross - covered - leaves_out, ZERO), _percent_on(rates, day)

    found = []
    for (base, percent), group in groupby(days, key=told):
        same = list(group)
        if base and percent:
            found.append(Span(same[-1], len(same), base, percent))
    return tuple(found)


def interest(of: Iterable[Span]) -> Decimal:
    """Together, rounded once."""
    exact = sum(
        (Fraction(one.base) * Fraction(one.percent) * one.days / (100 * DAYS_OF_A_YEAR) for one in of),
        Fraction(0),
    )
    return cents(Decimal(exact.numerator) / Decimal(exact.denominator))


def a_day(base: Decimal, percent: Decimal) -> Decimal:
    """What one more day costs.

    >>> a_day(Decimal(1000), Decimal("10.15"))
    Decimal('0.28')
    """
    return cents(base * percent / (100 * DAYS_OF_A_YEAR))


def held_at(rates: Sequence[Rate], due_on: dt.date) -> list[Rate]:
    """Where the rate of the first late day holds to the end: that one alone.

    >>> held_at([Rate(dt.date(2026, 1, 1), Decimal(10)), Rate(dt.date(2026, 7, 1), Decimal(9))], dt.date(2026, 6, 30))
    [Rate(valid_from=datetime.date(2026, 7, 1), percent=Decimal('9'))]
    """
    begun = [rate for rate in rates if rate.valid_from <= due_on + ONE_DAY]
    return [max(begun, key=lambda rate: rate.valid_from)] if begun else []


def lump_sum(debt: Decimal, bands: Iterable[tuple[Decimal, Decimal]]) -> Decimal:
    """The sum of the highest band that a debt reaches; each band as its least debt and its sum.

    >>> lump_sum(Decimal("999.99"), [(Decimal(0), Decimal(40)), (Decimal(1000), Decimal(70))])
    Decimal('40')
    """
    reached = [(least, amount) for least, amount in bands if debt >= least and debt > 0]
    return max(reached)[1] if reached else ZERO


def _percent_on(rates: Sequence[Rate], day: dt.date) -> Decimal:
    begun = [rate for rate in rates if rate.valid_from <= day]
    return max(begun, key=lambda rate: rate.valid_from).percent if begun else ZERO
