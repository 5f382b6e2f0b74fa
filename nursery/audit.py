"""Writing the audit trail: who, when, what, before, after, why. Rows are append-only, by the database too."""

import datetime as dt
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model

from nursery.models import AuditRow, Person

ENCODER = DjangoJSONEncoder


def record(
    *,
    by: Person | None,
    at: dt.datetime,
    verb: str,
    subject: Model,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
) -> AuditRow:
    """Add one row; `by` is None only for what the clock did (a job, a sweep)."""
    return AuditRow.objects.create(
        at=at,
        by=by,
        by_name=by.full_name if by else "Heelin",
        verb=verb,
        subject_type=subject._meta.label_lower,
        subject_id=str(subject.pk),
        subject_words=str(subject)[:200],
        before=before or {},
        after=after or {},
        reason=reason,
    )
