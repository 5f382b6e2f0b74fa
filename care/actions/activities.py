"""The kinds of work, brought in from a list; what the proprietor has changed since is left alone."""

import json
from pathlib import Path
from typing import Any

from django.db import transaction

from care.models import Activity


@transaction.atomic
def load_activities(*, path: Path) -> int:
    """Add the kinds of work of the list that are not there yet; returns how many were added."""
    listed: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["activities"]
    there = set(Activity.objects.values_list("code", flat=True))
    new = [Activity(**row) for row in listed if row["code"] not in there]
    Activity.objects.bulk_create(new)
    return len(new)
