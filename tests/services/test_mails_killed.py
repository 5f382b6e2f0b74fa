"""Workers killed in mid-send on PostgreSQL and Redis: nobody gets a mail twice, and nothing is lost unseen."""

import os

import pytest
from django.conf import settings
from django.db import connection
from redis import Redis

from tests import killed_mails, workers
from tests.mail_sink import Sink

pytestmark = pytest.mark.django_db(transaction=True)
KILLS = 50 if os.environ.get("LONG_FAULTS") == "1" else 3


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


def ask(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall()


def test_killed_again_and_again_nothing_is_lost_and_nothing_doubled_for_any_reason(redis, tmp_path):
    at = connection.settings_dict
    with Sink() as sink:
        place = workers.environment(
            DATABASE_URL=f"postgresql://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}",
            REDIS_URL=settings.REDIS_URL,
            VAR_DIR=str(tmp_path),
            EMAIL_URL=f"smtp://127.0.0.1:{sink.server_address[1]}",
        )
        options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
        with killed_mails.House(place, settings.REDIS_URL, options, ask) as house:
            killed_mails.die_again_and_again(house, sink, KILLS)
        sink.released.set()
        sink.shutdown()
