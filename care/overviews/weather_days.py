"""Days as they were read at a thermometer: each with who wrote it, filled days and missing ones said in words."""

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from care.models import Thermometer, WeatherDay
from care.readings import HUNDREDTH
from care.warmth import DAY, FILLED_AT_MOST


@dataclass(frozen=True)
class DayLine:
    """One day: as read, or filled by the days around it, or missing."""

    day: dt.date
    row: WeatherDay | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    note: str = ""

    @property
    def is_filled(self) -> bool:
        return self.row is None and self.low is not None


def latest_days(thermometer: Thermometer, today: dt.date, count: int) -> list[DayLine]:
    """The last days up to yesterday, and today where it is written; newest first."""
    lines = days_between(thermometer, today - count * DAY, today)
    return [line for line in reversed(lines) if line.row or line.day < today][:count]


def days_between(thermometer: Thermometer, first: dt.date, last: dt.date) -> list[DayLine]:
    """Each day from the first to the last, from the first reading on."""
    reach = FILLED_AT_MOST + 1
    rows = thermometer.days.filter(day__gte=first - reach * DAY, day__lte=last + reach * DAY)
    read = {row.day: row for row in rows.select_related("written_by", "file")}
    began = thermometer.days.order_by("day").values_list("day", flat=True).first()
    if began is None:
        return []
    return list(_lines(read, max(first, began), last))


def year_of(thermometer: Thermometer, year: int, today: dt.date) -> list[DayLine]:
    """Every day of a year so far."""
    last = min(dt.date(year, 12, 31), today)
    lines = days_between(thermometer, dt.date(year, 1, 1), last)
    return [line for line in lines if line.row or line.day < today]


def _lines(read: Mapping[dt.date, WeatherDay], first: dt.date, last: dt.date) -> Iterator[DayLine]:
    day = first
    while day <= last:
        row = read.get(day)
        yield DayLine(day, row, row.t_min, row.t_max, _source(row)) if row else _gone(read, day)
        day += DAY


def _gone(read: Mapping[dt.date, WeatherDay], day: dt.date) -> DayLine:
    """A day nobody wrote down: the mean of its neighbours where at most three days are missing in a row."""
    reach = range(1, FILLED_AT_MOST + 1)
    before = next((n for n in reach if day - n * DAY in read), None)
    after = next((n for n in reach if day + n * DAY in read), None)
    if before is None or after is None or before + after - 1 > FILLED_AT_MOST:
        return DayLine(day, note="missing")
    one, other = read[day - before * DAY], read[day + after * DAY]
    low, high = (one.t_min + other.t_min) / 2, (one.t_max + other.t_max) / 2
    return DayLine(day, None, low.quantize(HUNDREDTH), high.quantize(HUNDREDTH), "filled by the days around")


def _source(row: WeatherDay) -> str:
    return f"from {row.file}" if row.file else "typed"
