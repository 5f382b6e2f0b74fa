"""Leaving the nursery for a while or for good, and being made ready for it: not while a clock runs on the tree."""

import datetime as dt

from django.db import transaction

from boarding.actions import stays, uncollected
from boarding.models import Absence, Stay
from care import querysets
from care.actions.steps import hold_trees
from nursery import clock, words
from nursery.models import Person, Tree
from nursery.refusals import Refused


@transaction.atomic
def make_ready(*, stay: Stay, at: dt.datetime, by: Person) -> Stay:
    """Ready for collection. Refused: "clock-running", and as boarding refuses."""
    refuse_running_clock(stay.tree)
    return stays.make_ready(stay=stay, at=at, by=by)


@transaction.atomic
def send_away(*, stay: Stay, reason: str, place_kept: bool, at: dt.datetime, by: Person) -> Absence:
    """Away within the stay. Refused: "clock-running", and as boarding refuses."""
    refuse_running_clock(stay.tree)
    return stays.send_away(stay=stay, reason=reason, place_kept=place_kept, at=at, by=by)


@transaction.atomic
def dispose_under_notice(*, stay: Stay, reason: str, advised: bool, at: dt.datetime, by: Person) -> Stay:
    """The last resort of the proprietor. Refused: "clock-running", and as boarding refuses."""
    refuse_running_clock(stay.tree)
    return uncollected.dispose_under_notice(stay=stay, reason=reason, advised=advised, at=at, by=by)


def refuse_running_clock(tree: Tree) -> None:
    """Refused "clock-running", naming whose clock, on what work and since when; none starts until the deed is done."""
    hold_trees(tree)
    running = querysets.running_on(tree)
    if running:
        since = words.moment(clock.local(running.started_at))
        raise Refused(
            "clock-running",
            f"A clock still runs on this tree: {running.person}, {running.activity.name.lower()}, since {since}. "
            "Stop it first, so that its minutes are on record before the tree leaves.",
        )
