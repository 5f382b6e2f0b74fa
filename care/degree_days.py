"""Degree-days: how much warmth above a threshold did a day bring, and how much since a start?

Insects grow by warmth, not by the calendar: eggs hatch when the sum of a place's degree-days since a start reaches a
published figure. Two methods are in use and give different sums of the same weather, so a figure always belongs to one:
the single sine draws the day between its lowest and its highest temperature, the simple average takes their mean.

Units: degrees and degree-days of one scale throughout, Celsius or Fahrenheit; a Celsius sum times 1.8 is the Fahrenheit
sum, and 10 degrees C are 50 degrees F. `lower` is the base; above `upper` no more warmth counts (horizontal cutoff).
Daily values are summed as they are, unrounded. Errors: ValueError for a lowest temperature above the highest, for an
upper threshold that is not above the lower one, and for a temperature that is no number.

Sources: single sine, Baskerville and Emin 1969, Ecology 50:514-517; Allen 1976, Environmental Entomology 5:388-396; the
six cases, Zalom et al. 1983, University of California leaflet 21373, table 5. Averages: McMaster and Wilhelm 1997,
Agricultural and Forest Meteorology 87:291-300.

>>> round(single_sine(50, 101, 55, 90), 2), simple_average(12, 22, 10)
(18.95, 7.0)
>>> accumulate([(11, 20), (12, 22), (12, 23)], 10, method=simple_average)
[5.5, 12.5, 20.0]
"""

import math
from collections.abc import Callable, Iterable
from enum import StrEnum
from itertools import accumulate as running_sums
from typing import Any, Protocol

FAHRENHEIT_PER_CELSIUS = 1.8
FREEZING_F = 32.0


class Method(StrEnum):
    """How a day's warmth is reckoned; part of every published figure."""

    SINE = "sine"
    AVERAGE = "average"


METHOD_WORDS = {Method.SINE: "single sine", Method.AVERAGE: "simple average"}


class DailyMethod(Protocol):
    """A method for one day."""

    def __call__(self, t_min: float, t_max: float, lower: float, upper: float | None = None) -> float: ...


def single_sine(t_min: float, t_max: float, lower: float, upper: float | None = None) -> float:
    """Degree-days of one day by the single sine; with an upper threshold by the horizontal cutoff.

    What lies above the upper threshold is taken off: the same as the six published cases.

    >>> round(single_sine(52, 73, 50, 70), 2), single_sine(96, 110, 55, 90), single_sine(45, 54, 55)
    (12.01, 35.0, 0.0)
    """
    _refuse_impossible(t_min, t_max, lower, upper)
    above = _sine_above(t_min, t_max, lower)
    return above if upper is None else above - _sine_above(t_min, t_max, upper)


def simple_average(
    t_min: float, t_max: float, lower: float, upper: float | None = None, clamp_first: bool = False
) -> float:
    """Degree-days of one day from the mean of its lowest and highest temperature.

    As published in two readings: the mean is held within the thresholds (method 1), or with `clamp_first` both
    temperatures are, before they are averaged (method 2).

    >>> simple_average(-2, 8, 0), simple_average(-2, 8, 0, clamp_first=True), simple_average(20, 40, 10, 35)
    (3.0, 4.0, 20.0)
    """
    _refuse_impossible(t_min, t_max, lower, upper)
    if clamp_first:
        t_min, t_max = _within(t_min, lower, upper), _within(t_max, lower, upper)
    return _within((t_min + t_max) / 2, lower, upper) - lower


METHODS: dict[Method, DailyMethod] = {Method.SINE: single_sine, Method.AVERAGE: simple_average}


def accumulate(
    days: Iterable[tuple[float, float]],
    lower: float,
    upper: float | None = None,
    method: Method | str | Callable[..., float] = Method.SINE,
) -> list[float]:
    """Running totals over days of (lowest, highest) temperature, by the name of a method or by the method itself.

    >>> accumulate([(13, 24), (10, 18)], 10, method="average")
    [8.5, 12.5]
    """
    daily: Any = METHODS[Method(method)] if isinstance(method, str) else method
    return list(running_sums(daily(t_min, t_max, lower, upper) for t_min, t_max in days))


def fahrenheit(celsius: float) -> float:
    """A temperature in Fahrenheit.

    >>> fahrenheit(10.0)
    50.0
    """
    return celsius * FAHRENHEIT_PER_CELSIUS + FREEZING_F


def celsius(fahrenheit: float) -> float:
    """A temperature in Celsius.

    >>> celsius(50.0)
    10.0
    """
    return (fahrenheit - FREEZING_F) / FAHRENHEIT_PER_CELSIUS


def in_scale(temperature: float, scale: str, to: str) -> float:
    """A temperature read in one scale ("C" or "F") in another.

    >>> in_scale(50.0, "F", "C"), in_scale(12.5, "C", "C")
    (10.0, 12.5)
    """
    if scale == to:
        return temperature
    return fahrenheit(temperature) if to == "F" else celsius(temperature)


def _sine_above(t_min: float, t_max: float, threshold: float) -> float:
    """The area of the day's sine above a threshold, in degree-days."""
    if t_max <= threshold:
        return 0.0
    mean, half_range = (t_max + t_min) / 2, (t_max - t_min) / 2
    if t_min >= threshold:
        return mean - threshold
    crosses = math.asin((threshold - mean) / half_range)
    return ((mean - threshold) * (math.pi / 2 - crosses) + half_range * math.cos(crosses)) / math.pi


def _within(temperature: float, lower: float, upper: float | None) -> float:
    held = max(temperature, lower)
    return float(held if upper is None else min(held, upper))


def _refuse_impossible(t_min: float, t_max: float, lower: float, upper: float | None) -> None:
    if not all(math.isfinite(value) for value in (t_min, t_max, lower, upper or 0.0)):
        raise ValueError("A temperature is a number.")
    if t_min > t_max:
        raise ValueError("The lowest temperature of a day is not above the highest.")
    if upper is not None and upper <= lower:
        raise ValueError("The upper threshold is above the lower one.")
