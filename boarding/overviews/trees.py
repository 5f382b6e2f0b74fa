"""The list of trees: which of them, and what stands in each row. A fixed number of queries a page."""

from collections.abc import Collection, Mapping

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from boarding.health import Standing
from boarding.models import Occupancy, StandingRow, Stay
from boarding.states import IN_HOUSE, OPEN, StayState
from nursery import querysets
from nursery.models import Ownership, Tag, Tree

HERE, READY, AWAY, ANNOUNCED, GONE, ALL = "here", "ready", "away", "announced", "gone", "all"
WHERE = [
    (HERE, "here now"),
    (READY, "ready for collection"),
    (AWAY, "away for a while"),
    (ANNOUNCED, "announced"),
    (GONE, "gone home"),
    (ALL, "every tree ever written down"),
]
CUSTOMERS, OWN = "customers", "own"
WHOSE = [(CUSTOMERS, "customers’ trees"), (OWN, "our own")]


def listed(asked: Mapping[str, str]) -> QuerySet[Tree]:
    """Trees by the filters `q`, `where`, `whose`, `zone` and `standing`; without `where` those that are here now."""
    typed = asked.get("q", "").strip()
    trees = querysets.find_trees(typed) if typed else Tree.objects.all()
    for name, narrow in (("where", _where), ("whose", _whose), ("zone", _zone), ("standing", _standing)):
        trees = trees.filter(narrow(asked.get(name, "") or (HERE if name == "where" and not typed else "")))
    return with_rows(querysets.with_tag(trees) if typed else querysets.with_tag(trees).order_by("-pk"))


def with_rows(trees: QuerySet[Tree]) -> QuerySet[Tree]:
    """What a row shows, read in one query a kind: tag, owner, standing, place, open stay."""
    now = {"until_at": None}
    return trees.select_related("taxon").prefetch_related(
        Prefetch("tags", Tag.objects.filter(retired_at=None), to_attr="live_tags"),
        Prefetch(
            "ownerships",
            Ownership.objects.filter(until_on=None).select_related("party"),
            to_attr="owners_now",
        ),
        Prefetch("standings", StandingRow.objects.filter(**now), to_attr="standings_now"),
        Prefetch(
            "occupancies", Occupancy.objects.filter(**now).select_related("bench"), to_attr="places_now"
        ),
        Prefetch("stays", Stay.objects.filter(state__in=OPEN), to_attr="stays_open"),
    )


def counted_cheaply(asked: Mapping[str, str]) -> bool:
    """Whether the list is short by its nature; the long ones are never counted."""
    return not asked.get("q") and asked.get("where", HERE) not in (GONE, ALL)


def _where(where: str) -> Q:
    states = {
        READY: [StayState.READY],
        AWAY: [StayState.AWAY],
        ANNOUNCED: [StayState.ANNOUNCED],
    }
    if where == HERE:
        # One union: the database then begins with the few trees that are here, not with every tree there ever was.
        here = _open(IN_HOUSE).values("tree")
        placed = Occupancy.objects.filter(until_at=None).order_by().values("tree")
        own = Ownership.objects.filter(until_on=None, party=None).order_by().values("tree")
        return Q(pk__in=here.union(placed, own))
    if where == GONE:
        stays = Stay.objects.filter(tree=OuterRef("pk"))
        return Q(Exists(stays.filter(left_at__isnull=False))) & ~Q(pk__in=_open(OPEN).values("tree"))
    return Q(pk__in=_open(states[where]).values("tree")) if where in states else Q()


def _open(states: Collection[StayState]) -> QuerySet[Stay]:
    """Stays in these states, which have not ended: `left_at` is said so that its index leads to them."""
    return Stay.objects.filter(state__in=states, left_at=None).order_by()


def _whose(whose: str) -> Q:
    if whose not in (CUSTOMERS, OWN):
        return Q()
    rows = Ownership.objects.filter(until_on=None, party__isnull=whose == OWN)
    return Q(pk__in=rows.values("tree"))


def _zone(zone: str) -> Q:
    if not zone:
        return Q()
    return Q(pk__in=Occupancy.objects.filter(until_at=None, bench__zone=zone).values("tree"))


def _standing(standing: str) -> Q:
    rows = StandingRow.objects.filter(until_at=None)
    if not standing:
        return Q()
    if standing == Standing.NOT_EXAMINED:
        return ~Q(pk__in=rows.exclude(standing=standing).values("tree"))
    return Q(pk__in=rows.filter(standing=standing).values("tree"))
