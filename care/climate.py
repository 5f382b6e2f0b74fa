"""How may a year go on where no earlier year was measured? By a table of months, with a spread.

Three ways are drawn from the table: as usual, warmer by the spread, cooler by it; they serve as earlier years do
(`care.warmth.reach`). Each day takes its month's figures. Units: one scale throughout. Errors: ValueError for a table
without all twelve months. Source: the table's own, kept with it; the spread is the nursery's choice.

>>> table = {month: Month(5.0, 15.0, 2.0) for month in range(1, 13)}
>>> [round(way[9], 1) for way in ways_by_climate(table, Measure(8.0), date(2026, 5, 31))]
[0.0, 20.0, 40.0]
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import accumulate as running_sums

from care.warmth import A_YEAR, DAY, Measure


@dataclass(frozen=True)
class Month:
    """What a month is usually like: mean lowest and highest temperature of its days, and how far years differ."""

    t_min: float
    t_max: float
    spread: float = 0.0


def ways_by_climate(table: Mapping[int, Month], measure: Measure, after: date) -> list[tuple[float, ...]]:
    """A cool, a usual and a warm way from the day after `after` on: running sums of a year."""
    if set(table) != set(range(1, 13)):
        raise ValueError("A table of the climate has all twelve months.")
    months = [(after + n * DAY).month for n in range(1, A_YEAR + 1)]
    return [_way(table, measure, months, sign) for sign in (-1, 0, 1)]


def _way(table: Mapping[int, Month], measure: Measure, months: list[int], sign: int) -> tuple[float, ...]:
    daily = {
        month: measure.of((of.t_min + sign * of.spread, of.t_max + sign * of.spread))
        for month, of in table.items()
    }
    return tuple(running_sums(daily[month] for month in months))
