"""Issuing killed outright between its steps on PostgreSQL: drafts stay drafts, no number is used, no fact twice."""

import pytest
from django.conf import settings
from django.db import connection

from tests import killed_issue, workers

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def place(tmp_path):
    at = connection.settings_dict
    address = f"postgresql://{at['USER']}:{at['PASSWORD']}@{at['HOST']}:{at['PORT']}/{at['NAME']}"
    place = workers.environment(DATABASE_URL=address, REDIS_URL=settings.REDIS_URL, VAR_DIR=str(tmp_path))
    killed_issue.shell(place, killed_issue.LAY)
    return place


def ask(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall()


def test_killed_between_any_two_steps_it_leaves_drafts_and_uses_no_number(place):
    points = killed_issue.points([40, 100], list(range(1, 300)))
    assert killed_issue.die_again_and_again(place, ask, points) >= 2
    assert killed_issue.look(ask) == killed_issue.EXPECTED
