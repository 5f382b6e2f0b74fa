"""What a list of temperatures would change, before it is taken."""

import datetime as dt
from dataclasses import dataclass

from care.actions.weather import days_of, layout_of, told_by
from care.models import WeatherFile
from care.weather_csv import Layout, RefusedLine, gaps_in
from nursery import words


@dataclass(frozen=True)
class ListPage:
    """How many days are new, the same as written, or differ; what is missing and what is refused."""

    layout: Layout
    days: int
    first: dt.date | None
    last: dt.date | None
    new: int
    same: int
    differing: tuple[str, ...]
    missing: int
    repeated: int
    gaps: tuple[str, ...]
    refused: tuple[RefusedLine, ...]


def list_page(file: WeatherFile, today: dt.date) -> ListPage:
    """The list as it would be taken on a day."""
    told, days = told_by(file, today), days_of(file, today)
    there = {row.day: (row.t_min, row.t_max) for row in file.thermometer.days.all()}
    known = [one for one in days if one.day in there]
    differ = [one for one in known if there[one.day] != (one.low, one.high)]
    return ListPage(
        layout=layout_of(file),
        days=len(days),
        first=days[0].day if days else None,
        last=days[-1].day if days else None,
        new=len(days) - len(known),
        same=len(known) - len(differ),
        differing=tuple(
            f"{words.day(one.day)}: {there[one.day][0]} to {there[one.day][1]} is written,"
            f" {one.low} to {one.high} stands in the list"
            for one in differ
        ),
        missing=told.missing,
        repeated=told.repeated,
        gaps=tuple(_gap(first, last) for first, last in gaps_in([one.day for one in days])),
        refused=told.refused,
    )


def _gap(first: dt.date, last: dt.date) -> str:
    if first == last:
        return words.day(first)
    return f"{words.day(first)} to {words.day(last)}, {(last - first).days + 1} days"
