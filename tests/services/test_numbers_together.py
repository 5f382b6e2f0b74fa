"""Numbers given by several at once: each its own, none missing, and one given back by a rollback is used next."""

import datetime as dt
import threading

import pytest
from django.db import connections, transaction

from nursery import numbers

pytestmark = pytest.mark.django_db(transaction=True)
DAY = dt.date(2026, 6, 30)
PEOPLE = 6
EACH = 20


class ChangedMind(Exception):
    """Something goes wrong after the number was given."""


def take(start, given):
    start.wait()
    for n in range(EACH):
        try:
            with transaction.atomic():
                number = numbers.next_number("invoice", DAY)
                if n % 5 == 4:
                    raise ChangedMind
        except ChangedMind:
            continue
        given.append(number)
    connections.close_all()


def test_numbers_are_without_gap_and_without_double():
    start, given = threading.Barrier(PEOPLE), []
    people = [threading.Thread(target=take, args=(start, given)) for _ in range(PEOPLE)]
    for person in people:
        person.start()
    for person in people:
        person.join(timeout=60)
    assert sorted(given) == [f"I-2026-{n:04d}" for n in range(1, 97)]
