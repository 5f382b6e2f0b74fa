"""Temperatures written down: a day typed or corrected, and lists read from a file, looked through, taken once."""

import dataclasses
import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from care import readings, weather_csv
from care.actions.reckoning import reckon_soon
from care.actions.thermometers import locked, require_open
from care.models import Thermometer, WeatherDay, WeatherFile
from nursery import audit, clock, words
from nursery.csv_lists import NotReadable
from nursery.models import Person
from nursery.refusals import Refused

A_WEEK = dt.timedelta(days=7)
CHUNK = 500
Source = WeatherDay.Source


@transaction.atomic
def write_day(
    *,
    thermometer: Thermometer,
    day: dt.date,
    t_min: Decimal,
    t_max: Decimal,
    at: dt.datetime,
    by: Person,
) -> WeatherDay:
    """Write down or correct the lowest and highest of a day. Today may be written and corrected in the evening.

    Raises Refused: "closed", "in-the-future", "impossible".
    """
    row = locked(thermometer)
    require_open(row)
    if day > clock.day_of(at):
        raise Refused("in-the-future", "This day lies ahead: write it when it has been read.", field="day")
    around = row.days.filter(day__range=(day - A_WEEK, day + A_WEEK)).exclude(day=day)
    try:
        readings.check(t_min, t_max, row.scale, around.values_list("t_min", "t_max"))
    except readings.NotPossible as wrong:
        raise Refused("impossible", wrong.sentence, wrong.field) from wrong
    was = row.days.filter(day=day).first()
    if was and (was.t_min, was.t_max) == (t_min, t_max):
        return was
    told = {"t_min": t_min, "t_max": t_max, "source": Source.TYPED, "file": None}
    written, _ = WeatherDay.objects.update_or_create(
        thermometer=row, day=day, defaults=told | {"written_at": at, "written_by": by}
    )
    verb = "corrected a temperature" if was else "wrote down a temperature"
    before = _facts(was.t_min, was.t_max) if was else {}
    after = _facts(t_min, t_max) | {"thermometer": row.name}
    audit.record(by=by, at=at, verb=verb, subject=written, before=before, after=after)
    reckon_soon(at)
    return written


@transaction.atomic
def load_file(
    *, thermometer: Thermometer, name: str, data: bytes, at: dt.datetime, by: Person
) -> WeatherFile:
    """Take a list in, to be looked through; no day is written yet.

    Raises Refused: "closed", "unreadable".
    """
    require_open(locked(thermometer))
    try:
        text = weather_csv.decode(data)
        table = weather_csv.read_table(text)
    except NotReadable as wrong:
        raise Refused("unreadable", wrong.sentence, "file") from wrong
    file = WeatherFile.objects.create(
        thermometer=thermometer, name=name[:120], text=text, read_at=at, read_by=by
    )
    after = {"lines": len(table.lines), "thermometer": thermometer.name}
    audit.record(by=by, at=at, verb="loaded a list of temperatures", subject=file, after=after)
    return file


@transaction.atomic
def choose_columns(*, file: WeatherFile, layout: weather_csv.Layout, at: dt.datetime, by: Person) -> None:
    """Say which column is which, how days are written and in which scale. May be said again until it is taken.

    Raises Refused("ended").
    """
    file = _still_shown(file)
    file.choices = dataclasses.asdict(layout)
    file.save(update_fields=["choices"])
    audit.record(
        by=by, at=at, verb="chose the columns of a list of temperatures", subject=file, after=file.choices
    )


