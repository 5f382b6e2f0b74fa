"""Which trees does a pest concern? Those here whose genus is a host of it, that bear it, or are treated against it."""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import F

from boarding.health import Standing
from boarding.models import Finding, StandingRow
from boarding.overviews.trees import HERE, listed
from care.models import Plan
from care.states import PLAN_OVER
from nursery.models import Host

BEARING = (Standing.INFESTED, Standing.SUSPECT, Standing.OBSERVED)


def concerned(pests: Iterable[int]) -> dict[int, set[int]]:
    """Trees that are here, in care or our own, by pest. Four queries, however many pests and trees there are."""
    wanted = set(pests)
    here = dict(listed({"where": HERE}).prefetch_related(None).order_by().values_list("pk", "taxon__genus"))
    by_genus: dict[str, set[int]] = defaultdict(set)
    for tree, genus in here.items():
        by_genus[(genus or "").casefold()].add(tree)
    found: dict[int, set[int]] = {pest: set() for pest in wanted}
    for pest, genus in Host.objects.filter(organism__in=wanted).values_list("organism", "genus").distinct():
        found[pest] |= by_genus.get(genus.casefold(), set())
    bearing = StandingRow.objects.filter(until_at=None, standing__in=BEARING).order_by().values("tree")
    seen = Finding.objects.filter(organism__in=wanted, live__gt=0, look__tree__in=bearing)
    treated = Plan.objects.filter(organism__in=wanted).exclude(state__in=PLAN_OVER)
    told = seen.order_by().values_list("organism", F("look__tree")).distinct()
    for pest, tree in [*told, *treated.order_by().values_list("organism", "tree")]:
        if tree in here:
            found[pest].add(tree)
    return found
