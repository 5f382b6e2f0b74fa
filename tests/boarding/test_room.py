"""Room on a bench: areas of the classes and what fits."""

from decimal import Decimal

import pytest

from boarding import room


@pytest.mark.parametrize(("size", "area"), [(1, "0.10"), (2, "0.25"), (3, "0.50"), (4, "1.00"), (5, "1.00")])
def test_a_tree_without_a_measure_takes_what_its_class_says(size, area):
    assert room.area_of(size, None) == Decimal(area)
    assert room.area_of(size, Decimal("0.33")) == Decimal("0.33")


@pytest.mark.parametrize(("taken", "fits"), [("0.74", True), ("0.75", True), ("0.76", False)])
def test_the_last_square_centimetre_counts(taken, fits):
    assert room.fits(Decimal("1.00"), [Decimal(taken)], Decimal("0.25")) is fits


def test_there_is_no_sixth_class():
    with pytest.raises(KeyError):
        room.area_of(6, None)
