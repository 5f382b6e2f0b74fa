"""When does a sum of degree-days fall due at a place: by its readings so far, and by the years before it?

A thermometer's readings make an account: running sums from its first day to its last. Up to `FILLED_AT_MOST` days
missing in a row take the mean of the readings around them, and are counted as filled. Of a longer gap only a range is
known: the coolest and the warmest of the days around it and of the same days of earlier years. From the last reading
on, each earlier year (or a climate table) is one way in which this year may go on; the middle one tells the best day,
the warmest and the coolest the band.

Units: temperatures and sums in one scale, that of the `Measure`; days are dates. Sums are never rounded before they are
compared. Errors: ValueError for a place without readings. Source: filling and band are the nursery's own rule.

>>> june = {date(2026, 6, 4 + n): (12.0, 22.0) for n in range(1, 11)}
>>> due = reach(account(june, Measure(10.0)), [], date(2026, 6, 5), 40.0)
>>> due.best, due.total, due.is_measured
(datetime.date(2026, 6, 10), 42.0, True)
"""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate as running_sums
from statistics import fmean

from care.degree_days import METHODS, Method

Reading = tuple[float, float]
FILLED_AT_MOST = 3
A_YEAR = 365
DAY = timedelta(days=1)
# Sums of floats: what reaches a threshold to nine places reaches it.
TOLERANCE = 1e-9


@dataclass(frozen=True)
class Measure:
    """How warmth is counted: above which base (below which upper threshold), by which method."""

    base: float
    method: str = Method.AVERAGE
    upper: float | None = None

    def of(self, reading: Reading) -> float:
        """The degree-days of one day."""
        return METHODS[Method(self.method)](*reading, self.base, self.upper)


@dataclass(frozen=True)
class Account:
    """Running sums of a place from `first` on, one for each day: the likely one, and the least and most where days are
    missing; with how many days so far were filled, and how many are missing."""

    first: date
    sums: tuple[float, ...]
    least: tuple[float, ...]
    most: tuple[float, ...]
    filled: tuple[int, ...]
    missing: tuple[int, ...]

    @property
    def last(self) -> date:
        """The day of the last reading."""
        return self.first + timedelta(days=len(self.sums) - 1)

    def since(self, day: date, until: date | None = None) -> tuple[float, ...]:
        """Running sums from a day on, that day counted, to a last one or to the last reading.

        >>> read = {date(2026, 6, 5): (11.0, 20.0), date(2026, 6, 6): (12.0, 22.0)}
        >>> account(read, Measure(10.0)).since(date(2026, 6, 6))
        (7.0,)
        """
        begun = max(0, (day - self.first).days)
        end = len(self.sums) if until is None else max(0, (until - self.first).days + 1)
        return tuple(total - _before(self.sums, begun) for total in self.sums[begun:end])


@dataclass(frozen=True)
class Reach:
    """When a sum since a day is reached. `total` is the sum on the best day where that is measured, else on the last
    day read; of `days` until then so many were filled and missing. None: not within a year of the last reading."""

    best: date | None
    earliest: date | None
    latest: date | None
    is_measured: bool
    total: float
    days: int
    filled: int
    missing: int
    ways: int
    read_to: date


@dataclass(frozen=True)
class _Day:
    likely: float
    least: float
    most: float
    filled: bool = False
    missing: bool = False


def account(readings: Mapping[date, Reading], measure: Measure) -> Account:
    """The running sums of a place from its first to its last reading."""
    if not readings:
        raise ValueError("A place without readings has no account.")
    known = {day: measure.of(reading) for day, reading in readings.items()}
    days = _with_gaps(readings, known, measure)
    return Account(
        first=min(known),
        sums=tuple(running_sums(day.likely for day in days)),
        least=tuple(running_sums(day.least for day in days)),
        most=tuple(running_sums(day.most for day in days)),
        filled=tuple(running_sums(int(day.filled) for day in days)),
        missing=tuple(running_sums(int(day.missing) for day in days)),
    )


def ways_on(readings: Mapping[date, Reading], measure: Measure, after: date) -> list[tuple[float, ...]]:
    """How each earlier year went on from the day after `after`: running sums of up to a year.

    A year is followed as far as no gap too long to fill comes.
    """
    known = {day: measure.of(reading) for day, reading in readings.items()}
    first = min(known, default=after)
    found = []
    for back in range(1, (after + DAY).year - first.year + 1):
        start = _years_back(after + DAY, back)
        way = _unbroken(known, readings, measure, start, after) if start >= first else None
        if way:
            found.append(tuple(running_sums(way)))
    return found