@transaction.atomic
def take_file(*, file: WeatherFile, replace: bool, at: dt.datetime, by: Person) -> int:
    """Write down the good days of a list; days that are there stay, or are replaced. Returns how many were written.

    The same list again writes nothing. Raises Refused: "closed", "ended", "not-read", "nothing-to-take".
    """
    thermometer = locked(file.thermometer)
    require_open(thermometer)
    file = _still_shown(file)
    if not file.choices:
        raise Refused("not-read", "Say first which column is which.")
    told = days_of(file, clock.day_of(at))
    if not told:
        raise Refused("nothing-to-take", "No day of this list can be taken: look at its columns again.")
    there = {row.day: row for row in thermometer.days.all()}
    new = [one for one in told if one.day not in there]
    other = [one for one in told if one.day in there and _differs(there[one.day], one)]
    replaced = other if replace else []
    before = {one.day.isoformat(): _span(there[one.day].t_min, there[one.day].t_max) for one in replaced}
    _add(file, new, at, by)
    _replace(file, [(there[one.day], one) for one in replaced], at, by)
    count = len(new) + len(replaced)
    _end(file, WeatherFile.State.TAKEN, at, days_taken=count)
    after: dict[str, Any] = {"days": count, "first": told[0].day, "last": told[-1].day}
    after |= {one.day.isoformat(): _span(one.low, one.high) for one in replaced}
    audit.record(by=by, at=at, verb="took a list of temperatures", subject=file, before=before, after=after)
    if count:
        reckon_soon(at)
    return count


@transaction.atomic
def throw_away(*, file: WeatherFile, at: dt.datetime, by: Person) -> None:
    """Throw a list away of which nothing was taken.

    Raises Refused("ended").
    """
    file = _still_shown(file)
    _end(file, WeatherFile.State.THROWN_AWAY, at)
    audit.record(by=by, at=at, verb="threw away a list of temperatures", subject=file)


def layout_of(file: WeatherFile) -> weather_csv.Layout:
    """The columns as they were chosen."""
    return weather_csv.Layout(**file.choices)


def told_by(file: WeatherFile, today: dt.date) -> weather_csv.Told:
    """What a list tells by its columns, in its own scale."""
    return weather_csv.read(weather_csv.read_table(file.text), layout_of(file), today, clock.zone())


def days_of(file: WeatherFile, today: dt.date) -> Sequence[weather_csv.ListDay]:
    """Its good days in the thermometer's scale."""
    return weather_csv.in_scale(told_by(file, today), layout_of(file).scale, file.thermometer.scale)


def _still_shown(file: WeatherFile) -> WeatherFile:
    row = WeatherFile.objects.select_for_update(of=("self",), no_key=True)
    file = row.select_related("thermometer").get(pk=file.pk)
    if file.ended_at:
        on = words.day(clock.day_of(file.ended_at))
        raise Refused(
            "ended", f"This list was {file.get_state_display()} on {on}: load it anew to read it again."
        )
    return file


def _add(file: WeatherFile, days: Sequence[weather_csv.ListDay], at: dt.datetime, by: Person) -> None:
    told = {"thermometer": file.thermometer, "source": Source.FILE, "file": file}
    rows = [
        WeatherDay(day=one.day, t_min=one.low, t_max=one.high, written_at=at, written_by=by, **told)
        for one in days
    ]
    WeatherDay.objects.bulk_create(rows, batch_size=CHUNK)


def _replace(
    file: WeatherFile,
    pairs: Iterable[tuple[WeatherDay, weather_csv.ListDay]],
    at: dt.datetime,
    by: Person,
) -> None:
    rows = []
    for row, one in pairs:
        row.t_min, row.t_max, row.source, row.file = one.low, one.high, Source.FILE, file
        row.written_at, row.written_by = at, by
        rows.append(row)
    WeatherDay.objects.bulk_update(
        rows, ["t_min", "t_max", "source", "file", "written_at", "written_by"], batch_size=CHUNK
    )


def _end(file: WeatherFile, state: str, at: dt.datetime, days_taken: int = 0) -> None:
    file.state, file.text, file.ended_at, file.days_taken = state, "", at, days_taken
    file.save(update_fields=["state", "text", "ended_at", "days_taken"])


def _differs(row: WeatherDay, one: weather_csv.ListDay) -> bool:
    return (row.t_min, row.t_max) != (one.low, one.high)


def _facts(t_min: Decimal, t_max: Decimal) -> dict[str, Any]:
    return {"lowest": t_min, "highest": t_max}


def _span(t_min: Decimal, t_max: Decimal) -> str:
    return f"{t_min} to {t_max}"
