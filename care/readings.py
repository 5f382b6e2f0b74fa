"""Can a thermometer have shown this? Lowest and highest of a day, checked before they are written down.

Units: degrees of the thermometer's scale, "C" or "F", as Decimal. Errors: `NotPossible` with the field that is wrong
and a sentence that says what to do. Source: the bounds are the nursery's own rule, far beyond any weather: 60 degrees
Celsius of frost and of heat.

>>> check(Decimal("11"), Decimal("20"), "C")
>>> check(Decimal("20"), Decimal("11"), "C")
Traceback (most recent call last):
care.readings.NotPossible: The lowest, 20, is above the highest, 11: did you swap them?
"""

from collections.abc import Iterable
from decimal import Decimal

SCALE_WORDS = {"C": "Celsius", "F": "Fahrenheit"}
BOUNDS = {"C": (Decimal(-60), Decimal(60)), "F": (Decimal(-76), Decimal(140))}
OTHER = {"C": "F", "F": "C"}
HUNDREDTH = Decimal("0.01")
# So far from the days around it a day is odd, and so near to them it fits: degrees Celsius, the nursery's own rule.
ODD, FITS = Decimal(20), Decimal(6)
Pair = tuple[Decimal, Decimal]


class NotPossible(ValueError):
    """A reading that is refused; `field` is "t_min" or "t_max"."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field, self.sentence = field, sentence


def check(low: Decimal, high: Decimal, scale: str, around: Iterable[Pair] = ()) -> None:
    """Refuse what no thermometer shows, what is swapped, and what was read in the other scale.

    `around` are readings of the days beside it, in the same scale.
    """
    for field, value in (("t_min", low), ("t_max", high)):
        _within_bounds(field, value, scale)
    if low > high:
        raise NotPossible(
            "t_min",
            f"The lowest, {plain(low)}, is above the highest, {plain(high)}: did you swap them?",
        )
    _like_its_neighbours(low, high, scale, list(around))


def converted(value: Decimal, scale: str, to: str) -> Decimal:
    """A temperature in another scale, to a hundredth of a degree.

    >>> converted(Decimal("50"), "F", "C"), converted(Decimal("12.5"), "C", "F"), converted(Decimal("1"), "C", "C")
    (Decimal('10.00'), Decimal('54.50'), Decimal('1'))
    """
    if scale == to:
        return value
    told = value * 9 / 5 + 32 if to == "F" else (value - 32) * 5 / 9
    return told.quantize(HUNDREDTH)


def plain(value: Decimal) -> str:
    """A temperature without zeros at its end, with a true minus.

    >>> plain(Decimal("12.50")), plain(Decimal("-3.00")), plain(Decimal("20"))
    ('12.5', '−3', '20')
    """
    text = f"{value:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace("-", "\N{MINUS SIGN}")


def _within_bounds(field: str, value: Decimal, scale: str) -> None:
    least, most = BOUNDS[scale]
    if least <= value <= most:
        return
    other = OTHER[scale]
    low, high = BOUNDS[other]
    if low <= value <= high:
        raise NotPossible(
            field,
            f"{plain(value)} looks like {SCALE_WORDS[other]}; this thermometer is read in {SCALE_WORDS[scale]}:"
            f" {plain(converted(value, other, scale))} there.",
        )
    raise NotPossible(
        field, f"No weather is that: write degrees {SCALE_WORDS[scale]} from {plain(least)} to {plain(most)}."
    )


def _like_its_neighbours(low: Decimal, high: Decimal, scale: str, around: list[Pair]) -> None:
    """Far from the days around it, and near to them when read in the other scale: it was read in the other scale."""
    if not around:
        return
    degree = 1 if scale == "C" else Decimal("1.8")
    usual = sum((one + other for one, other in around), Decimal(0)) / (2 * len(around))
    other = OTHER[scale]
    told, meant = (low + high) / 2, converted((low + high) / 2, other, scale)
    if abs(told - usual) > ODD * degree and abs(meant - usual) < FITS * degree:
        raise NotPossible(
            "t_min",
            f"{plain(low)} and {plain(high)} look like {SCALE_WORDS[other]}, by the days around; this thermometer is"
            f" read in {SCALE_WORDS[scale]}: {plain(converted(low, other, scale))} and"
            f" {plain(converted(high, other, scale))} there.",
        )
