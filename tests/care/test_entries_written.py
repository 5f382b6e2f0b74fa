"""Work written down later, and a doubtful clock given its end: what stands, what waits to be confirmed."""

import uuid

import pytest
from django.core.exceptions import PermissionDenied

from care import querysets
from care.actions import clocks, entries
from care.models import TimeEntry
from care.states import EntryState, entry_state
from nursery.models import AuditRow, Consent
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_care import clocked, jet, labour, scrub, written
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return in_care()


# ---- written later ---------------------------------------------------------------------------------------------------


def test_work_written_the_same_day_stands_and_is_marked(scene):
    entry = written(scene.grower, scene.tree, scrub(), at(4, 7), 47, at(4, 16))
    assert (entry.source, entry.written_why) == ("written", "gloves wet, phone inside")
    assert entry_state(entry) is EntryState.STANDS
    assert labour(scene.tree) == [45]
    assert AuditRow.objects.filter(verb="wrote work down later", reason="gloves wet, phone inside").exists()


@pytest.mark.parametrize(
    ("day", "stands"),
    [(6, True), (7, False)],  # two local days back stands, three do not
)
def test_more_than_two_days_back_the_proprietor_confirms(scene, day, stands):
    entry = written(scene.grower, scene.tree, scrub(), at(4, 7), 47, at(day, 16))
    assert (entry_state(entry) is EntryState.STANDS) is stands
    if not stands:
        assert labour(scene.tree) == []
        with pytest.raises(PermissionDenied):
            entries.confirm_entry(entry=entry, at=at(day, 17), by=PersonFactory(office=True))
        entries.confirm_entry(entry=entry, at=at(day, 17), by=scene.proprietor)
    assert labour(scene.tree) == [45]


def test_what_the_proprietor_writes_needs_nobody_else(scene):
    entry = written(scene.grower, scene.tree, scrub(), at(4, 7), 47, at(20, 16), by=scene.proprietor)
    assert entry_state(entry) is EntryState.STANDS


@pytest.mark.parametrize(
    ("start", "minutes", "code", "field"),
    [
        (at(4, 17), 10, "in-the-future", "started"),
        (at(4, 15, 55), 10, "in-the-future", "stopped"),
        (at(4, 15), -10, "ends-before-start", "stopped"),
        (at(4, 15), 0, "ends-before-start", "stopped"),
    ],
)
def test_no_work_in_the_future_and_none_that_ends_before_it_starts(scene, start, minutes, code, field):
    with pytest.raises(Refused) as refused:
        written(scene.grower, scene.tree, scrub(), start, minutes, at(4, 16))
    assert (refused.value.code, refused.value.field) == (code, field)
    assert not TimeEntry.objects.exists()


def test_a_reason_is_asked_for(scene):
    with pytest.raises(Refused) as refused:
        entries.write_later(
            person=scene.grower,
            tree=scene.tree,
            activity=scrub(),
            started_at=at(4, 7),
            stopped_at=at(4, 8),
            why="  ",
            at=at(4, 16),
            by=scene.grower,
            client_id=uuid.uuid4(),
        )
    assert refused.value.code == "no-reason"


def test_the_same_identifier_is_written_once(scene):
    args = {
        "person": scene.grower,
        "tree": scene.tree,
        "activity": scrub(),
        "started_at": at(4, 7),
        "stopped_at": at(4, 8),
        "why": "phone inside",
        "at": at(4, 16),
        "by": scene.grower,
        "client_id": uuid.uuid4(),
    }
    assert entries.write_later(**args) == entries.write_later(**args)
    assert labour(scene.tree) == [60]


def test_a_grower_writes_only_own_work(scene):
    with pytest.raises(PermissionDenied):
        written(PersonFactory(), scene.tree, scrub(), at(4, 7), 10, at(4, 16), by=scene.grower)
    office = PersonFactory(office=True)
    assert (
        written(scene.grower, scene.tree, scrub(), at(4, 7), 10, at(4, 16), by=office).person == scene.grower
    )


def test_work_beside_other_work_of_the_person_is_to_be_confirmed(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    beside = written(scene.grower, scene.tree, jet(), at(4, 7, 30), 20, at(4, 16))
    assert entry_state(beside) is EntryState.TO_CONFIRM
    assert list(querysets.to_confirm()) == [beside]
    assert sorted(labour(scene.tree)) == [60]
    entries.confirm_entry(entry=beside, at=at(4, 17), by=scene.grower)
    assert sorted(labour(scene.tree)) == [20, 60]


def test_ends_that_meet_do_not_overlap(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    after = written(scene.grower, scene.tree, jet(), at(4, 8), 20, at(4, 16))
    assert entry_state(after) is EntryState.STANDS


def test_what_was_forbidden_is_written_down_all_the_same(scene):
    Consent.objects.create(
        party=scene.owner,
        tree=scene.tree,
        question="jet",
        wording="?",
        answer="no",
        at=at(3),
        taken_by=scene.grower,
    )
    assert entry_state(written(scene.grower, scene.tree, jet(), at(4, 8), 20, at(4, 16))) is EntryState.STANDS


# ---- doubtful clocks -------------------------------------------------------------------------------------------------


def test_a_doubtful_clock_stands_with_a_stated_end_and_keeps_what_was_measured(scene):
    """16:40 to 08:05 next day; last sign of work a look at 17:52: 72 minutes, charged 70."""
    entry = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 15, 40), client_id=uuid.uuid4()
    )
    scene.look(at(4, 16, 52))
    clocks.mark_doubtful(now=at(4, 20))
    clocks.stop_clock(entry=entry, at=at(5, 7, 5), by=scene.grower)
    entry.refresh_from_db()
    assert entries.proposed_end(entry, at(5, 7, 6)) == at(4, 16, 52)
    with pytest.raises(Refused) as refused:
        entries.confirm_entry(entry=entry, at=at(5, 8), by=scene.grower)
    assert refused.value.code == "no-end"
    entries.confirm_entry(entry=entry, stopped_at=at(4, 16, 52), at=at(5, 8), by=scene.grower)
    entry.refresh_from_db()
    assert entry.measured_stopped_at == at(5, 7, 5)
    assert entry_state(entry) is EntryState.STANDS
    assert labour(scene.tree) == [70]


def test_a_clock_that_still_runs_is_ended_by_the_stated_end(scene):
    entry = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 7), client_id=uuid.uuid4()
    )
    clocks.mark_doubtful(now=at(4, 12))
    entries.confirm_entry(entry=entry, stopped_at=at(4, 8), at=at(4, 12), by=scene.grower)
    assert querysets.running_of(scene.grower) is None
    assert labour(scene.tree) == [60]


@pytest.mark.parametrize("end", [at(4, 6), at(4, 13)])
def test_the_stated_end_lies_after_the_start_and_not_in_the_future(scene, end):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 300)
    with pytest.raises(Refused):
        entries.confirm_entry(entry=entry, stopped_at=end, at=at(4, 12), by=scene.grower)
