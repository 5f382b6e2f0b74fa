"""What holds of one tree now: its standing, its place, its open stay."""

import datetime as dt

from django.db.models import Q

from boarding import querysets
from boarding.health import Standing
from boarding.models import Absence, Hold, Look, Occupancy, StandingRow, Stay
from nursery.models import Bench, Tree


def standing_row_of(tree: Tree) -> StandingRow | None:
    """The dated row that says the tree's standing now; None for a tree nobody has looked at."""
    return StandingRow.objects.filter(tree=tree, until_at=None).first()


def standing_of(tree: Tree) -> Standing:
    """The tree's health standing now; not examined while no row says otherwise."""
    row = standing_row_of(tree)
    return Standing(row.standing) if row else Standing.NOT_EXAMINED


def occupancy_of(tree: Tree) -> Occupancy | None:
    """The open row of the tree's place."""
    return Occupancy.objects.filter(tree=tree, until_at=None).select_related("bench").first()


def place_of(tree: Tree) -> Bench | None:
    """The bench the tree stands on now."""
    occupancy = occupancy_of(tree)
    return occupancy.bench if occupancy else None


def open_stay_of(tree: Tree) -> Stay | None:
    """The tree's one open stay, announced ones included."""
    return querysets.still_open().filter(tree=tree).first()


def final_look_of(stay: Stay) -> Look | None:
    """The final inspection that counts: since the tree came or was taken back, and nothing found alive after it."""
    returns = Absence.objects.filter(stay=stay, back_at__isnull=False).order_by("-back_at")
    back = returns.values_list("back_at", flat=True).first()
    looks = Look.objects.filter(stay=stay)
    finals = looks.filter(purpose=Look.Purpose.FINAL, **({"at__gte": back} if back else {}))
    if stay.taken_back_at:
        finals = finals.filter(at__gt=stay.taken_back_at)
    final = finals.order_by("-at", "-pk").first()
    if final is None:
        return None
    later = Q(at__gt=final.at) | Q(at=final.at, pk__gt=final.pk)
    return None if looks.filter(later, live__gt=0).exists() else final


def holds_of(tree: Tree, at: dt.datetime) -> list[Hold]:
    """Reasons why the tree may not leave at that instant."""
    return list(querysets.holds_standing(tree, at))
