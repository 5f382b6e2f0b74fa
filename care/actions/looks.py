"""A look at a tree together with what it makes due, in one transaction."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import transaction

from boarding.actions.looks import FindingInput, record_look
from boarding.health import Standing
from boarding.models import Look
from boarding.overviews import standing_row_of
from care import querysets
from care.actions import contact_lists, following
from nursery import clock
from nursery.models import Nursery, Person, Tree


@transaction.atomic
def look_and_plan(
    *,
    tree: Tree,
    at: dt.datetime,
    by: Person,
    twigs: int,
    findings: Sequence[FindingInput] = (),
    **details: Any,
) -> Look:
    """Write the look (arguments and refusals as `record_look`), do the look that was due, and open the next.

    A tree under observation needs another look, as many days later as the nursery's rule asks between two; a suspect
    one after the waiting time.
    """
    look = record_look(tree=tree, at=at, by=by, twigs=twigs, findings=findings, **details)
    _follow(look, at)
    return look


def catch_up(*, at: dt.datetime) -> int:
    """What looks written down elsewhere make due or done: for each tree not followed yet. Returns how many trees."""
    waiting = querysets.looks_not_followed()
    for look in waiting:
        _follow(look, at)
    return len(waiting)


@transaction.atomic
def _follow(look: Look, at: dt.datetime) -> None:
    """Do what was due, open the next look where one is needed, and tick the tree off contact lists."""
    days = _days_to_the_next(look)
    following.after_look(look=look, needs_another=days > 0, days=days, at=at, by=look.by)
    contact_lists.after_look(look)


def _days_to_the_next(look: Look) -> int:
    """Days from the look to the next one that the rule asks for; 0 where it asks for none."""
    row, here = standing_row_of(look.tree), Nursery.here()
    if row is None or look.live:
        return 0
    if row.standing == Standing.OBSERVED:
        return here.clean_days_apart
    if row.standing == Standing.SUSPECT:
        waits_until = clock.day_of(row.since_at) + dt.timedelta(days=here.quarantine_days)
        return max(1, (waits_until - clock.day_of(look.at)).days)
    return 0
