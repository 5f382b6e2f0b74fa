"""Numbers and names of the journal's accounts, as the accountant has them."""

import datetime as dt
from collections.abc import Mapping

from django.db import transaction

from invoicing.journal import Account
from invoicing.models import JournalAccount
from invoicing.overviews.journal import accounts
from nursery import audit
from nursery.models import Nursery, Person, Role
from nursery.refusals import Refused


@transaction.atomic
def name_accounts(
    *, named: Mapping[Account, tuple[str, str]], at: dt.datetime, by: Person
) -> dict[Account, tuple[str, str]]:
    """Write number and name of each account; returns those that changed.

    Raises Refused: "not-proprietor", "incomplete", "same-number".
    """
    if by.role != Role.PROPRIETOR:
        raise Refused("not-proprietor", "Only the proprietor names the accounts.")
    before = accounts()
    told = before | {key: (number.strip(), name.strip()) for key, (number, name) in named.items()}
    for key, (number, name) in told.items():
        if not number or not name:
            raise Refused("incomplete", "Write a number and a name for each account.", f"number_{key}")
        if [one for one, _ in told.values()].count(number) > 1:
            raise Refused("same-number", f"{number} stands twice; give each its own.", f"number_{key}")
    changed = {key: pair for key, pair in told.items() if pair != before[key]}
    for key, (number, name) in changed.items():
        JournalAccount.objects.update_or_create(key=key.value, defaults={"number": number, "name": name})
    if changed:
        audit.record(
            by=by,
            at=at,
            verb="named accounts of the journal",
            subject=Nursery.here(),
            before={key.value: " ".join(before[key]) for key in changed},
            after={key.value: " ".join(pair) for key, pair in changed.items()},
        )
    return changed
