"""Work after the commit: a row is the truth, the broker's message only a doorbell.

A kind of job has two steps, declared in the tasks.py of its app:

    @job("invoice-file")
    def draw(job: Job, at: datetime) -> bytes: ...        # slow, outside any transaction, may run twice

    @draw.finish
    def keep(job: Job, made: bytes, at: datetime) -> None: ...    # inside one transaction with "done", exactly once

A worker takes a lease on the row by one conditional update. The second step commits together with "done", and only
while the lease is still the worker's own, so a worker that was thought dead and comes back changes nothing.
"""

import datetime as dt
import logging
import uuid
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Any

from celery import current_app
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.module_loading import autodiscover_modules

from nursery import clock
from nursery.models import Job

ATTEMPTS = 8
LEASE = dt.timedelta(minutes=5)
FIRST_WAIT = dt.timedelta(seconds=5)
LONGEST_WAIT = dt.timedelta(minutes=30)
RUNG_AT_ONCE = 200
ERROR_LENGTH = 2000

log = logging.getLogger(__name__)

Prepare = Callable[[Job, dt.datetime], Any]
Finish = Callable[[Job, Any, dt.datetime], None]


class Hopeless(Exception):
    """Raised by a step when trying again cannot help; the job is shown as failed with these words."""


class Outcome(StrEnum):
    """What became of one try."""

    DONE = "done"
    NOT_MINE = "not mine"  # not due, done, failed, or leased by another worker
    FENCED = "fenced"  # the lease was lost meanwhile; nothing was written
    AGAIN = "again"
    FAILED = "failed"


@dataclass
class Kind:
    """A kind of job: its slow step, and the step that commits with "done"."""

    name: str
    prepare: Prepare
    keep: Finish
    attempts: int
    lease: dt.timedelta

    def finish(self, function: Finish) -> Finish:
        """Decorator for the second step."""
        self.keep = function
        return function


_kinds: dict[str, Kind] = {}
_bells = ContextVar("bells", default=True)


def job(name: str, *, attempts: int = ATTEMPTS, lease: dt.timedelta = LEASE) -> Callable[[Prepare], Kind]:
    """Declare a kind of job by its slow step. `lease` is longer than the step ever takes."""

    def declare(function: Prepare) -> Kind:
        if name in _kinds:
            raise ValueError(f"two kinds of job are called {name}")
        _kinds[name] = Kind(name, function, _nothing_more, attempts, lease)
        return _kinds[name]

    return declare


def enqueue(kind: str, key: str, *, due_at: dt.datetime | None = None, **payload: Any) -> Job:
    """Ask for a job once per key, in the caller's transaction; the doorbell rings after the commit."""
    now = clock.now()
    wanted = {"kind": kind, "payload": payload, "created_at": now, "due_at": due_at or now}
    row, made = Job.objects.get_or_create(key=key, defaults=wanted)
    if made and _bells.get():
        transaction.on_commit(partial(ring, row.pk))
    return row


@contextmanager
def without_bells() -> Iterator[None]:
    """For a command that asks for hundreds of jobs at once: no bell rings, the sweep rings for what is due first."""
    token = _bells.set(False)
    try:
        yield
    finally:
        _bells.reset(token)


def ring(job_id: int) -> bool:
    """Tell a worker. A broker that is away loses nothing: the sweep rings again."""
    try:
        current_app.send_task("nursery.tasks.run_job", args=[job_id], retry=False)
    except Exception:
        log.warning(
            "The broker did not take the bell for job %s; the sweep will ring again.", job_id, exc_info=True
        )
        return False
    return True


def waiting(at: dt.datetime, kinds: Collection[str] | None = None) -> QuerySet[Job]:
    """Jobs due at the instant that nobody is working on."""
    free = Q(leased_until=None) | Q(leased_until__lt=at)
    rows = Job.objects.filter(free, done_at=None, failed_at=None, due_at__lte=at)
    return rows if kinds is None else rows.filter(kind__in=kinds)


def failed() -> QuerySet[Job]:
    """Jobs given up, newest first, for a person to look at."""
    return Job.objects.exclude(failed_at=None).order_by("-failed_at")


