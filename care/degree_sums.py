"""What is a sum of degree-days in the other scale?

A sum of degree-days is a number of degrees times days, so only the size of a degree counts and no zero point: a sum
in C times 1.8 is the sum in F. A temperature has a zero point too. Units: degree-days above a base (10 C is 50 F),
temperatures in degrees. Errors: none; every number has its other. Source of the rule: the definition of the two
scales, F = 1.8 C + 32. Worked example: 550 degree-days F are 305.6 degree-days C, above 10 C where the base is 50 F.

>>> sum_in_celsius(Decimal(550))
Decimal('305.6')
>>> temperature_in_celsius(Decimal(50))
Decimal('10.0')
"""

from decimal import ROUND_HALF_UP, Decimal

DEGREE = Decimal("1.8")  # degrees F in one degree C
FREEZING = Decimal(32)  # 0 C in F
TENTH = Decimal("0.1")


def sum_in_celsius(figure: Decimal) -> Decimal:
    """A sum in F as one in C, to a tenth."""
    return (figure / DEGREE).quantize(TENTH, ROUND_HALF_UP)


def sum_in_fahrenheit(figure: Decimal) -> Decimal:
    """A sum in C as one in F, to a tenth.

    >>> sum_in_fahrenheit(Decimal(353))
    Decimal('635.4')
    """
    return (figure * DEGREE).quantize(TENTH, ROUND_HALF_UP)


def temperature_in_celsius(degrees: Decimal) -> Decimal:
    """A temperature in F as one in C, to a tenth."""
    return ((degrees - FREEZING) / DEGREE).quantize(TENTH, ROUND_HALF_UP)
