"""The range of learned minutes against another reckoning of the same definition of a quantile.

Python's own `statistics.quantiles(method="inclusive")` is definition 7 of R. J. Hyndman and Y. Fan, "Sample quantiles
in statistical packages", The American Statistician 50 (1996), pages 361-365 (from memory): h = (n - 1) p + 1.
"""

from fractions import Fraction
from statistics import quantiles

from hypothesis import given
from hypothesis import strategies as some

from care.learned import quantile


@given(some.lists(some.integers(0, 900), min_size=2, max_size=50))
def test_tenths_are_those_of_the_inclusive_method(minutes):
    ordered = sorted(minutes)
    exact = quantiles([Fraction(one) for one in ordered], n=10, method="inclusive")
    half_up = [int(one + Fraction(1, 2)) for one in exact]
    assert [quantile(ordered, tenths) for tenths in range(1, 10)] == half_up


def test_a_row_reckoned_by_hand():
    """Ten jobs of 10 to 100 minutes: the tenths lie at (n - 1) p + 1, which is 1.9, 5.5 and 9.1."""
    row = list(range(10, 101, 10))
    assert [quantile(row, tenths) for tenths in (1, 5, 9)] == [19, 55, 91]
