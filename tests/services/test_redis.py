"""The doorbell through a real Redis."""

import pytest
from celery import current_app
from django.conf import settings
from kombu import Connection

from nursery import jobs

QUEUE = "heelin-test"


@pytest.fixture
def connection():
    with Connection(
        settings.REDIS_URL, transport_options=settings.CELERY_BROKER_TRANSPORT_OPTIONS
    ) as connection:
        connection.SimpleQueue(QUEUE).clear()
        yield connection
        connection.SimpleQueue(QUEUE).clear()


def test_a_message_not_acknowledged_comes_back(connection):
    connection.SimpleQueue(QUEUE).put({"job": 1})
    taken = connection.SimpleQueue(QUEUE).get(timeout=5)
    taken.requeue()
    again = connection.SimpleQueue(QUEUE).get(timeout=5)
    again.ack()
    assert again.payload == {"job": 1}


def test_the_bell_reaches_redis(connection):
    queue = connection.SimpleQueue(current_app.conf.task_default_queue)
    queue.clear()
    assert jobs.ring(12) is True
    message = queue.get(timeout=5)
    message.ack()
    assert (message.headers["task"], message.payload[0]) == ("nursery.tasks.run_job", [12])


def test_messages_in_flight_come_back_within_seconds_and_tasks_have_an_hour():
    options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
    assert (options["unacked_restore_interval"], options["unacked_restore_throttle"]) == (5, 1)
    assert options["visibility_timeout"] == 3600
