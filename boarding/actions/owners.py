"""Passing a tree on to another owner: never behind the back of a stay that runs."""

import datetime as dt

from django.db import transaction

from boarding import querysets
from boarding.states import WORDS, StayState
from nursery.actions.trees import change_owner
from nursery.models import Ownership, Party, Person, Tree
from nursery.refusals import Refused


@transaction.atomic
def pass_on(*, tree: Tree, to: Party | None, on: dt.date, at: dt.datetime, by: Person) -> Ownership:
    """The tree is another's from that day on, None for the nursery itself. Refused as `change_owner`, and "stay-runs".

    The owner who agreed to a stay owes it: it is ended with them first, on paper where the tree does not leave.
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    stay = (
        querysets.still_open()
        .filter(tree=tree)
        .exclude(state=StayState.ANNOUNCED)
        .select_related("owner")
        .first()
    )
    if stay is not None:
        raise Refused(
            "stay-runs",
            f"{tree} is {WORDS[stay.lifeline]} for {stay.owner}. End that stay first: hand the tree back, or where it "
            "does not leave, pass it on from the page of the handback. Then write down the new owner, and receive it "
            "for them at the Gate: the stay goes on without a second intake fee.",
            field="to",
        )
    return change_owner(tree=tree, to=to, on=on, at=at, by=by)
