"""Fifty people issuing documents at once on PostgreSQL: no number is missing and none is given twice.

Two documents each here; twenty each with LONG_FAULTS=1.
"""

import datetime as dt
import os
import threading
from decimal import Decimal

import pytest
from django.db import connections, transaction

from invoicing.actions.deposits import ask_deposit
from invoicing.models import Invoice
from nursery.models import NumberSeries, Paper
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import a_customer, at

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 50
EACH = 20 if os.environ.get("LONG_FAULTS") == "1" else 2
ON = dt.date(2026, 6, 30)


class ChangedMind(Exception):
    """Something goes wrong after the number was given."""


def issue_some(start, payer, by, failures):
    start.wait()
    try:
        for _ in range(EACH):
            told = {
                "payer": payer,
                "gross": Decimal("12.30"),
                "vat_key": "S",
                "on": ON,
                "at": at(30, 11),
                "by": by,
            }
            try:
                with transaction.atomic():
                    ask_deposit(**told)
                    raise ChangedMind
            except ChangedMind:
                ask_deposit(**told)
    except Exception as failure:
        failures.append(failure)
        raise
    finally:
        connections.close_all()


def test_no_gap_and_no_double():
    r1()
    by, start, failures = PersonFactory(office=True), threading.Barrier(PEOPLE), []
    payers = [a_customer(f"Customer {n}") for n in range(PEOPLE)]
    people = [threading.Thread(target=issue_some, args=(start, payer, by, failures)) for payer in payers]
    for person in people:
        person.start()
    for person in people:
        person.join(timeout=300)
    expected = [f"I-2026-{n:04d}" for n in range(1, PEOPLE * EACH + 1)]
    assert failures == []
    assert sorted(Invoice.objects.values_list("number", flat=True)) == expected
    assert sorted(Paper.objects.values_list("number", flat=True)) == expected
    assert NumberSeries.objects.get(kind="invoice").last == PEOPLE * EACH
