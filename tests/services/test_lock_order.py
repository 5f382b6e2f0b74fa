"""Locks are taken in one order, visit, tree, stay, report, so that two people at one tree wait and never deadlock."""

import datetime as dt
import threading
import time
import uuid
from contextlib import contextmanager

import pytest
from django.db import connection, connections, transaction

from boarding.actions import reports, steps, visits
from boarding.actions.standings import hold_unit, suspect_notifiable
from boarding.models import Hold, Stay, Visit
from boarding.states import StayState
from care.actions.clocks import start_clock
from care.models import TimeEntry
from nursery.models import Tree
from nursery.refusals import Refused
from tests.factories import NOON, BenchFactory, PersonFactory
from tests.factories_boarding import a_stay, a_visit, stay_in
from tests.factories_care import scrub

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE_S = 20
LATER = NOON + dt.timedelta(hours=1)


@contextmanager
def waiting_for(model, pk, work):
    """Within, somebody at this work waits for the row that we hold."""
    done = threading.Event()

    def run():
        try:
            with transaction.atomic():
                work()
        finally:
            connections.close_all()
            done.set()

    thread = threading.Thread(target=run)
    with transaction.atomic():
        model.objects.select_for_update().get(pk=pk)
        thread.start()
        until = time.monotonic() + PATIENCE_S
        while not _somebody_waits():
            assert not done.is_set(), "the work did not ask for the row"
            assert time.monotonic() < until
        yield
    thread.join(timeout=PATIENCE_S)


def _somebody_waits() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT EXISTS (SELECT 1 FROM pg_locks l JOIN pg_stat_activity a USING (pid)"
            " WHERE NOT l.granted AND a.datname = current_database())"
        )
        return bool(cursor.fetchone()[0])


@pytest.fixture
def stay():
    return a_visit(by=PersonFactory()).stays.get()


def test_a_step_of_a_stay_waits_for_the_tree_before_it_holds_the_stay(stay):
    with waiting_for(Tree, stay.tree_id, lambda: steps.locked(stay)):
        assert Stay.objects.select_for_update(nowait=True).get(pk=stay.pk) == stay


def test_taking_a_tree_off_the_list_waits_for_the_visit_first(stay):
    by = PersonFactory()

    def drop():
        visits.drop_from_visit(stay=stay, why="Too big", at=NOON, by=by)

    with waiting_for(Visit, stay.visit_id, drop):
        assert Stay.objects.select_for_update(nowait=True).get(pk=stay.pk) == stay


def test_writing_a_report_asks_for_the_report_alone(stay):
    by = PersonFactory()
    report = reports.begin_report(stay=stay, kind="check_in", at=NOON, by=by)

    def write():
        reports.write_report(report=report, fields={}, parts={}, at=NOON, by=by)

    written = threading.Thread(target=lambda: (write(), connections.close_all()))
    with transaction.atomic():
        Tree.objects.select_for_update().get(pk=stay.tree_id)
        Stay.objects.select_for_update().get(pk=stay.pk)
        written.start()
        written.join(timeout=PATIENCE_S)
        assert not written.is_alive()


def test_two_suspicions_in_one_area_hold_their_trees_in_one_order():
    by, bench = PersonFactory(), BenchFactory(area_m2=9)
    first, second = (a_stay(by=by, bench=bench).tree for _ in range(2))
    for tree in (first, second):
        suspect_notifiable(tree=tree, reason="Exit holes at the foot", at=LATER, by=by)
    with waiting_for(Tree, first.pk, lambda: hold_unit(tree=second, at=LATER, by=by)):
        assert Tree.objects.select_for_update(nowait=True).get(pk=second.pk) == second
    assert Hold.objects.filter(tree=first).count() == 2


def test_a_clock_waits_for_a_tree_that_is_just_leaving():
    """Else its minutes would belong to a stay that has ended."""
    by = PersonFactory(proprietor=True)
    stay = stay_in(StayState.READY, by=by)
    left, activity = NOON + dt.timedelta(hours=6), scrub()
    refused = []

    def start():
        try:
            start_clock(person=by, tree=stay.tree, activity=activity, at=left, client_id=uuid.uuid4())
        except Refused as told:
            refused.append(told.code)

    with waiting_for(Tree, stay.tree_id, start):
        Stay.objects.filter(pk=stay.pk).update(state="handed_back", left_at=left)
    assert refused == ["not-here"]
    assert not TimeEntry.objects.exists()
