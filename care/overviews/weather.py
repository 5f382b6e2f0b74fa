"""The page Weather: when does each pest hatch at a place, which trees are concerned, and what was read there?"""

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass

from care.due_days import HatchWindow
from care.models import HeldFigure, Thermometer
from care.overviews import weather_pictures
from care.overviews.concerned import concerned
from care.overviews.warmth import Places
from care.overviews.weather_days import DayLine, latest_days
from care.warmth import FILLED_AT_MOST
from care.weather_curve import Facts
from nursery import words
from nursery.models import Organism
from nursery.ways import way

SHOWN_DAYS = 14


@dataclass(frozen=True)
class Hatch:
    """When a hatch is expected or was: from and to on the best days, the band around it, and how that is known."""

    first: dt.date | None
    last: dt.date | None
    earliest: dt.date | None
    latest: dt.date | None
    how: str
    is_past: bool = False
    days_until: int | None = None

    @property
    def when(self) -> str:
        """'from Fri 5 June 2026 to Tue 16 June 2026', or why there is no day."""
        if self.first is None:
            return "not this year"
        return _from_to(self.first, self.last)

    @property
    def band(self) -> str:
        """The days between which it lies; empty where it was measured to its end."""
        if (self.earliest, self.latest) == (self.first, self.last):
            return ""
        told = [
            f"at the {which} {words.day(day)}"
            for which, day, best in (
                ("earliest", self.earliest, self.first),
                ("latest", self.latest, self.last),
            )
            if day and day != best
        ]
        return ", ".join(told)


@dataclass(frozen=True)
class PestRow:
    """A pest with the figure held for a generation of it, and what that means here."""

    figure: HeldFigure
    start: dt.date
    so_far: float | None
    hatch: Hatch | None
    trees: int
    seen_on: dt.date | None

    @property
    def pest(self) -> Organism:
        return self.figure.organism

    @property
    def address(self) -> str:
        """The page of the pest; empty while there is none."""
        return way("pest", self.figure.organism_id) or ""

    @property
    def source(self) -> str:
        """Who published the figure, and what of it the nursery chose itself."""
        published = self.figure.threshold
        told = published.publisher if published else f"own figure: {self.figure.why}"
        chosen = [
            word
            for word, is_ours in (("start", self.figure.start_chosen), ("method", self.figure.method_chosen))
            if is_ours and published
        ]
        return f"{told}; {' and '.join(chosen)} chosen here" if chosen else told

    @property
    def until(self) -> str:
        """Days until the hatch begins, in a figure or a word."""
        days = self.hatch.days_until if self.hatch else None
        if self.hatch and self.hatch.is_past:
            return "over"
        if days is None:
            return "–"
        return "now" if days <= 0 else str(days)


@dataclass(frozen=True)
class Measured:
    """Rows of one measure, with the picture of its sum; None before the count begins."""

    heading: str
    rows: tuple[PestRow, ...]
    picture: weather_pictures.Picture | None


@dataclass(frozen=True)
class WeatherPage:
    """Everything the page shows of one thermometer."""

    thermometer: Thermometer
    measures: tuple[Measured, ...]
    elsewhere: tuple[str, ...]
    days: tuple[DayLine, ...]
    silent: int
    last_read: dt.date | None
    has_figures: bool


def weather_page(thermometer: Thermometer, today: dt.date) -> WeatherPage:
    """The page of a thermometer as of a day."""
    places = Places(today)
    figures = sorted(
        places.figures.values(), key=lambda one: (one.low, one.organism.common_name, one.generation)
    )
    trees = trees_by_pest(places, thermometer.pk, {one.organism_id for one in figures})
    shown = [one for one in figures if trees[one.organism_id]]
    days = places.readings.get(thermometer.pk, {})
    last = max(days, default=None)
    return WeatherPage(
        thermometer=thermometer,
        measures=tuple(_measures(places, thermometer, shown, trees)),
        elsewhere=tuple(dict.fromkeys(one.organism.common_name for one in figures if one not in shown)),
        days=tuple(latest_days(thermometer, today, SHOWN_DAYS)),
        silent=(today - last).days - 1 if last else 0,
        last_read=last,
        has_figures=bool(figures),
    )


