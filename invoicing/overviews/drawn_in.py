"""Since when a stay bears what a neighbour brought: from then on its isolation costs the owner nothing."""

import datetime as dt
from collections.abc import Iterable

from boarding.models import StandingRow, Stay
from care.querysets import contacts_of_the_healthy


def drawn_in(stays: Iterable[Stay]) -> dict[int, dt.datetime]:
    """When a healthy tree was first named in a contact within its stay, by a fixed list or by hand. Two queries."""
    asked = {stay.pk: stay for stay in stays if stay.isolation_agreed_on}
    found: list[tuple[int, dt.datetime]] = []
    for row in contacts_of_the_healthy().filter(stay__in=asked).select_related("case"):
        found += [(row.stay_id, row.case.counts_from)] if row.stay_id else []
    by_hand = StandingRow.objects.filter(cause=StandingRow.Cause.CONTACT)
    rows = by_hand.filter(tree__in=[stay.tree_id for stay in asked.values()])
    for tree, since in rows.values_list("tree_id", "since_at"):
        found += [
            (pk, since)
            for pk, stay in asked.items()
            if stay.tree_id == tree and stay.received_at and stay.received_at <= since
        ]
    first: dict[int, dt.datetime] = {}
    for pk, since in found:
        first[pk] = min(first.get(pk, since), since)
    return first
