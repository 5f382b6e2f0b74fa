"""The open facts of payers: stays not finally billed and ledger entries without a lock, in a fixed number of queries.

One reading serves all: the draft, the check before issuing, "unbilled so far" of a tree, and the sums of Money.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, F, Max, Q, QuerySet, Sum

from boarding import nights
from boarding.health import Standing
from boarding.models import Absence, ClassChange, FreeNight, Occupancy, StandingRow, Stay
from boarding.states import StayState
from care.models import LedgerEntry
from invoicing import querysets
from invoicing.isolation import Span, isolation_nights, midnight_after
from invoicing.models import Goodwill, InvoiceLine
from invoicing.overviews.agreed import Agreed, agreed_for, goodwill_for
from invoicing.overviews.drawn_in import drawn_in
from invoicing.overviews.entries import entry_of
from invoicing.overviews.sheets import Prices, read_prices
from invoicing.pricing import Billed, BilledAt, ClassStep, Sheets, StayFacts, Vat
from invoicing.work_lines import Entry
from nursery import clock
from nursery.models import Party, Tag, Tree, Zone
from nursery.money import ZERO, cents
from nursery.periods import local_day

WITH_FINDING = (Standing.INFESTED.value, Standing.OBSERVED.value)
KEEPING = tuple(
    kind.value
    for kind in (
        InvoiceLine.Kind.INTAKE,
        InvoiceLine.Kind.BOARDING,
        InvoiceLine.Kind.ISOLATION,
        InvoiceLine.Kind.PACK,
    )
)
WORK_KINDS = (LedgerEntry.Kind.LABOUR, LedgerEntry.Kind.NOT_CHARGED, LedgerEntry.Kind.WASH)


@dataclass(frozen=True)
class OneTree:
    """A tree with what is open of it for one payer. Every stay names its price sheet's card and first day."""

    tree: Tree
    tag: str
    stays: tuple[tuple[Stay, StayFacts], ...]
    entries: tuple[tuple[Stay, Entry], ...]

    @property
    def words(self) -> str:
        return f"{self.tag}, {self.tree.described_as}"[:160]


@dataclass(frozen=True)
class PayerFacts:
    """All that is open for one payer, trees in the order of their tags."""

    payer: Party
    trees: tuple[OneTree, ...]


@dataclass(frozen=True)
class OpenFacts:
    """Facts by payer, with the prices to bill them by and the zone in which days are counted."""

    by_payer: dict[int, PayerFacts]
    prices: Prices
    zone: ZoneInfo
    up_to_on: dt.date
    agreed: dict[int, tuple[Agreed, ...]]
    goodwill: dict[int, tuple[Goodwill, ...]]

    def sheets_of(self, stay: Stay, tag: str, worked_on: dt.date | None, payer: int) -> Sheets:
        """The price sheets that hold for a stay and a payer; for work on a tree that was never taken in, that of
        the day of the work. Raises CannotPrice."""
        came = local_day(stay.received_at, self.zone) if stay.received_at else worked_on or dt.date.min
        return self.prices.sheets_for(payer, card_id=stay.rate_card_id, came=came, tag=tag, stay=stay.pk)


def open_facts(
    *,
    up_to_on: dt.date,
    work_before: dt.date,
    only: Q | None = None,
    as_at: dt.date | None = None,
    lock: bool = False,
) -> OpenFacts:
    """What is unbilled up to and including a day; work of a day counts only when it lies before `work_before`.

    `only` narrows both stays and entries ("payer", "tree"); `lock` holds the rows until the transaction ends.
    """
    zone = clock.zone()
    found_stays = _stays(only or Q(), midnight_after(up_to_on, zone), as_at, lock)

    def counts(entry: LedgerEntry) -> bool:
        return entry.day <= up_to_on and (entry.day < work_before or entry.kind not in WORK_KINDS)

    found_entries = [entry for entry in _entries(only or Q(), as_at, lock) if counts(entry)]
    keeping = _keeping(found_stays, up_to_on, as_at, zone)
    stays = {row.pk for row in found_stays} | {row.stay_id for row in found_entries}
    return OpenFacts(
        by_payer=_by_payer(found_stays, keeping, found_entries),
        prices=read_prices(),
        zone=zone,
        up_to_on=up_to_on,
        agreed=agreed_for(stays, counts, as_at=as_at, lock=lock),
        goodwill=goodwill_for(stays, up_to_on, as_at),
    )


def _stays(only: Q, before: dt.datetime, as_at: dt.date | None, lock: bool) -> list[Stay]:
    """Stays that began before the instant, in the order in which they began."""
    sources = [querysets.stays_unbilled()] + ([querysets.stays_billed_after(as_at)] if as_at else [])
    rows = [
        row for source in sources for row in _held(source.filter(only), lock).select_related("tree", "payer")
    ]
    rows = [row for row in rows if row.received_at < before]
    if as_at is not None:
        _payers_then(rows, as_at)
    return sorted(rows, key=lambda row: (row.received_at, row.pk))


