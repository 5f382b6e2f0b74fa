"""Setting up the nursery itself: its details stand on every document, its settings rule the house."""

import datetime as dt
from typing import Any

from django.db import transaction

from nursery import audit
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Nursery, Person, Tag
from nursery.refusals import Refused

DETAILS = frozenset(field.name for field in Nursery._meta.concrete_fields if not field.primary_key)


@transaction.atomic
def set_up_nursery(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> Nursery:
    """Write the nursery's details for the first time, or change them. Issued documents keep what they say.

    Raises Refused("tags-printed").
    """
    _refuse_other_prefix(fields.get("tag_prefix"))
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


def _refuse_other_prefix(prefix: str | None) -> None:
    """A tag is read by its letters: with others, every tag that hangs on a tree would be none of this nursery."""
    if prefix is None:
        return
    printed = Tag.objects.filter(retired_at=None).exclude(code__regex=f"^{prefix}[0-9]").first()
    if printed:
        raise Refused(
            "tags-printed",
            f"Tags are printed already, {printed.short} for one: keep their letters, or no scan finds its tree.",
            field="tag_prefix",
        )
