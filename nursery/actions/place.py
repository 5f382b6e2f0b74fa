"""Setting up the nursery itself: its details stand on every document, its settings rule the house."""

import datetime as dt
from typing import Any

from django.db import transaction

from nursery import audit
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Nursery, Person

DETAILS = frozenset(field.name for field in Nursery._meta.concrete_fields if not field.primary_key)


@transaction.atomic
def set_up_nursery(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> Nursery:
    """Write the nursery's details for the first time, or change them. Issued documents keep what they say."""
    here = Nursery.objects.filter(pk=1).first()
    if here is not None:
        return write_changes(
            locked(here), fields, may=DETAILS, verb="changed the nursery's details", at=at, by=by
        )
    if strange := set(fields) - DETAILS:
        raise ValueError(f"the nursery has no {', '.join(sorted(strange))}")
    here = Nursery(**fields)
    here.save(force_insert=True)
    audit.record(by=by, at=at, verb="set up the nursery", subject=here, after=plainly(fields))
    return here
