"""Jobs that were given up, tried again by a person."""

import datetime as dt

from django.db import transaction

from nursery import audit, jobs
from nursery.models import Job, Person
from nursery.refusals import Refused


@transaction.atomic
def try_again(*, job: Job, at: dt.datetime, by: Person) -> None:
    """Open a job that was given up; a worker takes it at once.

    Raises Refused("not-given-up").
    """
    if not jobs.reopen(job_id=job.pk, at=at):
        raise Refused("not-given-up", "This is done or being worked on already.")
    audit.record(by=by, at=at, verb="had a job tried again", subject=job)
