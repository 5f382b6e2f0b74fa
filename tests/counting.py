"""A Celery app like the nursery's with one more kind of job, whose effect can be counted: a row of the audit trail.

It says "begun <key>" as the slow step begins and "kept <key>" inside the transaction that keeps the effect, so that
whoever reads along can kill it at either point. For worker processes of the tests only.
"""

import datetime as dt
import sys
import threading

import django

from nursery.celery import app

django.setup()

from nursery import audit, jobs  # noqa: E402 the models are there only now
from nursery.models import Job  # noqa: E402

__all__ = ["app"]
KIND = "count"
LEASE = dt.timedelta(seconds=2)
SLOW_S = 0.1


def say(words: str) -> None:
    assert sys.__stdout__ is not None  # Celery takes sys.stdout for its log
    sys.__stdout__.write(words + "\n")
    sys.__stdout__.flush()


@jobs.job(KIND, attempts=10_000, lease=LEASE)
def begin(job: Job, at: dt.datetime) -> None:
    """Takes a while, so that a kill finds it at work."""
    say(f"begun {job.key}")
    threading.Event().wait(SLOW_S)


@begin.finish
def keep(job: Job, made: None, at: dt.datetime) -> None:
    audit.record(by=None, at=at, verb="counted", subject=job)
    say(f"kept {job.key}")
