"""The care ledger: chargeable facts with quantity, unit, payer and source. Amounts arise on the bill, not here.

A fact is settled, not appended: the rows of one source always add up to what is true now. What a document has locked
never changes; a difference found later becomes a row of its own, which may be negative. A fact taken back before it was
billed stays with the quantity 0.
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction
from django.db.models import Q, QuerySet

from boarding.models import Stay
from care import minutes, querysets
from care.models import Activity, LedgerEntry, Material, MaterialUse, TimeEntry, fact_of
from nursery import clock
from nursery.models import Party, Person
from nursery.refusals import Refused

Kind = LedgerEntry.Kind
MINUTES, PIECE = "min", "pc"


@dataclass(frozen=True)
class Fact:
    """What shall be true of one source: the sum of its ledger rows."""

    kind: str
    stay: Stay
    payer: Party
    day: dt.date
    source: str
    quantity: Decimal
    unit: str
    activity: Activity | None = None
    material: Material | None = None
    reason: str = ""


@transaction.atomic
def post_work(
    *, stay: Stay | None, activity: Activity, day: dt.date, at: dt.datetime, by: Person | None
) -> None:
    """Bring the ledger into step with the work of one stay, activity and day; own trees (no stay) have none."""
    if stay is None:
        return
    stay = (
        Stay.objects.select_for_update(of=("self",), no_key=True)
        .select_related("tree", "payer")
        .get(pk=stay.pk)
    )
    payer = _payer_written(stay, activity, day) or querysets.payer_on(stay, day)
    if activity.chargeable:
        post_labour(stay=stay, activity=activity, payer=payer, day=day, at=at, by=by)
    if activity.takes_wash_material:
        post_wash(stay=stay, payer=payer, day=day, at=at, by=by)


@transaction.atomic
def post_labour(
    *, stay: Stay, activity: Activity, payer: Party, day: dt.date, at: dt.datetime, by: Person | None
) -> LedgerEntry | None:
    """Recompute the minutes of one group: seconds added up, rounded once; minutes not charged are rows of their own."""
    entries = list(querysets.group_work(stay, activity, day))
    charged = minutes.charged(sum(querysets.seconds_of(entry) for entry in entries))
    source = f"labour:{stay.pk}:{activity.pk}:{day}"
    row = _settle(
        Fact(Kind.LABOUR, stay, payer, day, source, Decimal(charged), MINUTES, activity=activity), at, by
    )
    _post_not_charged(stay, activity, payer, day, entries, charged, at, by)
    return row


def _post_not_charged(
    stay: Stay,
    activity: Activity,
    payer: Party,
    day: dt.date,
    entries: Iterable[TimeEntry],
    charged: int,
    at: dt.datetime,
    by: Person | None,
) -> None:
    """One row for each entry with minutes not charged, never more than its own length (which may have been corrected)
    and together never more than the group's charged minutes."""
    stem = f"free:{stay.pk}:{activity.pk}:{day}:"
    left, true_now = charged, set()
    for entry in entries:
        if entry.not_charged_minutes:
            most = minutes.most_free(querysets.seconds_of(entry))
            quantity = min(entry.not_charged_minutes, most, left)
            left -= quantity
            fact = Fact(
                Kind.NOT_CHARGED,
                stay,
                payer,
                day,
                f"{stem}{entry.pk}",
                Decimal(quantity),
                MINUTES,
                activity=activity,
                reason=entry.not_charged_why,
            )
            _settle(fact, at, by)
            true_now.add(fact.source)
    stale = LedgerEntry.objects.filter(stay=stay, day=day, kind=Kind.NOT_CHARGED, source__startswith=stem)
    for row in stale:
        source = fact_of(row.source)
        if source not in true_now:
            _settle(_nothing_of(row, source), at, by)


@transaction.atomic
def post_wash(
    *, stay: Stay, payer: Party, day: dt.date, at: dt.datetime, by: Person | None
) -> LedgerEntry | None:
    """Wash material once per tree and scrubbing day, as long as scrubbing of that day stands."""
    washing = Activity.objects.filter(takes_wash_material=True)
    washed = any(querysets.group_work(stay, activity, day).exists() for activity in washing)
    source = f"wash:{stay.pk}:{day}"
    return _settle(Fact(Kind.WASH, stay, payer, day, source, Decimal(1 if washed else 0), PIECE), at, by)


@transaction.atomic
def post_material(*, use: MaterialUse, at: dt.datetime, by: Person | None) -> LedgerEntry | None:
    """The ledger row of a material used on a tree in a stay; nothing while it is struck out."""
    if use.stay is None:
        return None
    stay = (
        Stay.objects.select_for_update(of=("self",), no_key=True).select_related("payer").get(pk=use.stay.pk)
    )
    fact = Fact(
        Kind.MATERIAL,
        stay,
        querysets.payer_on(stay, use.used_on),
        use.used_on,
        f"material:{use.pk}",
        Decimal(0) if use.struck_out_why else use.quantity,
        use.material.unit,
        material=use.material,
    )
    return _settle(fact, at, by)