def trees_by_pest(places: Places, thermometer: int, pests: set[int]) -> dict[int, set[int]]:
    """Trees concerned whose warmth is counted at the thermometer."""
    found = concerned(pests)
    at = places.at({tree for trees in found.values() for tree in trees})
    return {pest: {tree for tree in trees if at.get(tree) == thermometer} for pest, trees in found.items()}


def _measures(
    places: Places, thermometer: Thermometer, figures: list[HeldFigure], trees: dict[int, set[int]]
) -> list[Measured]:
    """One part for each measure, for sums of two measures share no axis; the most used first."""
    parts: dict[weather_pictures.Count, list[HeldFigure]] = defaultdict(list)
    for one in figures:
        parts[weather_pictures.count_of(one, places.today)].append(one)
    used = Counter({count: len(rows) for count, rows in parts.items()})
    found = []
    for count, _ in used.most_common():
        facts = weather_pictures.facts_of(places, thermometer.pk, count, parts[count])
        rows = [_row(places, thermometer.pk, one, facts, len(trees[one.organism_id])) for one in parts[count]]
        picture = weather_pictures.picture_of(facts) if facts else None
        found.append(Measured(str(count), tuple(rows), picture))
    return found


def _row(places: Places, thermometer: int, figure: HeldFigure, facts: Facts | None, trees: int) -> PestRow:
    start = dt.date(places.today.year, figure.start_month, figure.start_day)
    this_year = places.hatch(thermometer, figure, dt.date(places.today.year, 1, 1))
    return PestRow(
        figure=figure,
        start=start,
        so_far=facts.sums[-1] if facts else None,
        hatch=_hatch(places, thermometer, figure, this_year) if this_year else None,
        trees=trees,
        seen_on=this_year.seen_on if this_year else None,
    )


def _hatch(places: Places, thermometer: int, figure: HeldFigure, window: HatchWindow) -> Hatch:
    begins, ends = window.begins.reach, (window.ends or window.begins).reach
    by_table = places.goes_by_climate(thermometer, weather_pictures.scale_of(figure))
    first = window.seen_on or begins.best
    over_on = dt.date(window.begins.since.year, 12, 31)
    past = ends.is_measured and ends.best is not None and ends.best < places.today
    until = (first - places.today).days if first and first <= over_on and not past else None
    return Hatch(
        first=_within(first, over_on),
        last=_within(ends.best, over_on),
        earliest=_within(window.seen_on or begins.earliest, over_on),
        latest=_within(ends.latest, over_on),
        how=_how(window, by_table),
        is_past=past,
        days_until=until,
    )


def _within(day: dt.date | None, over_on: dt.date) -> dt.date | None:
    """A count ends with its year: what is reached only after a winter is no hatch of this generation."""
    return day if day and day <= over_on else None


def _how(window: HatchWindow, by_table: bool) -> str:
    """In words: how the days are known."""
    begins, ends = window.begins.reach, (window.ends or window.begins).reach
    begun = "first crawler seen" if window.seen_on else "measured" if begins.is_measured else ""
    if begun and ends.is_measured:
        return begun + _gaps(ends.filled, ends.missing, ends.days)
    told = _foreseen(ends.ways or begins.ways, by_table)
    gaps = _gaps(ends.filled, ends.missing, ends.days)
    return f"beginning {begun}, end {told}{gaps}" if begun and window.ends else f"{begun or told}{gaps}"


def _foreseen(ways: int, by_table: bool) -> str:
    if not ways:
        return "not foreseen: no earlier year was read and no climate table is there"
    if by_table:
        return "foreseen by the climate table"
    return "foreseen as in the year before" if ways == 1 else f"foreseen as in the middle of {ways} years"


def _gaps(filled: int, missing: int, days: int) -> str:
    told = f", {filled} of {days} days filled" if filled else ""
    if missing > FILLED_AT_MOST:
        told += f"; {missing} days are missing, so only the range is known"
    return told


def _from_to(first: dt.date, last: dt.date | None) -> str:
    if last == first:
        return f"on {words.day(first)}"
    if last is None:
        return f"from {words.day(first)}, its end not this year"
    return f"{words.day(first)} to {words.day(last)}"
