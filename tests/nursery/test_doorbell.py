"""The doorbell may fail; the job may not."""

import time

import pytest
from celery import current_app

from nursery import jobs
from nursery.models import Job

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_bell_reaches_the_queue_that_workers_listen_to():
    with current_app.connection_for_read() as connection:
        queue = connection.SimpleQueue(current_app.conf.task_default_queue)
        queue.clear()
        assert jobs.ring(7) is True
        message = queue.get(timeout=5)
        message.ack()
    assert message.headers["task"] == "nursery.tasks.run_job"
    assert message.payload[0] == [7]


def test_a_broker_that_is_away_costs_seconds_and_loses_nothing(monkeypatch):
    dead = "redis://127.0.0.1:1/0"  # port 1 is reserved (RFC 1340: tcpmux); nothing of ours listens there
    with current_app.pool.acquire(block=True):
        pass
    with monkeypatch.context() as patch:
        patch.setattr(jobs, "current_app", app_at(dead))
        started = time.monotonic()
        row = jobs.enqueue("nothing", "a")
        took = time.monotonic() - started
    assert took < 8
    assert Job.objects.get() == row
    assert list(jobs.waiting(row.due_at)) == [row]


def app_at(address):
    app = type(current_app._get_current_object())("away", set_as_current=False)
    app.conf.update(
        broker_url=address, broker_transport_options={"max_retries": 1, "socket_connect_timeout": 2}
    )
    return app
