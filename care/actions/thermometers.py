"""Thermometers: which there are, which bench has which, and what their months are usually like."""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from django.core.exceptions import PermissionDenied
from django.db import transaction

from care import readings
from care.actions.reckoning import reckon_soon
from care.models import BenchThermometer, ClimateMonth, Thermometer, WeatherDay
from nursery import audit, clock, words
from nursery.actions.changing import plainly
from nursery.models import Bench, Person
from nursery.permissions import DESK
from nursery.refusals import Refused

USUAL_SPREAD_C = Decimal(2)  # the nursery's own choice: years differ by about so much
Pair = tuple[Decimal, Decimal]


@transaction.atomic
def add_thermometer(
    *, name: str, scale: str, at: dt.datetime, by: Person, is_usual: bool = False, note: str = ""
) -> Thermometer:
    """Write down a thermometer; the first one holds for all benches.

    Raises Refused("name-taken").
    """
    _require_desk(by)
    _require_new_name(name, None)
    usual = is_usual or not Thermometer.objects.filter(closed_on=None).exists()
    if usual:
        _no_longer_usual()
    told = {"name": name, "scale": scale, "is_usual": usual, "note": note}
    made = Thermometer.objects.create(**told)
    audit.record(by=by, at=at, verb="wrote down a thermometer", subject=made, after=told)
    reckon_soon(at)
    return made


@transaction.atomic
def change_thermometer(
    *,
    thermometer: Thermometer,
    name: str,
    scale: str,
    is_usual: bool,
    note: str,
    at: dt.datetime,
    by: Person,
) -> Thermometer:
    """Another name or note, or let it hold for benches without one. Its scale stays once it was read.

    Raises Refused: "name-taken", "scale-used", "closed", "usual".
    """
    _require_desk(by)
    _require_new_name(name, thermometer)
    row = locked(thermometer)
    if scale != row.scale and WeatherDay.objects.filter(thermometer=row).exists():
        raise Refused(
            "scale-used", "It was read in this scale: close it and write down another one.", field="scale"
        )
    if is_usual and not row.is_usual:
        require_open(row)
        _no_longer_usual()
    if row.is_usual and not is_usual:
        raise Refused(
            "usual", "Let another thermometer hold for benches without one first.", field="is_usual"
        )
    told = {"name": name, "scale": scale, "is_usual": is_usual, "note": note}
    before = {field: getattr(row, field) for field in told}
    if before == told:
        return row
    for field, value in told.items():
        setattr(row, field, value)
    row.save(update_fields=list(told))
    audit.record(by=by, at=at, verb="changed a thermometer", subject=row, before=before, after=told)
    reckon_soon(at)
    return row


@transaction.atomic
def close_thermometer(*, thermometer: Thermometer, at: dt.datetime, by: Person) -> Thermometer:
    """Not read any more from today; taken down everywhere. What it showed stays.

    Raises Refused("closed").
    """
    _require_desk(by)
    row = locked(thermometer)
    require_open(row)
    hung = list(BenchThermometer.objects.filter(thermometer=row).values_list("bench__name", flat=True))
    BenchThermometer.objects.filter(thermometer=row).delete()
    row.closed_on, row.is_usual = clock.day_of(at), False
    row.save(update_fields=["closed_on", "is_usual"])
    audit.record(by=by, at=at, verb="closed a thermometer", subject=row, before={"benches": hung})
    reckon_soon(at)
    return row


@transaction.atomic
def hang(*, places: Mapping[Bench, Thermometer | None], at: dt.datetime, by: Person) -> int:
    """Say which thermometer hangs at each of these benches, None for the usual one; returns how many changed.

    Raises Refused("closed").
    """
    _require_desk(by)
    hung = {row.bench_id: row for row in BenchThermometer.objects.select_related("thermometer")}
    changed = 0
    for bench, thermometer in places.items():
        here = hung.get(bench.pk)
        if (here.thermometer_id if here else None) == (thermometer.pk if thermometer else None):
            continue
        if thermometer:
            require_open(thermometer)
            BenchThermometer.objects.update_or_create(bench=bench, defaults={"thermometer": thermometer})
        elif here:
            here.delete()
        audit.record(
            by=by,
            at=at,
            verb="hung a thermometer" if thermometer else "took a thermometer down",
            subject=bench,
            before={"thermometer": str(here.thermometer) if here else ""},
            after={"thermometer": str(thermometer or "")},
        )
        changed += 1
    if changed:
        reckon_soon(at)
    return changed


@transaction.atomic
def write_climate(
    *,
    thermometer: Thermometer,
    months: Mapping[int, Pair],
    spread: Decimal,
    source: str,
    at: dt.datetime,
    by: Person,
) -> None:
    """What the twelve months are usually like here, in the thermometer's scale; the table before goes.

    Raises Refused: "not-twelve", "swapped", "absurd".
    """
    _require_desk(by)
    row = locked(thermometer)
    if set(months) != set(range(1, 13)):
        raise Refused("not-twelve", "A climate table has all twelve months.")
    for month, (low, high) in sorted(months.items()):
        try:
            readings.check(low, high, row.scale)
        except readings.NotPossible as wrong:
            field = f"{'low' if wrong.field == 't_min' else 'high'}_{month}"
            raise Refused("impossible", f"{words.MONTHS[month - 1]}: {wrong.sentence}", field) from wrong
    before = {str(one.month): f"{one.t_min} to {one.t_max}" for one in row.climate.all()}
    row.climate.all().delete()
    ClimateMonth.objects.bulk_create(
        ClimateMonth(thermometer=row, month=month, t_min=low, t_max=high, spread=spread, source=source)
        for month, (low, high) in sorted(months.items())
    )
    after = {str(month): f"{low} to {high}" for month, (low, high) in sorted(months.items())}
    after |= plainly({"spread": spread, "source": source})
    audit.record(by=by, at=at, verb="wrote down a climate table", subject=row, before=before, after=after)
    reckon_soon(at)


def locked(thermometer: Thermometer) -> Thermometer:
    """The row, held until the transaction ends: its days are written by one person at a time."""
    return Thermometer.objects.select_for_update(no_key=True).get(pk=thermometer.pk)


def require_open(thermometer: Thermometer) -> None:
    """A closed thermometer is not read any more."""
    if thermometer.closed_on:
        raise Refused(
            "closed", f"{thermometer} is closed since {words.day(thermometer.closed_on)}: choose another one."
        )


def _no_longer_usual() -> None:
    Thermometer.objects.filter(is_usual=True).update(is_usual=False)


def _require_new_name(name: str, but: Thermometer | None) -> None:
    same = Thermometer.objects.filter(name__iexact=name)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refused("name-taken", f"There is a thermometer called {name} already.", field="name")


def _require_desk(by: Person) -> None:
    if by.role not in DESK:
        raise PermissionDenied("thermometers are kept by the office")
