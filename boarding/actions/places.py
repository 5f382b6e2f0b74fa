"""Where trees stand: moving closes the old place and opens the new one in one step."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding import health, querysets, room
from boarding.actions.steps import reason_given
from boarding.health import Allowed
from boarding.models import Occupancy, ZoneOverride
from boarding.overviews.now import occupancy_of, open_stay_of, standing_of
from boarding.states import IN_HOUSE, StayState
from nursery import audit, clock, words
from nursery.models import Bench, Ownership, Person, Role, Tree, Zone
from nursery.refusals import Refused
from nursery.units import format_number


@dataclass(frozen=True)
class Override:
    """A written exception: why, and until which day (that day included)."""

    reason: str
    until_on: dt.date


@transaction.atomic
def move_tree(
    *, tree: Tree, to: Bench, at: dt.datetime, by: Person, override: Override | None = None
) -> Occupancy:
    """Put the tree on a bench from this instant. Moving it to where it stands changes nothing.

    Refused: "not-here", "bench-closed", "moved-later", "wrong-zone", "bench-full"; the last two give way to the
    proprietor's override.
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    bench = Bench.objects.select_for_update(no_key=True).get(pk=to.pk)
    _require_here(tree)
    current = occupancy_of(tree)
    if current is not None and current.bench_id == bench.pk:
        return current
    _require_open(bench, current, at)
    against = _why_not(tree, bench)
    if against is not None:
        _write_override(tree, bench, override, against, at, by)
    return _stand(tree, bench, current, at, by, reason=override.reason if override and against else "")


@transaction.atomic
def leave_place(*, tree: Tree, at: dt.datetime, by: Person) -> Occupancy | None:
    """The tree stands nowhere from this instant; None when it stood nowhere before."""
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    current = occupancy_of(tree)
    if current is None:
        return None
    _close(current, at)
    audit.record(by=by, at=at, verb="took from its bench", subject=tree, before={"bench": current.bench.name})
    return current


@transaction.atomic
def end_override(*, override: ZoneOverride, at: dt.datetime, by: Person) -> ZoneOverride:
    """End a written exception before its day; the tree then stands in the wrong zone until it is moved."""
    _require_proprietor(by)
    override = ZoneOverride.objects.select_for_update(no_key=True).get(pk=override.pk)
    if override.ended_at is not None:
        raise Refused("override-ended", "This exception has already ended.")
    override.ended_at = at
    override.save(update_fields=["ended_at"])
    audit.record(by=by, at=at, verb="ended an exception", subject=override, after={"ended_at": at})
    return override


def area_of(tree: Tree) -> Decimal:
    """Square metres the tree takes on a bench."""
    return room.area_of(tree.size_class, tree.area_m2)


def room_left(bench: Bench, besides: Tree | None = None) -> Decimal:
    """Square metres left on the bench: places kept for trees that are away count as taken, `besides` does not."""
    standing = [occupancy.tree for occupancy in querysets.standing_on(bench)]
    trees = [
        tree for tree in [*standing, *querysets.kept_on(bench)] if besides is None or tree.pk != besides.pk
    ]
    return room.left(bench.area_m2, [area_of(tree) for tree in trees])


def _require_here(tree: Tree) -> None:
    """Only a tree that is in the house has a place: a stay in the house, its remains, or the nursery's own tree."""
    stay = open_stay_of(tree)
    if stay is not None and stay.lifeline in (*IN_HOUSE, StayState.DIED):
        return
    if stay is None and Ownership.objects.filter(tree=tree, until_on=None, party=None).exists():
        return
    raise Refused("not-here", f"{tree} is not in the nursery: begin its check-in at the Gate first.")


def _require_open(bench: Bench, current: Occupancy | None, at: dt.datetime) -> None:
    if bench.closed_on is not None and bench.closed_on <= clock.day_of(at):
        raise Refused("bench-closed", f"{bench} is closed: choose another bench.", field="bench")
    if current is not None and at < current.from_at:
        moved = querysets.local_words(current.from_at)
        raise Refused(
            "moved-later", f"The tree was put on {current.bench} on {moved}: give a later time.", field="at"
        )


def _why_not(tree: Tree, bench: Bench) -> Refused | None:
    """What speaks against the bench, zone before room."""
    standing = standing_of(tree)
    if health.may_stand(bench.zone, standing) is not Allowed.YES:
        return Refused("wrong-zone", wrong_zone(tree, standing, bench), field="bench")
    left, needs = room_left(bench, besides=tree), area_of(tree)
    if left < needs:
        return Refused("bench-full", _bench_full(bench, left, needs), field="bench")
    return None


def wrong_zone(tree: Tree, standing: health.Standing, bench: Bench) -> str:
    """The sentence for a zone that the tree's standing does not allow, naming those that it does."""
    allowed = [
        Zone(z.value).label.lower() for z in health.Zone if health.may_stand(z, standing) is Allowed.YES
    ]
    instead = (
        f"choose {' or '.join(allowed)}"
        if allowed
        else "leave it where it stands until the authority has spoken"
    )
    return f"{tree} is {health.WORDS[standing]} and may not stand in {bench.get_zone_display().lower()}: {instead}."


def _bench_full(bench: Bench, left: Decimal, needs: Decimal) -> str:
    free = f"has {format_number(left)} m² left" if left > 0 else "is full"
    return (
        f"{bench} {free} and the tree needs {format_number(needs)} m²: "
        "choose another bench, or make room there first."
    )


def _write_override(
    tree: Tree, bench: Bench, override: Override | None, against: Refused, at: dt.datetime, by: Person
) -> None:
    if override is None:
        raise against
    _require_proprietor(by)
    reason_given(override.reason, field="override_reason")
    day = clock.day_of(at)
    if override.until_on < day:
        raise Refused(
            "override-over",
            f"Write a last day from {words.day(day)} on for this exception.",
            field="override_until",
        )
    written = ZoneOverride.objects.create(
        tree=tree,
        bench=bench,
        standing=standing_of(tree).value,
        reason=override.reason.strip(),
        made_at=at,
        made_by=by,
        until_on=override.until_on,
    )
    audit.record(
        by=by,
        at=at,
        verb="allowed an exception",
        subject=written,
        reason=f"{against.sentence} {written.reason}",
    )


def _stand(
    tree: Tree, bench: Bench, current: Occupancy | None, at: dt.datetime, by: Person, reason: str
) -> Occupancy:
    if current is not None:
        _close(current, at)
    occupancy = Occupancy.objects.create(tree=tree, bench=bench, from_at=at, moved_by=by)
    before = {"bench": current.bench.name} if current else {}
    audit.record(
        by=by, at=at, verb="moved", subject=tree, before=before, after={"bench": bench.name}, reason=reason
    )
    return occupancy


def _close(occupancy: Occupancy, at: dt.datetime) -> None:
    """End the place, and with it what was allowed for it."""
    occupancy.until_at = at
    occupancy.save(update_fields=["until_at"])
    allowed = ZoneOverride.objects.filter(tree=occupancy.tree, bench=occupancy.bench, ended_at=None)
    allowed.update(ended_at=at)


def _require_proprietor(by: Person) -> None:
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor overrides the table of zones")