def _payers_then(stays: Iterable[Stay], as_at: dt.date) -> None:
    """Put the payer back where a bill was taken back on a later day to be billed to another customer."""
    notes = querysets.taken_back().filter(bill_to__isnull=False, issued_on__gt=as_at)
    kept = {"invoice__lines__stay__in": stays, "invoice__lines__kind__in": KEEPING}
    rows = notes.filter(**kept).select_related("payer").annotate(stay=F("invoice__lines__stay"))
    then = {row.stay: row.payer for row in rows.order_by("-issued_at", "-pk")}
    for stay in stays:
        stay.payer = then.get(stay.pk, stay.payer)


def _entries(only: Q, as_at: dt.date | None, lock: bool) -> list[LedgerEntry]:
    sources = [querysets.entries_unbilled()]
    if as_at is not None:
        sources += [querysets.entries_billed_after(as_at), querysets.entries_settled_after(as_at)]
        sources = [querysets.not_reopened_after(source, as_at) for source in sources]
    around = ("tree", "payer", "stay", "activity", "material")
    rows = [row for source in sources for row in _held(source.filter(only), lock).select_related(*around)]
    return sorted(rows, key=lambda row: (row.day, row.pk))


def _held(rows: QuerySet[Any], lock: bool) -> QuerySet[Any]:
    return rows.select_for_update(of=("self",), no_key=True).order_by("pk") if lock else rows


def _keeping(
    stays: Sequence[Stay], up_to_on: dt.date, as_at: dt.date | None, zone: ZoneInfo
) -> dict[int, StayFacts]:
    """Stay facts by stay. Ten queries."""
    keys = [stay.pk for stay in stays]
    rows = _StayRows(
        tags=tags_of(stay.tree_id for stay in stays),
        free=_grouped(FreeNight.objects.filter(stay__in=keys), "stay_id"),
        absences=_grouped(Absence.objects.filter(stay__in=keys).order_by("left_at"), "stay_id"),
        classes=_grouped(ClassChange.objects.charged().filter(stay__in=keys), "stay_id"),
        billed=_billed(keys, as_at),
        isolated=_spans_in_isolation(stays),
        findings=_spans_with_finding(stays),
        drawn_in=drawn_in(stays),
    )
    return {stay.pk: _stay_facts(stay, rows, up_to_on, zone) for stay in stays}


@dataclass(frozen=True)
class _StayRows:
    """Rows round the stays, by stay or by tree."""

    tags: dict[int, str]
    free: dict[int, list[FreeNight]]
    absences: dict[int, list[Absence]]
    classes: dict[int, list[ClassChange]]
    billed: dict[int, Billed]
    isolated: dict[int, list[Span]]
    findings: dict[int, list[Span]]
    drawn_in: dict[int, dt.datetime]


def _stay_facts(stay: Stay, rows: _StayRows, up_to_on: dt.date, zone: ZoneInfo) -> StayFacts:
    assert stay.received_at is not None  # the query asks for it
    arrived_on = local_day(stay.received_at, zone)
    end = stay.died_at or stay.left_at
    ended_on = local_day(end, zone) if end else None
    ended = ended_on is not None and ended_on <= up_to_on
    until_on = ended_on if ended_on is not None and ended else up_to_on + dt.timedelta(days=1)
    free = frozenset(row.night_of for row in rows.free[stay.pk])
    absences = tuple(_absence(row, zone) for row in rows.absences[stay.pk])
    return StayFacts(
        stay=stay.pk,
        tag=rows.tags[stay.tree_id],
        size_class=stay.size_class,
        arrived_on=arrived_on,
        until_on=until_on,
        ended=ended,
        handed_back=ended and stay.state == StayState.HANDED_BACK and not stay.stays_on,
        free=free,
        absences=absences,
        day_work=stay.day_work,
        agreed_night=stay.agreed_night_net,
        winter_place=stay.winter_place,
        isolation=_isolation(
            stay, rows, nights.split_nights(arrived_on, until_on, free, absences).full, zone
        ),
        billed=rows.billed.get(stay.pk, Billed()),
        continues=stay.continues_id is not None,
        classes=tuple(
            ClassStep(row.from_night, row.size_class, row.agreed_night_net) for row in rows.classes[stay.pk]
        ),
    )


def _isolation(stay: Stay, rows: _StayRows, here: Iterable[dt.date], zone: ZoneInfo) -> tuple[dt.date, ...]:
    agreed = stay.isolation_agreed_on
    if agreed is None:
        return ()
    drawn = rows.drawn_in.get(stay.pk)
    ends = (
        local_day(drawn, zone) if drawn else dt.date.max
    )  # what a neighbour brought costs the owner nothing
    asked = [night for night in here if agreed <= night < ends]
    return isolation_nights(asked, rows.isolated[stay.tree_id], rows.findings[stay.tree_id], zone)


def _absence(row: Absence, zone: ZoneInfo) -> nights.Absence:
    back_on = local_day(row.back_at, zone) if row.back_at else None
    return nights.Absence(local_day(row.left_at, zone), back_on, row.place_kept)


def _spans_in_isolation(stays: Sequence[Stay]) -> dict[int, list[Span]]:
    trees = [stay.tree_id for stay in stays if stay.isolation_agreed_on]
    places = Occupancy.objects.filter(tree__in=trees, bench__zone=Zone.ISOLATION)
    return _spans(places.values_list("tree_id", "from_at", "until_at"))


