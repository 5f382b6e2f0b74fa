"""A suspected notifiable organism: what stands in one area with the tree, and how all of them moved before."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet

from boarding import querysets
from boarding.health import Standing
from boarding.models import Absence, Hold, Occupancy, StandingRow, Stay
from boarding.overviews.now import occupancy_of, standing_row_of
from boarding.states import WORDS
from nursery import clock, overviews
from nursery.models import Party, PartyAddress, Tag, Tree

MONTHS = (3, 6, 12)
DAYS_A_MONTH = 30.4375  # 365.25 / 12


@dataclass(frozen=True)
class Neighbour:
    """A tree in the same area, and whether an official hold stands on it."""

    tree: Tree
    tag: str
    place: Occupancy
    held: bool


@dataclass(frozen=True)
class Suspicion:
    """The tree, the area it stands in, what stands there with it; `row` once a suspicion is written down."""

    tree: Tree
    row: StandingRow | None
    area: str
    neighbours: tuple[Neighbour, ...]

    @property
    def free(self) -> int:
        """Neighbours on which no official hold stands yet."""
        return sum(not one.held for one in self.neighbours)


@dataclass(frozen=True)
class Movement:
    """One tree through a gate or from bench to bench."""

    at: dt.datetime
    tag: str
    tree: Tree
    what: str


def suspicion_of(tree: Tree, at: dt.datetime) -> Suspicion:
    """What the page about a suspicion shows; a fixed number of queries."""
    row, place = standing_row_of(tree), occupancy_of(tree)
    near = list(querysets.in_one_area_with(tree))
    tags = _tags(one.tree_id for one in near)
    standing = querysets.every_hold_standing(at).filter(kind=Hold.Kind.OFFICIAL)
    held = set(standing.filter(tree__in=[one.tree_id for one in near]).values_list("tree_id", flat=True))
    return Suspicion(
        tree=tree,
        row=row if row and row.standing == Standing.NOTIFIABLE else None,
        area=place.bench.get_zone_display() if place else "",
        neighbours=tuple(
            Neighbour(one.tree, tags.get(one.tree_id, ""), one, one.tree_id in held) for one in near
        ),
    )


def first_day(months: int, day: dt.date) -> dt.date:
    """Where a list of the last months begins, to the day or so."""
    return day - dt.timedelta(days=round(months * DAYS_A_MONTH))


def movements(tree: Tree, since: dt.date) -> list[Movement]:
    """Every movement since that day of the tree and of all that stood in an area with it meanwhile, by time."""
    begins = querysets.midnight(since)
    trees = _together_with(tree, begins)
    tags = _tags(trees)
    found = [*_moves(trees, begins), *_gates(trees, begins), *_absences(trees, begins)]
    return [
        Movement(clock.local(at), tags.get(one.pk, ""), one, what)
        for at, one, what in sorted(found, key=lambda row: (row[0], row[1].pk))
    ]


def _together_with(tree: Tree, begins: dt.datetime) -> set[int]:
    """The tree itself, and every tree that stood in one of its areas at the same time."""
    trees = {tree.pk}
    for own in _lately(begins).filter(tree=tree).select_related("bench"):
        there = _lately(max(own.from_at, begins)).filter(bench__zone=own.bench.zone)
        if own.until_at:
            there = there.filter(from_at__lt=own.until_at)
        trees |= set(there.values_list("tree_id", flat=True))
    return trees


def _lately(begins: dt.datetime) -> QuerySet[Occupancy]:
    return Occupancy.objects.filter(Q(until_at=None) | Q(until_at__gt=begins))


Found = tuple[dt.datetime, Tree, str]


def _moves(trees: set[int], begins: dt.datetime) -> Iterator[Found]:
    before: dict[int, Occupancy] = {}
    rows = Occupancy.objects.filter(tree__in=trees).select_related("tree__taxon", "bench")
    for row in rows.order_by("from_at", "pk"):
        came = before.get(row.tree_id)
        gone = came is not None and came.until_at == row.from_at
        if row.from_at >= begins:
            origin = f"from {came.bench} " if came and gone else ""
            yield row.from_at, row.tree, f"{origin}to {row.bench} ({row.bench.get_zone_display().lower()})"
        before[row.tree_id] = row


def _gates(trees: set[int], begins: dt.datetime) -> Iterator[Found]:
    stays = Stay.objects.filter(tree__in=trees).select_related("tree__taxon", "owner", "handback__collector")
    addresses = Prefetch("owner__addresses", PartyAddress.objects.order_by("since_on"))
    for stay in stays.prefetch_related(addresses):
        if stay.received_at and stay.received_at >= begins:
            yield stay.received_at, stay.tree, f"came in from {_where(stay.owner, stay.received_at)}"
        if stay.received_at and stay.left_at and stay.left_at >= begins:
            yield stay.left_at, stay.tree, _left(stay, stay.left_at)


def _left(stay: Stay, at: dt.datetime) -> str:
    handback = getattr(stay, "handback", None)
    by = f", collected by {handback.collector}" if handback and handback.collector != stay.owner else ""
    return f"left: {WORDS[stay.lifeline]}, owner {_where(stay.owner, at)}{by}"


def _where(party: Party, at: dt.datetime) -> str:
    """The name with the address of that day; the addresses are at hand."""
    address = overviews.address_among(list(party.addresses.all()), clock.day_of(at))
    parts = [address.street, address.postcode, address.town] if address else []
    return ", ".join([str(party), *(part for part in parts if part)])


def _absences(trees: set[int], begins: dt.datetime) -> Iterator[Found]:
    rows = Absence.objects.filter(stay__tree__in=trees).select_related("stay__tree__taxon")
    for row in rows:
        if row.left_at >= begins:
            yield row.left_at, row.stay.tree, f"away: {row.reason}"
        if row.back_at and row.back_at >= begins:
            yield row.back_at, row.stay.tree, "back from an absence"


def _tags(trees: Iterable[int]) -> dict[int, str]:
    rows = Tag.objects.filter(tree__in=list(trees), retired_at=None)
    return {tag.tree_id: tag.short for tag in rows}
