"""Money: how is an amount brought to whole cents, and how is a total cut into parts?

Units: amounts in the currency's main unit (euro) as Decimal; VAT rates in per cent.
Errors: a binary float is refused with TypeError, an amount that is no number with ValueError.
Sources: exactly half a cent is rounded up, Council Regulation (EC) 1103/97, Art. 5; line net by
EN 16931-1 (quantity x net price / base quantity, two decimals); parts of a total by the method of the
largest remainder (Hamilton).

>>> cents(Decimal("0.70") * Decimal("1.05"))
Decimal('0.74')
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

CENT = Decimal("0.01")
ZERO = Decimal("0.00")

_NO_FLOAT = "Money is counted in Decimal, never in binary floating point: got {!r}."


def exact(amount: Decimal | int) -> Decimal:
    """The amount as a finite Decimal, unchanged.

    >>> exact(3)
    Decimal('3')
    """
    if isinstance(amount, bool) or not isinstance(amount, Decimal | int):
        raise TypeError(_NO_FLOAT.format(amount))
    number = Decimal(amount)
    if not number.is_finite():
        raise ValueError(f"{amount} is no amount.")
    return number


def cents(amount: Decimal | int) -> Decimal:
    """The amount with two places, half a cent away from zero: the only rounding of money.

    Never gives a negative zero.

    >>> cents(Decimal("2.005")), cents(Decimal("-2.005")), cents(Decimal("-0.004"))
    (Decimal('2.01'), Decimal('-2.01'), Decimal('0.00'))
    """
    return exact(amount).quantize(CENT, rounding=ROUND_HALF_UP) + ZERO


def share(total: Decimal | int, weights: Sequence[Decimal | int], step: Decimal) -> list[Decimal]:
    """Cut `total` into one part for each weight, in whole steps that add up to `total` exactly.

    Each part first gets the whole steps of its quota; the steps left over go, one each, to the parts with the
    largest remainders, of equal remainders to the earlier part. A negative total gives the negative parts of
    the positive one. Raises ValueError when `total` is no multiple of `step`, when a weight is negative, and
    when there is something to cut up but nobody to carry it.

    >>> share(Decimal("35.0"), [1, 1, 2, 4, 20], Decimal("0.1"))
    [Decimal('1.3'), Decimal('1.2'), Decimal('2.5'), Decimal('5.0'), Decimal('25.0')]
    """
    steps = _steps(total, step)
    parts = [Fraction(exact(weight)) for weight in weights]
    if any(part < 0 for part in parts):
        raise ValueError("A weight cannot be negative.")
    sign = -1 if steps < 0 else 1
    return [sign * count * step for count in _apportion(abs(steps), parts)]


def _steps(total: Decimal | int, step: Decimal) -> int:
    """How many steps make the total."""
    if exact(step) <= 0:
        raise ValueError("The step must be greater than zero.")
    steps = Fraction(exact(total)) / Fraction(step)
    if steps.denominator != 1:
        raise ValueError(f"{total} is no multiple of {step}.")
    return steps.numerator


def _apportion(seats: int, weights: list[Fraction]) -> list[int]:
    """Whole seats for each weight by the largest remainder; of equal remainders the earlier one first."""
    whole = sum(weights, Fraction(0))
    if whole == 0:
        if seats:
            raise ValueError("There is nobody to carry a part: every weight is zero.")
        return [0] * len(weights)
    quotas = [seats * weight / whole for weight in weights]
    counts = [quota.numerator // quota.denominator for quota in quotas]
    by_remainder = sorted(range(len(weights)), key=lambda i: (counts[i] - quotas[i], i))
    for i in by_remainder[: seats - sum(counts)]:
        counts[i] += 1
    return counts


def line_net(
    quantity: Decimal | int, price: Decimal | int, base_quantity: Decimal | int = Decimal(1)
) -> Decimal:
    """Net amount of one line: quantity x price / base quantity, rounded once.

    `price` is the price of `base_quantity` units: labour 42.00 for 60 minutes, a product 47.50 for 1000 ml.

    >>> line_net(190, Decimal("42.00"), 60), line_net(Decimal("27.6"), Decimal("47.50"), 1000)
    (Decimal('133.00'), Decimal('1.31'))
    """
    if exact(base_quantity) <= 0:
        raise ValueError("The base quantity of a price must be greater than zero.")
    return cents(exact(quantity) * exact(price) / exact(base_quantity))


def vat_inside(gross: Decimal | int, rate: Decimal | int) -> Decimal:
    """The VAT that a gross amount contains: gross x rate / (100 + rate), rounded once; `rate` in per cent.

    >>> vat_inside(Decimal("300.00"), 23)
    Decimal('56.10')
    """
    if exact(rate) < 0:
        raise ValueError("A VAT rate cannot be negative.")
    return cents(exact(gross) * exact(rate) / (100 + exact(rate)))
