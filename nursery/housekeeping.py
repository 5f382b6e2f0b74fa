"""What may go: rows that serve for a while and would grow for ever. None is of the nursery's own history."""

import datetime as dt

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import QuerySet

from nursery.models import Job, Press

# A form is open for a day at most; a week leaves room for a phone that was in a drawer.
PRESSES_FOR = dt.timedelta(days=7)
JOBS_FOR = dt.timedelta(days=90)
SIGN_INS_FOR = dt.timedelta(days=90)
AT_ONCE = 5000


def tidy(*, at: dt.datetime) -> dict[str, int]:
    """Remove what has served; returns how many rows of each kind. Given-up jobs stay: a person must see them."""
    old_sign_ins = {"attempt_time__lt": at - SIGN_INS_FOR}
    going: dict[str, QuerySet] = {
        "presses": Press.objects.filter(at__lt=at - PRESSES_FOR),
        "jobs": Job.objects.filter(done_at__lt=at - JOBS_FOR),
        "sessions": Session.objects.filter(expire_date__lt=at),
        "sign-in attempts": AccessAttempt.objects.filter(**old_sign_ins),
        "sign-ins": AccessLog.objects.filter(**old_sign_ins),
        "failed sign-ins": AccessFailureLog.objects.filter(**old_sign_ins),
    }
    return {name: _remove(rows) for name, rows in going.items()}


def _remove(rows: "QuerySet") -> int:
    """A few thousand at a time, so that nobody waits long for the lock."""
    removed = 0
    while True:
        keys = list(rows.order_by().values_list("pk", flat=True)[:AT_ONCE])
        if not keys:
            return removed
        with transaction.atomic():
            removed += rows.model.objects.filter(pk__in=keys).delete()[0]
