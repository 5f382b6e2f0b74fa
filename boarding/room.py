"""Room on benches: how much room does a tree take, and does it still fit?

Areas are square metres of bench. A tree takes its measured area; without one, the upper bound of its size class.
Source: common practice, no source: the classes are the nursery's own scale of handling and bench space.

>>> area_of(2, None), left(Decimal("1.00"), [Decimal("0.25"), Decimal("0.50")])
(Decimal('0.25'), Decimal('0.25'))
"""

from collections.abc import Iterable
from decimal import Decimal

# A class 5 tree has no upper bound: until it is measured it counts like the largest of class 4.
CLASS_AREA_M2 = {
    1: Decimal("0.10"),
    2: Decimal("0.25"),
    3: Decimal("0.50"),
    4: Decimal("1.00"),
    5: Decimal("1.00"),
}


def area_of(size_class: int, measured_m2: Decimal | None) -> Decimal:
    """Square metres a tree takes; KeyError for a class that does not exist.

    >>> area_of(3, Decimal("0.42"))
    Decimal('0.42')
    """
    return CLASS_AREA_M2[size_class] if measured_m2 is None else measured_m2


def left(bench_m2: Decimal, taken_m2: Iterable[Decimal]) -> Decimal:
    """Room left on a bench; negative when it is overfull, which a proprietor may have allowed.

    >>> left(Decimal("0.50"), [Decimal("0.50"), Decimal("0.25")])
    Decimal('-0.25')
    """
    return bench_m2 - sum(taken_m2, Decimal())


def fits(bench_m2: Decimal, taken_m2: Iterable[Decimal], tree_m2: Decimal) -> bool:
    """Is there room for one more tree?

    >>> fits(Decimal("1.00"), [Decimal("0.75")], Decimal("0.25"))
    True
    """
    return left(bench_m2, taken_m2) >= tree_m2