def reopen(*, job_id: int, at: dt.datetime) -> bool:
    """Try a job again that was given up; a person has removed the cause."""
    cleared = {"failed_at": None, "attempts": 0, "due_at": at, "leased_until": None, "lease": None}
    if not Job.objects.filter(pk=job_id).exclude(failed_at=None).update(**cleared):
        return False
    transaction.on_commit(partial(ring, job_id))
    return True


def sweep() -> int:
    """Ring for everything due and unleased, oldest first; returns how many bells rang."""
    due = waiting(clock.now()).order_by("due_at", "pk").values_list("pk", flat=True)[:RUNG_AT_ONCE]
    rung = 0
    for job_id in due:
        if not ring(job_id):
            break
        rung += 1
    return rung


def drain(
    kinds: Iterable[str] | None = None, *, newest_first: bool = False, limit: int | None = None
) -> dict[Outcome, int]:
    """Run what is waiting in this process, for commands and tests; jobs that such jobs ask for run too."""
    chosen = None if kinds is None else list(kinds)
    order = ("-created_at", "-pk") if newest_first else ("due_at", "pk")
    outcomes: dict[Outcome, int] = {}
    tried = 0
    while limit is None or tried < limit:
        row = waiting(clock.now(), chosen).order_by(*order).first()
        if row is None:
            break
        outcome = run(row.pk)
        outcomes[outcome] = outcomes.get(outcome, 0) + 1
        tried += 1
    return outcomes


def run(job_id: int) -> Outcome:
    """One try at one job."""
    autodiscover_modules("tasks")
    row = _claim(job_id)
    if row is None:
        return Outcome.NOT_MINE
    try:
        kind = _kinds.get(row.kind)
        if kind is None:
            raise Hopeless(f"No kind of job is called {row.kind}.")
        if row.attempts > kind.attempts:
            raise Hopeless(f"Tried {kind.attempts} times; the worker stopped each time. {row.last_error}")
        made = kind.prepare(row, clock.now())
        return _finish(kind, row, made)
    except Exception as error:  # noqa: BLE001 whatever a step does wrong is kept in the row and logged
        return _after_error(row, error)


def _claim(job_id: int) -> Job | None:
    """Take the lease, and count the try now: a try that kills its worker counts too."""
    now = clock.now()
    kind = Job.objects.filter(pk=job_id).values_list("kind", flat=True).first()
    length = _kinds[kind].lease if kind in _kinds else LEASE
    lease = uuid.uuid4()
    with transaction.atomic():
        row = waiting(now).select_for_update(no_key=True).filter(pk=job_id).first()
        if row is None:
            return None
        row.lease, row.leased_until, row.attempts = lease, now + length, row.attempts + 1
        row.save(update_fields=["lease", "leased_until", "attempts"])
    return row


def _finish(kind: Kind, row: Job, made: Any) -> Outcome:
    now = clock.now()
    done = {"done_at": now, "leased_until": None, "last_error": ""}
    with transaction.atomic():
        if not _mine(row).update(**done):
            return Outcome.FENCED
        kind.keep(row, made, now)
    return Outcome.DONE


def _after_error(row: Job, error: Exception) -> Outcome:
    now = clock.now()
    most = _kinds[row.kind].attempts if row.kind in _kinds else 0
    over = isinstance(error, Hopeless) or row.attempts >= most
    after: dict[str, Any] = {
        "last_error": f"{type(error).__name__}: {error}"[:ERROR_LENGTH],
        "leased_until": None,
    }
    after |= {"failed_at": now} if over else {"due_at": now + wait_after(row.attempts)}
    if not _mine(row).update(**after):
        return Outcome.FENCED
    log.error(
        "Job %s: %s (try %s)", row.key, "given up" if over else "again later", row.attempts, exc_info=error
    )
    return Outcome.FAILED if over else Outcome.AGAIN


def wait_after(attempts: int) -> dt.timedelta:
    """How long to wait after the n-th failed try: 5 s, doubling, at most half an hour."""
    doublings = min(max(attempts, 1) - 1, 20)
    return min(FIRST_WAIT * (1 << doublings), LONGEST_WAIT)


def _mine(row: Job) -> QuerySet[Job]:
    return Job.objects.filter(pk=row.pk, lease=row.lease, done_at=None, failed_at=None)


def _nothing_more(job: Job, made: Any, at: dt.datetime) -> None:
    """The second step of a kind that has none."""
