"""Leadership of the beat on PostgreSQL."""

import pytest
from django.db import connection

from nursery.beat import DatabaseLock

pytestmark = pytest.mark.django_db(transaction=True)


def test_one_of_two_leads_and_the_other_takes_over_when_the_session_ends():
    first, second = DatabaseLock(), DatabaseLock()
    assert first.held() is True
    assert second.held() is False
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(%s, 10000)", [first.connection.connection.info.backend_pid]
        )
    assert second.held() is True
    assert first.held() is False
    assert second.held() is True
    second.connection.close()
