"""Workers killed outright on PostgreSQL and Redis, and a Redis that forgets: every effect happens exactly once."""

import os
import random
from collections import Counter

import pytest
from django.conf import settings
from django.db import connection
from redis import Redis

from nursery import jobs
from nursery.models import AuditRow, Job
from tests import workers

pytestmark = pytest.mark.django_db(transaction=True)
KILLS = 300 if os.environ.get("LONG_FAULTS") == "1" else 4
JOBS = 6 * KILLS


def database_address() -> str:
    at = connection.settings_dict
    return f"postgresql://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}"


@pytest.fixture
def place(tmp_path):
    return workers.environment(
        DATABASE_URL=database_address(), REDIS_URL=settings.REDIS_URL, VAR_DIR=str(tmp_path)
    )


@pytest.fixture
def redis():
    """The broker, without anything of ours in it before and after; other keys of the server stay."""
    client = Redis.from_url(settings.REDIS_URL)
    forget(client)
    yield client
    forget(client)
    client.close()


def forget(client):
    for key in client.scan_iter("heelin:*"):
        client.delete(key)


def counted():
    return Counter(AuditRow.objects.filter(verb="counted").values_list("subject_words", flat=True))


def work_until_done(worker):
    """Ring again for what is due and unleased, as the beat does, until every job still open was kept."""
    worker.read_until("kept", times=Job.objects.filter(done_at=None).count(), meanwhile=jobs.sweep)
    worker.stop()


def test_a_worker_killed_again_and_again_does_everything_exactly_once(place, redis):
    keys = [f"job {n}" for n in range(JOBS)]
    for key in keys:
        jobs.enqueue("count", key)
    dice = random.Random(20260626)
    for _ in range(KILLS):
        worker = workers.Worker(place)
        worker.read_until(dice.choice(["begun", "kept"]), times=dice.randint(1, 4), meanwhile=jobs.sweep)
        worker.kill()
    work_until_done(workers.Worker(place))
    assert counted() == dict.fromkeys(keys, 1)
    assert Job.objects.filter(failed_at=None).exclude(done_at=None).count() == JOBS


def test_a_redis_that_forgot_everything_loses_no_job(place, redis):
    for n in range(5):
        jobs.enqueue("count", f"job {n}")
    assert redis.llen("heelin:heelin") == 5
    forget(redis)
    work_until_done(workers.Worker(place))
    assert counted() == {"job 0": 1, "job 1": 1, "job 2": 1, "job 3": 1, "job 4": 1}


def test_a_bell_rung_twice_does_the_work_once(place, redis):
    job = jobs.enqueue("count", "job 1")
    for _ in range(5):
        jobs.ring(job.pk)
    worker = workers.Worker(place)
    worker.read_until("kept")
    worker.stop()
    assert counted() == {"job 1": 1}