@transaction.atomic
def lock_entries(*, entries: QuerySet[LedgerEntry], number: str) -> int:
    """Put the number of the issued document on the entries; they never change again. Returns how many.

    Refused("already-billed") when one of them bears a lock.
    """
    wanted = list(entries.select_for_update(of=("self",), no_key=True).values_list("pk", flat=True))
    done = LedgerEntry.objects.filter(pk__in=wanted, lock="").update(lock=number)
    if done != len(wanted):
        raise Refused("already-billed", "Some of this is already on another document: draw the bill up anew.")
    return done


@transaction.atomic
def reopen(
    *, entries: Iterable[LedgerEntry], payer: Party | None, number: str, at: dt.datetime, by: Person
) -> list[tuple[LedgerEntry, LedgerEntry]]:
    """Facts of a document that was taken back: of each a counter-entry, locked by `number`, and a new open entry, for
    `payer` where another one bears it. What was locked keeps its lock; a correction that waits goes into the new entry.
    """
    facts: dict[str, list[LedgerEntry]] = {}
    for entry in sorted(entries, key=lambda one: one.pk):
        facts.setdefault(fact_of(entry.source), []).append(entry)
    return [
        _opened(base, rows, payer, number, at, by)
        for base, rows in facts.items()
        if sum(row.quantity for row in rows)
    ]


def _opened(
    base: str, billed: list[LedgerEntry], payer: Party | None, number: str, at: dt.datetime, by: Person
) -> tuple[LedgerEntry, LedgerEntry]:
    first, quantity = billed[0], sum((row.quantity for row in billed), Decimal(0))
    fact = replace(_nothing_of(first, base), quantity=quantity)
    rows = _rows(fact)
    waiting = [row for row in rows if not row.lock]
    for row in waiting:
        quantity, row.quantity, row.written_at = quantity + row.quantity, Decimal(0), at
        row.save(update_fields=["quantity", "written_at"])
    counter = _write(fact, -fact.quantity, len(rows), at, by, lock=number)
    again = replace(fact, payer=payer or first.payer)
    return counter, _write(again, quantity, len(rows) + 1, at, first.written_by)


def lock_stays(*stays: Stay | None) -> None:
    """Lock the stays between which work moves, always in one order, so that two who exchange work do not block each
    other."""
    keys = sorted({stay.pk for stay in stays if stay is not None})
    list(Stay.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk").values_list("pk"))


def groups_of(entry: TimeEntry) -> tuple[Stay | None, Activity, dt.date]:
    """The group whose minutes the entry is added to."""
    return entry.stay, entry.activity, clock.day_of(entry.started_at)


def _payer_written(stay: Stay, activity: Activity, day: dt.date) -> Party | None:
    """The payer stands as written for the group, whoever pays for later work; a bill taken back may name another."""
    rows = LedgerEntry.objects.filter(stay=stay, day=day, kind=Kind.LABOUR, activity=activity)
    last = rows.select_related("payer").order_by("pk").last()
    return last.payer if last else None


def _settle(fact: Fact, at: dt.datetime, by: Person | None) -> LedgerEntry | None:
    """Make the rows of the source add up to the fact: change the last unlocked row, or write the difference anew."""
    rows = _rows(fact)
    unlocked = next((row for row in reversed(rows) if not row.lock), None)
    rest = fact.quantity - sum((row.quantity for row in rows if row is not unlocked), Decimal(0))
    if unlocked is None:
        still = replace(fact, payer=rows[-1].payer) if rows else fact
        return _write(still, rest, len(rows), at, by) if rest else None
    if (unlocked.quantity, unlocked.reason) != (rest, fact.reason or unlocked.reason):
        unlocked.quantity, unlocked.reason = rest, fact.reason or unlocked.reason
        unlocked.written_at, unlocked.written_by = at, by
        unlocked.save(update_fields=["quantity", "reason", "written_at", "written_by"])
    return unlocked


def _rows(fact: Fact) -> list[LedgerEntry]:
    same = Q(source=fact.source) | Q(source__startswith=f"{fact.source}#")
    rows = LedgerEntry.objects.select_for_update(of=("self",), no_key=True).filter(
        same, stay=fact.stay, day=fact.day
    )
    return list(rows.select_related("payer").order_by("pk"))


def _write(
    fact: Fact, quantity: Decimal, earlier: int, at: dt.datetime, by: Person | None, *, lock: str = ""
) -> LedgerEntry:
    return LedgerEntry.objects.create(
        kind=fact.kind,
        tree_id=fact.stay.tree_id,
        stay=fact.stay,
        payer=fact.payer,
        activity=fact.activity,
        material=fact.material,
        day=fact.day,
        quantity=quantity,
        unit=fact.unit,
        source=f"{fact.source}#{earlier + 1}" if earlier else fact.source,
        reason=fact.reason,
        written_at=at,
        written_by=by,
        lock=lock,
    )


def _nothing_of(row: LedgerEntry, source: str) -> Fact:
    return Fact(
        row.kind,
        row.stay,
        row.payer,
        row.day,
        source,
        Decimal(0),
        row.unit,
        row.activity,
        row.material,
        row.reason,
    )