def reach(
    of: Account, ways: Sequence[Sequence[float]], since: date, target: float, by: date | None = None
) -> Reach:
    """The day on which the sum since a day (that day counted) reaches the target.

    `by` is the last day whose reading could be there: days since the last reading count as missing while the target is
    not reached.
    """
    begun = (since - of.first).days
    crossed = _crossing(of.sums, max(0, begun), target)
    end = len(of.sums) - 1 if crossed is None else crossed
    silent = max(0, (by - max(of.last, since - DAY)).days) if by and crossed is None else 0
    likely, warm, cool = (
        [_day_on(of, track, begun, target, way) for way in ways or [()]] for track in _tracks(of)
    )
    told = [n for n, way in enumerate(ways) if likely[n] or len(way) >= A_YEAR] or [0]
    return Reach(
        best=_middle([likely[n] for n in told]),
        earliest=min((day for n in told if (day := warm[n])), default=None),
        latest=max((day for n in told if (day := cool[n])), default=None)
        if all(cool[n] for n in told)
        else None,
        is_measured=crossed is not None,
        total=_between(of.sums, max(0, begun), end),
        days=max(0, end - begun + 1),
        filled=int(_between(of.filled, max(0, begun), end)),
        missing=int(_between(of.missing, max(0, begun), end)) + max(0, -begun) + silent,
        ways=0 if crossed is not None else len([n for n in told if n < len(ways)]),
        read_to=of.last,
    )


def _tracks(of: Account) -> tuple[Sequence[float], ...]:
    """The likely course, the warmest and the coolest."""
    return of.sums, of.most, of.least


def _with_gaps(readings: Mapping[date, Reading], known: Mapping[date, float], measure: Measure) -> list[_Day]:
    """Every day from the first reading to the last, gaps filled or given their range."""
    days: list[_Day] = []
    before: date | None = None
    for day in sorted(known):
        if before is not None and day - before > DAY:
            days += _gap(readings, known, measure, before, day)
        days.append(_Day(known[day], known[day], known[day]))
        before = day
    return days


def _gap(
    readings: Mapping[date, Reading], known: Mapping[date, float], measure: Measure, before: date, after: date
) -> list[_Day]:
    """The days between two readings."""
    gone = [before + n * DAY for n in range(1, (after - before).days)]
    if len(gone) <= FILLED_AT_MOST:
        mean = measure.of(_mean(readings[before], readings[after]))
        return [_Day(mean, mean, mean, filled=True)] * len(gone)
    return [_unknown(known, day, before, after) for day in gone]


def _unknown(known: Mapping[date, float], day: date, before: date, after: date) -> _Day:
    """A day of a long gap: between the coolest and the warmest of its surroundings and of the same day of years."""
    years = range(1, day.year - min(known).year + 1)
    earlier = [known[same] for back in years if (same := _years_back(day, back)) in known]
    around = [known[before], known[after], *earlier]
    return _Day(fmean(around), min(around), max(around), missing=True)


def _unbroken(
    known: Mapping[date, float], readings: Mapping[date, Reading], measure: Measure, start: date, until: date
) -> list[float]:
    """Daily sums of a year from `start`, short gaps filled, as far as no longer gap comes."""
    way: list[float] = []
    last = min(start + (A_YEAR - 1) * DAY, until)
    day = start
    while day <= last:
        if day in known:
            way.append(known[day])
            day += DAY
            continue
        filled = _bridge(readings, measure, day, last)
        if not filled:
            break
        way += filled
        day += len(filled) * DAY
    return way


def _bridge(readings: Mapping[date, Reading], measure: Measure, gone: date, last: date) -> list[float]:
    """The days from a missing one on, filled by the mean around them; empty where that is not allowed."""
    for length in range(1, FILLED_AT_MOST + 1):
        after = gone + length * DAY
        if after in readings and gone - DAY in readings and after <= last:
            return [measure.of(_mean(readings[gone - DAY], readings[after]))] * length
    return []


def _mean(one: Reading, other: Reading) -> Reading:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _years_back(day: date, years: int) -> date:
    """The same day of an earlier year; 29 February is 1 March where there is none."""
    try:
        return day.replace(year=day.year - years)
    except ValueError:
        return date(day.year - years, 3, 1)


def _before(sums: Sequence[float], begun: int) -> float:
    """The sum up to the day before."""
    if not sums or begun <= 0:
        return 0
    return sums[min(begun, len(sums)) - 1]


def _between(sums: Sequence[float], begun: int, end: int) -> float:
    return sums[end] - _before(sums, begun) if end >= begun else 0


def _crossing(sums: Sequence[float], begun: int, target: float) -> int | None:
    """The first day from `begun` on whose sum since then reaches the target."""
    at = bisect_left(sums, _before(sums, begun) + target - TOLERANCE, lo=min(begun, len(sums)))
    return at if at < len(sums) else None


def _day_on(
    of: Account, track: Sequence[float], begun: int, target: float, way: Sequence[float]
) -> date | None:
    """The day on which one track of the readings, going on in one way, reaches the target."""
    at = _crossing(track, max(0, begun), target)
    if at is not None:
        return of.first + at * DAY
    ahead = max(0, begun - len(track))  # the sum begins so many days after the last reading
    so_far = track[-1] - _before(track, begun) if begun < len(track) else 0.0
    left = _crossing(way, ahead, target - so_far)
    return None if left is None else of.last + (left + 1) * DAY


def _middle(days: Sequence[date | None]) -> date | None:
    """The middle of the days, the earlier of two; what is not reached stands last."""
    reached = sorted(day for day in days if day)
    at = (len(days) - 1) // 2
    return reached[at] if at < len(reached) else None
