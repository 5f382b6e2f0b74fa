"""Work set right: corrected, cut, given to another tree, struck out."""

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction

from care import querysets
from care.actions import clocks, entries
from care.models import LedgerEntry, Pause, TimeEntry
from care.states import EntryState, entry_state
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import TreeFactory
from tests.factories_care import clocked, jet, labour, other_tree, scrub, written
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return in_care()


def test_a_correction_keeps_the_measured_instants(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 95)
    entries.correct_entry(
        entry=entry, started_at=at(4, 7), stopped_at=at(4, 8), why="phone call", at=at(4, 12), by=scene.grower
    )
    entry.refresh_from_db()
    assert (entry.stopped_at, entry.measured_stopped_at) == (at(4, 8), at(4, 8, 35))
    assert labour(scene.tree) == [60]
    trail = AuditRow.objects.get(verb="corrected work")
    assert (trail.reason, trail.before["stopped_at"]) == ("phone call", "2026-06-04T08:35:00Z")


def test_the_database_keeps_what_was_measured(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 95)
    with pytest.raises(IntegrityError), transaction.atomic():
        TimeEntry.objects.filter(pk=entry.pk).update(measured_stopped_at=at(4, 8))


def test_a_correction_to_another_day_and_work_moves_the_minutes(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    entries.correct_entry(
        entry=entry,
        started_at=at(5, 7),
        stopped_at=at(5, 7, 30),
        why="wrong day",
        activity=jet(),
        at=at(5, 12),
        by=scene.grower,
    )
    assert labour(scene.tree) == []
    assert labour(scene.tree, dt.date(2026, 6, 5)) == [30]
    assert LedgerEntry.objects.get(kind="wash").quantity == 0


def test_a_correction_into_other_work_is_to_be_confirmed(scene):
    clocked(scene.grower, scene.tree, jet(), at(4, 6), 30)
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    entries.correct_entry(
        entry=entry,
        started_at=at(4, 6, 10),
        stopped_at=at(4, 8),
        why="began earlier",
        at=at(4, 12),
        by=scene.grower,
    )
    entry.refresh_from_db()
    assert entry_state(entry) is EntryState.TO_CONFIRM


def test_47_minutes_cut_in_12_and_35_on_another_tree(scene):
    tree = other_tree()
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    first, second = entries.cut_entry(
        entry=entry, cut_at=at(4, 7, 12), tree=tree, why="went over to the pine", at=at(4, 9), by=scene.grower
    )
    assert (querysets.seconds_of(first), querysets.seconds_of(second)) == (12 * 60, 35 * 60)
    assert (labour(scene.tree), labour(tree)) == ([10], [35])
    assert first.measured_stopped_at == second.measured_stopped_at == at(4, 7, 47)
    assert AuditRow.objects.filter(verb__in=["cut work in two", "cut from other work"]).count() == 2


def test_pauses_go_with_the_part_they_lie_in(scene):
    entry = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 7), client_id=uuid.uuid4()
    )
    for start, end in ((10, 15), (28, 34), (50, 55)):
        clocks.pause_clock(entry=entry, at=at(4, 7, start), by=scene.grower)
        clocks.resume_clock(entry=entry, at=at(4, 7, end), by=scene.grower)
    entry = clocks.stop_clock(entry=entry, at=at(4, 8), by=scene.grower)
    first, second = entries.cut_entry(
        entry=entry, cut_at=at(4, 7, 30), activity=jet(), why="changed over", at=at(4, 9), by=scene.grower
    )
    # 30 - 5 - 2 and 30 - 4 - 5
    assert (querysets.seconds_of(first), querysets.seconds_of(second)) == (23 * 60, 21 * 60)
    assert Pause.objects.filter(entry=second).count() == 2


@pytest.mark.parametrize("cut", [at(4, 7), at(4, 7, 47), at(4, 9)])
def test_a_cut_lies_within_the_work(scene, cut):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    with pytest.raises(Refused) as refused:
        entries.cut_entry(entry=entry, cut_at=cut, why="?", at=at(4, 10), by=scene.grower)
    assert refused.value.field == "cut"


def test_work_on_the_wrong_tree_goes_to_the_right_one_and_both_histories_say_so(scene):
    tree = other_tree()
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    entries.reassign_entry(entry=entry, tree=tree, why="read the wrong tag", at=at(4, 9), by=scene.grower)
    assert (labour(scene.tree), labour(tree)) == ([], [45])
    assert AuditRow.objects.filter(
        subject_type="nursery.tree", subject_id=str(scene.tree.pk), verb__contains="went"
    ).exists()
    assert AuditRow.objects.filter(
        subject_type="nursery.tree", subject_id=str(tree.pk), verb__contains="came"
    ).exists()


def test_no_work_is_written_for_a_day_before_the_tree_came(scene):
    """It is a customer's tree, not the nursery's own stock, although nobody owned it here that day."""
    scene.tree.ownerships.update(since_on=dt.date(2026, 6, 3))  # written down on the day it came
    with pytest.raises(Refused, match="was not known here on that day") as refused:
        written(scene.grower, scene.tree, scrub(), at(2, 7), 60, at=at(4, 9))
    assert (refused.value.code, refused.value.field) == ("not-here", "tree")
    assert not TimeEntry.objects.exists()


def test_work_goes_to_no_tree_that_was_not_here(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    with pytest.raises(Refused) as refused:
        entries.reassign_entry(entry=entry, tree=TreeFactory(), why="?", at=at(4, 9), by=scene.grower)
    assert refused.value.code == "not-here"


def test_struck_out_work_stays_and_is_not_charged(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    entries.strike_out(entry=entry, why="was at lunch", at=at(4, 9), by=scene.grower)
    entry.refresh_from_db()
    assert entry_state(entry) is EntryState.STRUCK_OUT
    assert labour(scene.tree) == []
    with pytest.raises(Refused):
        entries.strike_out(entry=entry, why="again", at=at(4, 10), by=scene.grower)
    with pytest.raises(IntegrityError), transaction.atomic():
        entry.delete()


def test_a_running_clock_can_be_struck_out(scene):
    entry = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 7), client_id=uuid.uuid4()
    )
    entries.strike_out(entry=entry, why="pressed by a drop", at=at(4, 7, 1), by=scene.grower)
    assert querysets.running_of(scene.grower) is None
    assert labour(scene.tree) == []
