"""Number of twigs to look at, against published sample sizes for inspection.

Source, from memory: FAO, ISPM 31 "Methodologies for sampling of consignments", table of sample sizes by the
binomial distribution for large lots: the smallest number of units that finds an infestation of the given
level with the given confidence.
"""

from decimal import Decimal

import pytest

from boarding.certainty import chance_of_missing


@pytest.mark.parametrize(
    ("level", "confidence", "size"),
    [
        ("0.10", "0.95", 29),
        ("0.05", "0.95", 59),
        ("0.02", "0.95", 149),
        ("0.01", "0.95", 299),
        ("0.05", "0.99", 90),
        ("0.01", "0.99", 459),
    ],
)
def test_the_published_size_is_the_smallest_that_suffices(level: str, confidence: str, size: int) -> None:
    allowed = 1 - Decimal(confidence)
    assert chance_of_missing(Decimal(level), size) <= allowed
    assert chance_of_missing(Decimal(level), size - 1) > allowed
