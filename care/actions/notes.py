"""Notes for customers: added, changed, retired by the office; every change stays in the audit trail."""

import datetime as dt
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from care.models import CareNote
from nursery import audit, clock, names
from nursery.models import Person
from nursery.permissions import DESK
from nursery.refusals import Refused

FIELDS = ("genus", "species", "from_month", "to_month", "heading", "text", "source", "order")


@transaction.atomic
def add_note(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> CareNote:
    """A note that is new. Refused: "no-genus", "half-a-season"."""
    told = _checked({name: fields[name] for name in FIELDS if name in fields}, by)
    note = CareNote.objects.create(**told, changed_at=at, changed_by=by)
    audit.record(by=by, at=at, verb="added a care note", subject=note, after=_facts(note))
    return note


@transaction.atomic
def change_note(*, note: CareNote, fields: dict[str, Any], at: dt.datetime, by: Person) -> CareNote:
    """Say it otherwise. What was printed stays as it was printed. Refused: "no-genus", "half-a-season"."""
    note = CareNote.objects.select_for_update(no_key=True).get(pk=note.pk)
    before = _facts(note)
    told = _checked(before | {name: fields[name] for name in FIELDS if name in fields}, by)
    changed = [name for name in FIELDS if told[name] != before[name]]
    for name in changed:
        setattr(note, name, told[name])
    if changed:
        note.changed_at, note.changed_by = at, by
        note.save(update_fields=[*changed, "changed_at", "changed_by"])
        audit.record(
            by=by, at=at, verb="changed a care note", subject=note, before=before, after=_facts(note)
        )
    return note


@transaction.atomic
def retire_note(*, note: CareNote, at: dt.datetime, by: Person) -> CareNote:
    """Tell nobody any more, from today."""
    _require_desk(by)
    note = CareNote.objects.select_for_update(no_key=True).get(pk=note.pk)
    if note.retired_on is None:
        note.retired_on, note.changed_at, note.changed_by = clock.day_of(at), at, by
        note.save(update_fields=["retired_on", "changed_at", "changed_by"])
        audit.record(by=by, at=at, verb="retired a care note", subject=note)
    return note


def _checked(told: dict[str, Any], by: Person) -> dict[str, Any]:
    """A genus and a species as a name has them, and a whole season or none."""
    _require_desk(by)
    genus, species = told.get("genus", "").strip(), told.get("species", "").strip()
    if species and not genus:
        raise Refused("no-genus", "Write the genus of this species too.", field="genus")
    if genus:
        try:
            named = names.parse(f"{genus} {species}".strip())
        except names.NotAName as wrong:
            raise Refused("no-genus", wrong.sentence, field="genus") from wrong
        genus, species = named.genus, named.species
    if (told.get("from_month") is None) != (told.get("to_month") is None):
        raise Refused("half-a-season", "Choose both months, or none for all the year.", field="to_month")
    return told | {"genus": genus, "species": species}


def _require_desk(by: Person) -> None:
    if by.role not in DESK:
        raise PermissionDenied("the office writes what customers are told")


def _facts(note: CareNote) -> dict[str, Any]:
    return {name: getattr(note, name) for name in FIELDS}
