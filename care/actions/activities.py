"""The kinds of work, brought in from a list; what the proprietor has changed since is left alone."""

import datetime as dt
import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.db import transaction

from care.models import Activity
from nursery import audit
from nursery.models import Person, Role

USUAL = Path(settings.BASE_DIR) / "fixtures" / "activities.json"


@transaction.atomic
def load_activities(*, path: Path) -> int:
    """Add the kinds of work of the list that are not there yet; returns how many were added."""
    listed: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["activities"]
    there = set(Activity.objects.values_list("code", flat=True))
    new = [Activity(**row) for row in listed if row["code"] not in there]
    Activity.objects.bulk_create(new)
    return len(new)


@transaction.atomic
def load_usual(*, at: dt.datetime, by: Person) -> int:
    """Add the usual kinds of work that are not there yet; the proprietor's to do. Returns how many were added."""
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("the proprietor decides which work is done")
    added = load_activities(path=USUAL)
    if added:
        audit.record(
            by=by, at=at, verb="began with the usual kinds of work", subject=by, after={"added": added}
        )
    return added
