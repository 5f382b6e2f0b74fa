"""The next hatch on a tree that is infested or under a plan: of which pest, from which day to which."""

import datetime as dt

from boarding.health import Standing
from boarding.models import Finding, StandingRow
from boarding.strip import Hatch
from care.due_days import HatchWindow
from care.models import Plan
from care.overviews.warmth import Places
from care.states import PLAN_ON
from nursery.models import Tree

CONCERNED = (Standing.INFESTED.value, Standing.OBSERVED.value)


def next_hatch(tree: Tree, day: dt.date) -> Hatch | None:
    """The earliest window that is not over, of the pests of its plans, else of the last live find."""
    pests = pests_of(tree)
    if not pests:
        return None
    places = Places(day)
    thermometer = places.at([tree.pk]).get(tree.pk)
    if thermometer is None:
        return None
    figures = [figure for (organism, _), figure in places.figures.items() if organism in pests]
    windows = [places.hatch(thermometer, figure, day) for figure in figures]
    found = [hatch for window in windows if window and (hatch := days_of(window)) and hatch.last >= day]
    return min(found, key=lambda hatch: hatch.first, default=None)


def days_of(window: HatchWindow) -> Hatch | None:
    """First and last day of a window, as far as it is known."""
    begins = window.begins.reach
    first = window.seen_on or begins.best or begins.earliest
    ends = (window.ends or window.middle).reach
    last = ends.best or ends.latest
    return Hatch(first, max(first, last)) if first and last else None


def pests_of(tree: Tree) -> set[int]:
    """The pests that a hatch on this tree is expected of."""
    planned = Plan.objects.filter(tree=tree, state__in=PLAN_ON, organism__isnull=False)
    if found := set(planned.values_list("organism", flat=True)):
        return found
    if not StandingRow.objects.filter(tree=tree, until_at=None, standing__in=CONCERNED).exists():
        return set()
    live = Finding.objects.filter(look__tree=tree, live__gt=0, organism__isnull=False)
    last = live.order_by("-look__at", "-pk").values_list("organism", flat=True).first()
    return {last} if last else set()
