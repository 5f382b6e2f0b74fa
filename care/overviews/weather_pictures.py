"""The picture of a sum at a place: this year's course, how it may go on, earlier years, the figures of the pests."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from care import weather_curve, weather_curve_words
from care.degree_days import METHOD_WORDS, Method
from care.models import HeldFigure
from care.models.thresholds import plain
from care.overviews.warmth import Places, Scale
from care.warmth import Account, Measure
from care.weather_curve import Facts, Figure, Year
from nursery import words

MOST_YEARS = 3  # of earlier lines; more would hide this year's


@dataclass(frozen=True)
class Count:
    """How a sum is counted; two figures share a picture when this is the same."""

    unit: str
    base: Decimal
    upper: Decimal | None
    method: str
    start: dt.date

    def __str__(self) -> str:
        upper = f", below {plain(self.upper)}" if self.upper is not None else ""
        start = f"{self.start.day} {words.MONTHS[self.start.month - 1]}"
        return (
            f"Degree-days °{self.unit} above {plain(self.base)}{upper}, from {start},"
            f" {METHOD_WORDS[Method(self.method)]}"
        )

    @property
    def scale(self) -> Scale:
        """As the places count it."""
        upper = float(self.upper) if self.upper is not None else None
        return Scale(self.unit, Measure(float(self.base), Method(self.method), upper))


@dataclass(frozen=True)
class Picture:
    """The drawing for a desk and for a phone, with its text alternative."""

    facts: Facts

    @cached_property
    def wide(self) -> weather_curve.Curve:
        return weather_curve.lay_out(self.facts, weather_curve.WIDE)

    @cached_property
    def narrow(self) -> weather_curve.Curve:
        return weather_curve.lay_out(self.facts, weather_curve.NARROW)

    @cached_property
    def summary(self) -> str:
        return weather_curve_words.summary(self.facts)

    @cached_property
    def lines(self) -> list[str]:
        return weather_curve_words.lines(self.facts)


def count_of(figure: HeldFigure, today: dt.date) -> Count:
    """How a held figure is counted this year."""
    start = dt.date(today.year, figure.start_month, figure.start_day)
    return Count(figure.unit, figure.base, figure.upper, figure.method, start)


def scale_of(figure: HeldFigure) -> Scale:
    """The same without its start."""
    return count_of(figure, dt.date(2000, 1, 1)).scale


def picture_of(facts: Facts) -> Picture:
    return Picture(facts)


def facts_of(places: Places, thermometer: int, count: Count, figures: Iterable[HeldFigure]) -> Facts | None:
    """What is drawn; None before the first day of the count was read."""
    account = places.account(thermometer, count.scale)
    if account is None or account.last < count.start:
        return None
    begun = max(count.start, account.first)
    sums = account.since(begun)
    ways = places.ways(thermometer, count.scale)
    ahead = [tuple(sums[-1] + one for one in way) for way in sorted(ways, key=lambda way: way[-1])]
    return Facts(
        start=begun,
        sums=sums,
        coolest=tuple(min(days) for days in zip(*ahead, strict=False)),
        middle=ahead[(len(ahead) - 1) // 2] if ahead else (),
        warmest=tuple(max(days) for days in zip(*ahead, strict=False)),
        earlier=tuple(_earlier(account, begun)),
        figures=tuple(_figure(one) for one in figures),
        filled=_marked(account.filled, account, begun),
        missing=_marked(account.missing, account, begun),
    )


def _earlier(account: Account, begun: dt.date) -> Iterable[Year]:
    """Years before that were read from this day of the year on, newest first."""
    for back in range(1, MOST_YEARS + 1):
        start = _years_back(begun, back)
        if start < account.first:
            return
        until = min(dt.date(start.year, 12, 31), account.last)
        yield Year(start.year, account.since(start, until))


def _years_back(day: dt.date, years: int) -> dt.date:
    leap = day.month == 2 and day.day == 29
    return dt.date(day.year - years, 3, 1) if leap else day.replace(year=day.year - years)


def _figure(one: HeldFigure) -> Figure:
    second = f", generation {one.generation}" if one.generation > 1 else ""
    return Figure(f"{one.organism.common_name}{second}", float(one.low), float(one.high))


def _marked(counted: tuple[int, ...], account: Account, begun: dt.date) -> tuple[int, ...]:
    """The days on which a running count rises, by their number from `begun`."""
    first = (begun - account.first).days
    return tuple(n - first for n in range(first, len(counted)) if counted[n] > (counted[n - 1] if n else 0))
