"""Two transactions at once may not both lay a span over the same days."""

import threading

import pytest
from django.db import IntegrityError, connection, connections, transaction

from nursery import triggers

pytestmark = pytest.mark.django_db(transaction=True)
GUARD = triggers.no_overlap("t_together", "tree", "since", "until")


@pytest.fixture
def table(transactional_db):
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE TABLE t_together (id bigserial PRIMARY KEY, tree integer, since date, until date)"
        )
    triggers.install(connection, [GUARD])
    yield
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE t_together")


def insert():
    with connection.cursor() as cursor:
        cursor.execute("INSERT INTO t_together (tree, since, until) VALUES (1, '2026-06-01', NULL)")


def test_the_second_waits_for_the_first_and_is_refused(table):
    outcome = []

    def second():
        try:
            insert()
        except IntegrityError as error:
            outcome.append(str(error))
        finally:
            connections.close_all()

    other = threading.Thread(target=second)
    with transaction.atomic():
        insert()
        other.start()
        other.join(timeout=1)
        assert other.is_alive()  # it waits: nothing is committed yet
    other.join(timeout=20)
    assert len(outcome) == 1
    assert "spans overlap" in outcome[0]
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM t_together")
        assert cursor.fetchone() == (1,)
