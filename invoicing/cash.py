"""Cash: how much is taken when the smallest coins are not used?

The bill keeps its amount; only what changes hands is rounded, and the difference is written down beside it. Units:
the currency's main unit as Decimal. Half a step is taken as a whole one (no half step arises with 0.05). Source: the
total of a cash payment to the nearest 5 cents, as several states of the euro area practise it (from memory); whether
and how it holds where you are is a setting.

>>> taken(Decimal("496.86"), Decimal("0.05")), taken(Decimal("496.88"), Decimal("0.05"))
(Decimal('496.85'), Decimal('496.90'))
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from nursery.money import ZERO, cents, exact


def taken(owed: Decimal, step: Decimal) -> Decimal:
    """What is taken in cash of an amount owed.

    >>> taken(Decimal("496.86"), Decimal("0.01"))
    Decimal('496.86')
    """
    if exact(step) <= 0:
        raise ValueError("The step must be greater than zero.")
    return cents((exact(owed) / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step)


def bills_settled(owed: Sequence[Decimal], amount: Decimal, step: Decimal) -> tuple[int, Decimal] | None:
    """Cash that settles the first bills but for a rounding: how many of them, and what is owed less what is taken.

    None when it settles some exactly, or pays another part.

    >>> bills_settled([Decimal("120.00"), Decimal("496.86")], Decimal("616.85"), Decimal("0.05"))
    (2, Decimal('0.01'))
    """
    sums: list[Decimal] = []
    for one in owed:
        sums.append((sums[-1] if sums else ZERO) + one)
    if amount in sums:
        return None
    found = [(count, total) for count, total in enumerate(sums, 1) if taken(total, step) == amount]
    return (found[0][0], found[0][1] - amount) if found else None
