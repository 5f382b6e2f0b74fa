"""Estimates: what may a job cost, from its steps with their minutes and the prices per hour?

Units: minutes in, money net of VAT as Decimal with two places out. Each step is rounded once and the steps are added
up, so that the sum on the paper is the sum of its lines. Errors: ValueError for a range that ends before it begins.
Source: the nursery's own rate card.

>>> scrub = Range(Decimal("66.50"), Decimal("98.00"))
>>> step_range(95, 140, Decimal("42.00")) == scrub
True
>>> whole([scrub], Range(Decimal("3.00"), Decimal("6.00")))
Range(least=Decimal('69.50'), most=Decimal('104.00'))
"""

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from nursery.money import ZERO, cents, line_net

MINUTES_OF_AN_HOUR = 60


class Range(NamedTuple):
    """From this amount to that one."""

    least: Decimal
    most: Decimal


NOTHING = Range(ZERO, ZERO)


def step_range(least_minutes: int, most_minutes: int, hour_net: Decimal) -> Range:
    """What the minutes of one step cost.

    >>> step_range(70, 110, Decimal("46.00"))
    Range(least=Decimal('53.67'), most=Decimal('84.33'))
    """
    if not 0 <= least_minutes <= most_minutes:
        raise ValueError("A range of minutes goes from the lesser to the greater.")
    return Range(
        line_net(least_minutes, hour_net, MINUTES_OF_AN_HOUR),
        line_net(most_minutes, hour_net, MINUTES_OF_AN_HOUR),
    )


def whole(steps: Iterable[Range], materials: Range = NOTHING) -> Range:
    """The sum of the steps and the materials."""
    parts = [*steps, materials]
    return Range(
        cents(sum((one.least for one in parts), ZERO)), cents(sum((one.most for one in parts), ZERO))
    )
