"""Moving a tree together with what an exception asks for: its neighbours drawn into a contact case at once."""

import datetime as dt

from django.db import transaction

from boarding.actions.places import Override, move_tree
from boarding.models import Occupancy
from care import querysets
from care.actions.contacts import follow_exception
from nursery.models import Bench, Person, Tree


@transaction.atomic
def move_and_follow(
    *, tree: Tree, to: Bench, at: dt.datetime, by: Person, override: Override | None = None
) -> Occupancy:
    """Put the tree on a bench (arguments and refusals as `move_tree`)."""
    if override is not None:  # a case is held before its tree
        list(querysets.open_cases().filter(source=tree).select_for_update(no_key=True))
    place = move_tree(tree=tree, to=to, at=at, by=by, override=override)
    for written in querysets.exceptions_that_draw(at).filter(tree=tree, bench=to, ended_at=None):
        follow_exception(override=written, at=at)
    return place
