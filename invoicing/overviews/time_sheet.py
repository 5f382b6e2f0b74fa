"""The time sheet behind labour lines: who worked when, how it was recorded, and the minutes charged for the day."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from care import querysets as care_querysets
from care.models import LedgerEntry, TimeEntry
from invoicing.isolation import midnight_after
from nursery import clock

ONE_DAY = dt.timedelta(days=1)
Group = tuple[int, int | None, dt.date]


@dataclass(frozen=True)
class Piece:
    """One piece of work by the wall clock."""

    started: dt.datetime
    stopped: dt.datetime
    who: str
    how: str


@dataclass(frozen=True)
class SheetDay:
    """The work of one tree, activity and day: the pieces measured, and the minutes charged for them together."""

    entry: int
    tree: int
    day: dt.date
    activity: str
    minutes: Decimal
    pieces: tuple[Piece, ...]


def time_sheet(entries: Iterable[LedgerEntry]) -> list[SheetDay]:
    """One row for each labour entry, in order of day; the entries come with their activity. Two queries."""
    labour = [row for row in entries if row.kind == LedgerEntry.Kind.LABOUR]
    pieces = _pieces(labour)
    return [
        SheetDay(
            entry=row.pk,
            tree=row.tree_id,
            day=row.day,
            activity=row.activity.name if row.activity else "",
            minutes=row.quantity,
            pieces=tuple(pieces[row.stay_id, row.activity_id, row.day]),
        )
        for row in sorted(labour, key=lambda one: (one.day, one.pk))
    ]


def _pieces(labour: Sequence[LedgerEntry]) -> dict[Group, list[Piece]]:
    found: dict[Group, list[Piece]] = defaultdict(list)
    if not labour:
        return found
    zone = clock.zone()
    first, last = min(row.day for row in labour), max(row.day for row in labour)
    work = care_querysets.standing_work().filter(
        stay__in={row.stay_id for row in labour},
        started_at__gte=midnight_after(first - ONE_DAY, zone),
        started_at__lt=midnight_after(last, zone),
    )
    for entry in work.select_related("person", "activity").order_by("started_at", "pk"):
        if entry.stopped_at and entry.stay_id:
            began = entry.started_at.astimezone(zone)
            piece = Piece(began, entry.stopped_at.astimezone(zone), entry.person.first_name, _how(entry))
            found[entry.stay_id, entry.activity_id, began.date()].append(piece)
    return found


def _how(entry: TimeEntry) -> str:
    return {"touched": "by the clock", "scanned": "by the clock, scanned", "written": "written later"}[
        entry.source
    ]
