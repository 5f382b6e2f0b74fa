"""Writing changed fields of an existing row: locked, only what differs, with its audit row."""

import datetime as dt
from collections.abc import Collection
from typing import Any, TypeVar

from django.db.models import Model

from nursery import audit
from nursery.models import Person

M = TypeVar("M", bound=Model)


def locked(row: M) -> M:
    """The row read again and locked until the transaction ends."""
    manager: Any = row._meta.model._default_manager  # of the model itself: the person signed in comes wrapped
    found: M = manager.select_for_update(no_key=True).get(pk=row.pk)
    return found


def write_changes(
    row: M, fields: dict[str, Any], *, may: Collection[str], verb: str, at: dt.datetime, by: Person | None
) -> M:
    """Set the fields of a locked row that differ; nothing is written, nor audited, when none does.

    Raises ValueError for a field outside `may`: a slip of the programmer, not of a person.
    """
    if strange := set(fields) - set(may):
        raise ValueError(f"{verb} does not write {', '.join(sorted(strange))}")
    before = {name: getattr(row, name) for name, value in fields.items() if getattr(row, name) != value}
    if not before:
        return row
    for name in before:
        setattr(row, name, fields[name])
    row.save(update_fields=list(before))
    after = {name: _plain(fields[name]) for name in before}
    audit.record(
        by=by,
        at=at,
        verb=verb,
        subject=row,
        before={name: _plain(value) for name, value in before.items()},
        after=after,
    )
    return row


def plainly(fields: dict[str, Any]) -> dict[str, Any]:
    """Field values as the audit trail keeps them; empty ones are left out."""
    return {name: _plain(value) for name, value in fields.items() if value not in ("", None, False)}


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Model) else value
