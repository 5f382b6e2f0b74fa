"""Where each tree stands: benches in the order of the walk, the room on each, and who stands in the wrong zone."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch

from boarding import health, querysets, room
from boarding.health import Allowed, Standing
from boarding.models import Absence, Hold, Occupancy, StandingRow, ZoneOverride
from boarding.overviews.now import place_of, standing_of
from nursery.models import Bench, Tag, Tree, Zone


@dataclass(frozen=True)
class TreeOnBench:
    """A tree where it stands, with what one wants to know on the walk."""

    tree: Tree
    tag: str
    since_at: dt.datetime
    standing: Standing
    standing_since_at: dt.datetime | None
    reason: str
    wrong_zone: bool
    exception: ZoneOverride | None
    exception_over: bool
    held: tuple[Hold, ...]

    @property
    def asks(self) -> bool:
        """Somebody should look at it here: wrong zone, an exception, a hold."""
        return bool(self.wrong_zone or self.exception or self.held)


@dataclass(frozen=True)
class BenchNow:
    """A bench with its trees and the room there is; `kept_m2` is room kept for trees that are away."""

    bench: Bench
    trees: tuple[TreeOnBench, ...]
    taken_m2: Decimal
    kept_m2: Decimal

    @property
    def left_m2(self) -> Decimal:
        """Room left; negative on an overfull bench."""
        return self.bench.area_m2 - self.taken_m2 - self.kept_m2

    @property
    def not_clean(self) -> int:
        """Trees on it that are anything but clean."""
        return sum(one.standing is not Standing.CLEAN for one in self.trees)

    @property
    def asking(self) -> tuple[TreeOnBench, ...]:
        """Trees that stand out of the fold of the bench."""
        return tuple(one for one in self.trees if one.asks)


@dataclass(frozen=True)
class ZoneNow:
    """The benches of one zone."""

    zone: Zone
    benches: tuple[BenchNow, ...]


@dataclass(frozen=True)
class BenchChoice:
    """A bench as a place for one tree: room, zone, whether it is proposed or where the tree is."""

    bench: Bench
    left_m2: Decimal
    fits: bool
    allowed: bool
    proposed: bool
    here: bool

    @property
    def value(self) -> str:
        """As the form names it."""
        return str(self.bench.pk)

    @property
    def words(self) -> str:
        """Why not, in a few words; empty where nothing speaks against it."""
        if not self.allowed:
            return "not for this standing"
        return "" if self.fits else "no room"


def benches_now(day: dt.date, at: dt.datetime) -> list[ZoneNow]:
    """All open benches by zone, zones in the order in which the walk first reaches them. A fixed number of queries."""
    standing_here = _standing_here(day, at)
    kept = _kept_m2()
    zones: dict[Zone, list[BenchNow]] = {}
    for bench in querysets.benches_open_on(day):
        trees = standing_here.get(bench.pk, [])
        taken = sum((area_of(one.tree) for one in trees), Decimal())
        now = BenchNow(bench, tuple(trees), taken, kept.get(bench.pk, Decimal()))
        zones.setdefault(Zone(bench.zone), []).append(now)
    return [ZoneNow(zone, tuple(benches)) for zone, benches in zones.items()]


def in_the_wrong_zone(zones: Iterable[ZoneNow]) -> list[tuple[Bench, TreeOnBench]]:
    """Trees whose standing does not allow the zone they stand in, and for which no exception is written."""
    return [(now.bench, one) for zone in zones for now in zone.benches for one in now.trees if one.wrong_zone]


def excepted(zones: Iterable[ZoneNow]) -> list[tuple[Bench, TreeOnBench]]:
    """Trees that stand where they do by a written exception; each shows on the day page until it ends."""
    return [(now.bench, one) for zone in zones for now in zone.benches for one in now.trees if one.exception]


def choices_for(tree: Tree, day: dt.date) -> list[BenchChoice]:
    """Every open bench for this tree; the first fitting one of the zone to propose is proposed."""
    standing, needs, place = standing_of(tree), area_of(tree), place_of(tree)
    proposed = False
    choices = []
    for bench, left in _room_left(day, besides=tree):
        allowed = health.may_stand(bench.zone, standing) is Allowed.YES
        fits = left >= needs
        first = not proposed and allowed and fits and bench.zone == proposed_zone(standing)
        proposed = proposed or first
        choices.append(BenchChoice(bench, left, fits, allowed, first and not place, bench == place))
    return choices


def _room_left(day: dt.date, besides: Tree) -> list[tuple[Bench, Decimal]]:
    """(bench, room left without the tree itself), in the order of the walk."""
    taken: dict[int, list[Decimal]] = defaultdict(list)
    for occupancy in Occupancy.objects.filter(until_at=None).exclude(tree=besides).select_related("tree"):
        taken[occupancy.bench_id].append(area_of(occupancy.tree))
    kept = _kept_m2()
    return [
        (bench, room.left(bench.area_m2, [*taken[bench.pk], kept.get(bench.pk, Decimal())]))
        for bench in querysets.benches_open_on(day)
    ]


def proposed_zone(standing: Standing) -> Zone:
    """Where a tree of this standing goes first: isolation with live pests, entrance quarantine by default."""
    return {
        Standing.INFESTED: Zone.ISOLATION,
        Standing.OBSERVED: Zone.OBSERVATION,
        Standing.CLEAN: Zone.ENTRANCE,
    }.get(standing, Zone.ENTRANCE)


def area_of(tree: Tree) -> Decimal:
    """Square metres the tree takes."""
    return room.area_of(tree.size_class, tree.area_m2)


def _standing_here(day: dt.date, at: dt.datetime) -> dict[int, list[TreeOnBench]]:
    live_tags = Prefetch("tree__tags", Tag.objects.filter(retired_at=None), to_attr="live_tags")
    rows = Occupancy.objects.filter(until_at=None).select_related("tree", "bench").prefetch_related(live_tags)
    placed = Occupancy.objects.filter(until_at=None).order_by().values("tree")
    standings = {row.tree_id: row for row in StandingRow.objects.filter(until_at=None, tree__in=placed)}
    overrides = {(one.tree_id, one.bench_id): one for one in querysets.overrides_not_ended()}
    holds: dict[int, list[Hold]] = defaultdict(list)
    for hold in querysets.every_hold_standing(at):
        holds[hold.tree_id].append(hold)
    found: dict[int, list[TreeOnBench]] = defaultdict(list)
    for row in rows.order_by("from_at", "pk"):
        override = overrides.get((row.tree_id, row.bench_id))
        found[row.bench_id].append(
            _one(row, day, standings.get(row.tree_id), override, holds.get(row.tree_id, []))
        )
    return found


def _one(
    row: Occupancy,
    day: dt.date,
    standing_row: StandingRow | None,
    override: ZoneOverride | None,
    holds: Iterable[Hold],
) -> TreeOnBench:
    standing = Standing(standing_row.standing) if standing_row else Standing.NOT_EXAMINED
    allowed = health.may_stand(row.bench.zone, standing) is Allowed.YES
    tags: list[Tag] = getattr(row.tree, "live_tags", [])
    over = override is not None and override.until_on < day
    return TreeOnBench(
        tree=row.tree,
        tag=tags[0].short if tags else "",
        since_at=row.from_at,
        standing=standing,
        standing_since_at=standing_row.since_at if standing_row else None,
        reason=standing_row.reason if standing_row else "",
        wrong_zone=not allowed and (override is None or over),
        exception=override,
        exception_over=over,
        held=tuple(holds),
    )


def _kept_m2() -> dict[int, Decimal]:
    """Room kept per bench for trees that are away: the bench each left."""
    away = Absence.objects.filter(back_at=None, place_kept=True).select_related("stay__tree")
    kept: dict[int, Decimal] = defaultdict(Decimal)
    trees = {absence.stay.tree_id: absence.stay.tree for absence in away}
    last: dict[int, int] = {}
    for row in Occupancy.objects.filter(tree__in=trees).order_by("from_at", "pk"):
        last[row.tree_id] = row.bench_id
    for tree_id, bench_id in last.items():
        kept[bench_id] += area_of(trees[tree_id])
    return kept
