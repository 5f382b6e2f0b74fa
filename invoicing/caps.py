"""Caps: what of a job agreed with a cap is billed, and under which of four names is the rest not billed?

Work at rates, less what is not charged (the nursery's own cause), limited to the cap and the raises agreed, less
goodwill: in this order, so that a gift never eats room under the cap. A raise covers work from its part on; a consent
that names earlier work is dated at that work. Units: money net of VAT as Decimal with two places; parts in order of
time. Errors: ValueError for parts out of order, negative amounts, more not charged than worked, more goodwill than
there is to bill. Source: the nursery's own terms; common practice, no source.

>>> from datetime import date
>>> job = [Part(date(2026, 6, 4), Decimal("73.50"), Decimal("14.00")), Part(date(2026, 6, 26), Decimal("95.81"))]
>>> capped(job, Decimal("150.00"))
Capped(not_charged=Decimal('14.00'), above_cap=Decimal('5.31'), goodwill=Decimal('0.00'), billed=Decimal('150.00'))
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from nursery.money import ZERO, cents

# At these per cent of the cap the person at the bench is told; at the last one the limit is reached.
SIGNALS = (80, 95, 100)


class Part(NamedTuple):
    """Work of one time under a cap: at rates, what of it is not charged, and a raise agreed before it was done."""

    on: date
    work: Decimal
    not_charged: Decimal = ZERO
    raised: Decimal = ZERO


class Capped(NamedTuple):
    """The four sums of a capped job; with `billed` they add up to the work at rates."""

    not_charged: Decimal
    above_cap: Decimal
    goodwill: Decimal
    billed: Decimal


def capped(parts: Iterable[Part], cap: Decimal | None, goodwill: Decimal = ZERO) -> Capped:
    """What is not charged, above the cap, given as goodwill, and billed; `cap` None for a job without one.

    Work above the cap stays above it: a raise agreed later does not reach back.

    >>> from datetime import date
    >>> day = date(2026, 6, 9)
    >>> before = Part(day, Decimal("142.00"))
    >>> capped([before, Part(day, Decimal("14.00")), Part(day, Decimal("7.00"), raised=Decimal("30.00"))],
    ...        Decimal("150.00"))
    Capped(not_charged=Decimal('0.00'), above_cap=Decimal('6.00'), goodwill=Decimal('0.00'), billed=Decimal('157.00'))
    """
    of_job = [Part(*part) for part in parts]
    _checked(of_job, cap, goodwill)
    room, above, charged = cap, ZERO, ZERO
    for part in of_job:
        owed = cents(part.work) - cents(part.not_charged)
        if room is None:
            within = owed
        else:
            room += cents(part.raised)
            within = min(owed, room)
            room -= within
        charged, above = charged + within, above + owed - within
    if cents(goodwill) > charged:
        raise ValueError(f"Goodwill of {goodwill} is more than the {charged} there is to bill.")
    not_charged = sum((cents(part.not_charged) for part in of_job), ZERO)
    return Capped(not_charged, above, cents(goodwill), charged - cents(goodwill))


def signal(used: Decimal, limit: Decimal) -> int:
    """The highest of the three per cents that the work has reached, 0 below the first.

    >>> signal(Decimal("142.00"), Decimal("150.00")), signal(Decimal("142.50"), Decimal("150.00"))
    (80, 95)
    """
    if limit <= 0:
        raise ValueError("A limit is more than nothing.")
    return max((per_cent for per_cent in SIGNALS if used * 100 >= limit * per_cent), default=0)


def minutes_left(used: Decimal, limit: Decimal, hour_net: Decimal) -> int:
    """Whole minutes of work at a price per hour that still lie under the limit; 0 once it is reached.

    >>> minutes_left(Decimal("142.00"), Decimal("150.00"), Decimal("42.00"))
    11
    """
    if hour_net <= 0:
        raise ValueError("Minutes are left only at a price above nothing.")
    return max(0, int((limit - used) * 60 // hour_net))


def _checked(parts: list[Part], cap: Decimal | None, goodwill: Decimal) -> None:
    if any(later.on < earlier.on for earlier, later in zip(parts, parts[1:], strict=False)):
        raise ValueError("The parts of a job must be in order of time.")
    amounts = [amount for part in parts for amount in part[1:]]
    if min((*amounts, goodwill, cap or ZERO), default=ZERO) < 0:
        raise ValueError("An amount of a capped job cannot be negative.")
    if any(part.not_charged > part.work for part in parts):
        raise ValueError("More cannot be left uncharged than was worked.")
