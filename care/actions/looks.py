"""A look at a tree together with what it makes due, in one transaction."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import transaction

from boarding.actions.looks import FindingInput, record_look
from boarding.health import Standing
from boarding.models import Look
from boarding.overviews import standing_of
from care import querysets
from care.actions import following
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

    A tree under observation needs another look, as many days later as the nursery's rule asks between two.
    """
    look = record_look(tree=tree, at=at, by=by, twigs=twigs, findings=findings, **details)
    observed = standing_of(tree) is Standing.OBSERVED
    following.after_look(
        look=look, needs_another=observed, days=Nursery.here().clean_days_apart, at=at, by=by
    )
    return look


def catch_up(*, at: dt.datetime) -> int:
    """What looks written down elsewhere make due or done: for each tree not followed yet. Returns how many trees."""
    waiting = querysets.looks_not_followed()
    for look in waiting:
        observed = standing_of(look.tree) is Standing.OBSERVED
        following.after_look(
            look=look, needs_another=observed, days=Nursery.here().clean_days_apart, at=at, by=look.by
        )
    return len(waiting)
