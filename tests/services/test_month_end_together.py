"""A month end issues while somebody throws its draft away or draws it up again: each waits for the other."""

import datetime as dt
import threading

import pytest
from django.db import connection

from invoicing.actions import drafts, month_end
from invoicing.models import Invoice, MonthEndBill
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, at
from tests.services.test_issue_together import together

pytestmark = pytest.mark.django_db(transaction=True)
JUNE_30, THEN = dt.date(2026, 6, 30), at(30, 21)
WAITING = "SELECT count(*) FROM pg_locks WHERE NOT granted"


@pytest.fixture
def office():
    return PersonFactory(office=True)


@pytest.fixture
def bill(office):
    """One bill of a month end, chosen and about to be issued."""
    StayFactory(owner=a_customer())
    run = month_end.begin(closing_on=JUNE_30, at=THEN, by=office)
    month_end.draw_all(run_pk=run.pk, at=THEN)
    month_end.drawn_up(run_pk=run.pk, at=THEN)
    one = MonthEndBill.objects.get()
    month_end.ask_to_issue(run=run, seen={one.pk: one.fingerprint}, on=JUNE_30, at=THEN, by=office)
    return one


@pytest.fixture
def in_hand(monkeypatch):
    """Set while the bill is being issued, which goes on once another connection waits for it."""
    held, inner, pause = threading.Event(), month_end._issued, threading.Event()

    def issued(*told):
        held.set()
        with connection.cursor() as cursor:
            for _ in range(100):
                cursor.execute(WAITING)
                if cursor.fetchone()[0]:
                    break
                pause.wait(0.02)
        return inner(*told)

    monkeypatch.setattr(month_end, "_issued", issued)
    return held


def test_a_draft_is_not_thrown_away_while_it_is_issued(bill, office, in_hand):
    def discard():
        in_hand.wait()
        drafts.discard(invoice=bill.invoice, at=THEN, by=office)

    assert together(lambda: month_end.issue_one(bill_pk=bill.pk, at=THEN), discard) == [None, "issued"]
    assert Invoice.objects.get().number == "I-2026-0001"


def test_a_run_stopped_and_drawn_again_leaves_the_bill_in_hand(bill, office, in_hand):
    def again():
        in_hand.wait()
        month_end.stop(run=bill.run, at=THEN, by=office)
        month_end.draw_again(run=bill.run, at=THEN, by=office)
        month_end.draw_all(run_pk=bill.run_id, at=THEN)

    assert together(lambda: month_end.issue_one(bill_pk=bill.pk, at=THEN), again) == [None, None]
    assert MonthEndBill.objects.get().number == "I-2026-0001"
