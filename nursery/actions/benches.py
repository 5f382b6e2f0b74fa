"""Benches: where trees may stand. A closed bench keeps its history and takes no more trees."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from nursery import audit
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Bench, Person
from nursery.refusals import Refused

DETAILS = frozenset(["name", "zone", "area_m2", "walk_order", "note"])


@transaction.atomic
def add_bench(
    *,
    name: str,
    zone: str,
    area_m2: Decimal,
    at: dt.datetime,
    by: Person,
    walk_order: int = 0,
    note: str = "",
) -> Bench:
    """Write down a bench with its zone and the room on it.

    Raises Refused("bench-named-so").
    """
    _refuse_same_name(name)
    told = {"name": name, "zone": zone, "area_m2": area_m2, "walk_order": walk_order, "note": note}
    bench = Bench.objects.create(**told)
    audit.record(by=by, at=at, verb="wrote down a bench", subject=bench, after=plainly(told))
    return bench


@transaction.atomic
def change_bench(*, bench: Bench, fields: dict[str, Any], at: dt.datetime, by: Person) -> Bench:
    """Change a bench. A new zone moves no tree: those standing wrong then show on the day page.

    Raises Refused("bench-named-so").
    """
    if "name" in fields:
        _refuse_same_name(fields["name"], but=bench)
    return write_changes(locked(bench), fields, may=DETAILS, verb="changed a bench", at=at, by=by)


@transaction.atomic
def close_bench(*, bench: Bench, on: dt.date, at: dt.datetime, by: Person) -> Bench:
    """Close a bench from a day on.

    Raises Refused("bench-closed"), Refused("trees-stand-here") when the database holds that trees stand on it.
    """
    bench = locked(bench)
    if bench.closed_on:
        raise Refused("bench-closed", f"{bench} is closed since {bench.closed_on:%-d %B %Y}.")
    try:
        with transaction.atomic():
            return write_changes(
                bench, {"closed_on": on}, may={"closed_on"}, verb="closed a bench", at=at, by=by
            )
    except IntegrityError as held:
        raise Refused(
            "trees-stand-here", f"Trees stand on {bench}; move them to another bench first."
        ) from held


@transaction.atomic
def open_bench(*, bench: Bench, at: dt.datetime, by: Person) -> Bench:
    """Open a closed bench again."""
    return write_changes(
        locked(bench), {"closed_on": None}, may={"closed_on"}, verb="opened a bench", at=at, by=by
    )


def _refuse_same_name(name: str, but: Bench | None = None) -> None:
    taken = Bench.objects.filter(name=name).first()
    if taken and taken != but:
        raise Refused(
            "bench-named-so", f"There is a bench called {name} already; give this one another name.", "name"
        )