def _spans_with_finding(stays: Sequence[Stay]) -> dict[int, list[Span]]:
    trees = [stay.tree_id for stay in stays if stay.isolation_agreed_on]
    standings = StandingRow.objects.filter(tree__in=trees, standing__in=WITH_FINDING)
    return _spans(standings.values_list("tree_id", "since_at", "until_at"))


def _spans(rows: Iterable[tuple[int, dt.datetime, dt.datetime | None]]) -> dict[int, list[Span]]:
    found: dict[int, list[Span]] = defaultdict(list)
    for tree, since, until in rows:
        found[tree].append((since, until))
    return found


def _billed(keys: Sequence[int], as_at: dt.date | None) -> dict[int, Billed]:
    """What issued lines took for each stay already."""
    lines = querysets.lines_standing(as_at).filter(stay__in=keys, kind__in=KEEPING)
    grouped = lines.order_by().values("stay_id", "kind", "vat_key", "vat_percent", "price_net")
    rows: dict[int, list[Any]] = defaultdict(list)
    charging = Q(quantity__gt=0) | Q(kind=InvoiceLine.Kind.BOARDING)  # nights given back reach no day
    last = Max("until_on", filter=charging)
    for row in grouped.annotate(nets=Sum("net"), quantities=Sum("quantity"), last=last):
        rows[row["stay_id"]].append(row)
    turns = _turns(keys, as_at)
    return {stay: _one_billed(rows[stay], turns.get(stay, 0)) for stay in {*rows, *turns}}


def _turns(keys: Sequence[int], as_at: dt.date | None) -> dict[int, int]:
    """How many bills of each stay were taken back, to be billed anew."""
    anew = querysets.taken_back(as_at).filter(invoice__lines__stay__in=keys)
    counted = anew.order_by().values("invoice__lines__stay").annotate(bills=Count("pk", distinct=True))
    return dict(counted.values_list("invoice__lines__stay", "bills"))


def _one_billed(rows: Sequence[dict[str, Any]], turn: int) -> Billed:
    kind = InvoiceLine.Kind
    boarding = _billed_at(row for row in rows if row["kind"] == kind.BOARDING)
    isolation = _billed_at(row for row in rows if row["kind"] == kind.ISOLATION)
    return Billed(
        boarding=sum((one.net for one in boarding), ZERO),
        until_on=max((one.until_on for one in boarding), default=None),
        intake=any(row["kind"] == kind.INTAKE for row in rows),
        pack=any(row["kind"] == kind.PACK for row in rows),
        turn=turn,
        boarding_at=boarding,
        isolation_at=isolation,
    )


def _billed_at(rows: Iterable[dict[str, Any]]) -> tuple[BilledAt, ...]:
    found = (
        BilledAt(
            Vat(row["vat_key"], row["vat_percent"]),
            row["last"],
            row["price_net"],
            cents(row["quantities"]),
            cents(row["nets"]),
        )
        for row in rows
    )
    return tuple(sorted(found, key=lambda one: (one.until_on, one.vat, one.price)))


def tags_of(trees: Iterable[int]) -> dict[int, str]:
    """The short tag of each tree, the live one or else the last; "untagged" where there never was one."""
    found: dict[int, str] = defaultdict(lambda: "untagged")
    rows = Tag.objects.filter(tree__in=set(trees)).order_by("assigned_at", "pk")
    for tag in sorted(rows, key=lambda one: one.retired_at is None):
        found[tag.tree_id] = tag.short
    return found


def _grouped(rows: Iterable[Any], key: str) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[getattr(row, key)].append(row)
    return found


def _by_payer(
    stays: Sequence[Stay], keeping: dict[int, StayFacts], entries: Sequence[LedgerEntry]
) -> dict[int, PayerFacts]:
    tags = tags_of([*(stay.tree_id for stay in stays), *(entry.tree_id for entry in entries)])
    rows: list[Any] = [*stays, *entries]
    payers: dict[int, Party] = {row.payer_id: row.payer for row in rows}
    of_stays = _grouped(stays, "payer_id")
    of_entries = _grouped(entries, "payer_id")
    return {
        pk: PayerFacts(payer, _trees(of_stays[pk], keeping, of_entries[pk], tags))
        for pk, payer in payers.items()
    }


def _trees(
    stays: Sequence[Stay], keeping: dict[int, StayFacts], entries: Sequence[LedgerEntry], tags: dict[int, str]
) -> tuple[OneTree, ...]:
    rows: list[Any] = [*stays, *entries]
    trees: dict[int, Tree] = {row.tree_id: row.tree for row in rows}
    found = [
        OneTree(
            tree=tree,
            tag=tags[pk],
            stays=tuple((stay, keeping[stay.pk]) for stay in stays if stay.tree_id == pk),
            entries=tuple((row.stay, entry_of(row)) for row in entries if row.tree_id == pk),
        )
        for pk, tree in trees.items()
    ]
    return tuple(sorted(found, key=lambda one: (one.tag, one.tree.pk)))
