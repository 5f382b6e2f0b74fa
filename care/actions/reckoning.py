"""Asking that days which wait for warmth are reckoned anew, once for all temperatures of a minute."""

import datetime as dt

from nursery import jobs

RECKON = "reckon_days_by_warmth"
MINUTE = dt.timedelta(minutes=1)


def reckon_soon(at: dt.datetime) -> None:
    """In the caller's transaction: as soon as this minute is over. One asked for too late to see this change asks
    for another one."""
    minute = at.replace(second=0, microsecond=0)
    due = minute + MINUTE
    job = jobs.enqueue(RECKON, f"{RECKON}:{minute:%Y-%m-%dT%H:%M}", due_at=due)
    if job.attempts:  # it has begun, perhaps before this change
        jobs.enqueue(RECKON, f"{job.key}:{job.pk}:{job.attempts}:{at.isoformat()}", due_at=due)
