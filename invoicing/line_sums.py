"""Sums between the lines of a capped job: after which line does which sum stand?

"Work at rates" after what was worked and used, "Work before cap" after what is not charged; only where something was
left out above the cap, for without that the lines speak for themselves. Units: money net of VAT as Decimal.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple, Protocol

from nursery.money import ZERO

AT_RATES, BEFORE_CAP = "Work at rates", "Work before cap"


class OfJob(Protocol):
    """A line drawn or issued."""

    @property
    def kind(self) -> str: ...
    @property
    def net(self) -> Decimal: ...
    @property
    def estimate_id(self) -> int | None: ...


class SumLine(NamedTuple):
    """A sum as it is printed."""

    words: str
    net: Decimal


def sums_after(lines: Sequence[OfJob]) -> dict[int, tuple[SumLine, ...]]:
    """The sums by the place of the line they follow."""
    found: dict[int, tuple[SumLine, ...]] = {}
    for job in {line.estimate_id for line in lines if line.kind == "above_cap"}:
        places = [at for at, line in enumerate(lines) if line.estimate_id == job and line.kind != "above_cap"]
        worked = [at for at in places if lines[at].kind != "not_charged"]
        free = [at for at in places if lines[at].kind == "not_charged"]
        if worked:
            found[worked[-1]] = (SumLine(AT_RATES, _sum(lines, worked)),)
        if free:
            found[free[-1]] = (SumLine(BEFORE_CAP, _sum(lines, places)),)
    return found


def _sum(lines: Sequence[OfJob], places: Sequence[int]) -> Decimal:
    return sum((lines[at].net for at in places), ZERO)
