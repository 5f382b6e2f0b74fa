"""The clock: start, stop, switch, pause, take back, doubt."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from boarding.models import Stay
from care import querysets
from care.actions import clocks
from care.models import LedgerEntry, TimeEntry
from care.states import EntryState, entry_state
from nursery.models import AuditRow, Consent, Nursery
from nursery.refusals import Refused
from tests.factories import PersonFactory, TreeFactory
from tests.factories_care import clocked, inspect, jet, scrub, water
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
SECOND = dt.timedelta(seconds=1)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def start(scene: Scene, when: dt.datetime, **more: object) -> TimeEntry:
    given = {
        "person": scene.grower,
        "tree": scene.tree,
        "activity": scrub(),
        "at": when,
        "client_id": uuid.uuid4(),
    }
    return clocks.start_clock(**(given | more))  # type: ignore[arg-type]


def test_a_clock_runs_on_the_stay_with_its_measured_start(scene):
    entry = start(scene, at(4, 6, 30))
    assert (entry.stay, entry.started_at, entry.measured_started_at) == (
        scene.stay,
        at(4, 6, 30),
        at(4, 6, 30),
    )
    assert entry_state(entry) is EntryState.RUNNING
    assert AuditRow.objects.filter(verb="started the clock", by=scene.grower).count() == 1
    assert not LedgerEntry.objects.exists()


def test_the_same_identifier_twice_is_stored_once(scene):
    key = uuid.uuid4()
    first = start(scene, at(4, 6, 30), client_id=key)
    again = start(scene, at(4, 6, 31), client_id=key)
    assert again == first
    assert TimeEntry.objects.get().started_at == at(4, 6, 30)


def test_an_identifier_of_somebody_else_is_refused(scene):
    key = uuid.uuid4()
    start(scene, at(4, 6, 30), client_id=key)
    with pytest.raises(Refused) as refused:
        start(scene, at(4, 6, 30), client_id=key, person=scene.proprietor)
    assert refused.value.code == "used-elsewhere"


def test_a_second_start_is_refused_while_a_clock_runs(scene):
    start(scene, at(4, 6, 30))
    with pytest.raises(Refused) as refused:
        start(scene, at(4, 6, 40), activity=jet())
    assert refused.value.code == "clock-runs"


def test_no_clock_starts_on_a_tree_that_left_earlier_that_day(scene):
    Stay.objects.filter(pk=scene.stay.pk).update(state="handed_back", left_at=at(4, 14))
    with pytest.raises(Refused, match="left at 15:00: write work that was done before with its time"):
        start(scene, at(4, 14, 5))


def test_the_database_holds_one_running_clock_per_person(scene):
    entry = start(scene, at(4, 6, 30))
    entry.pk, entry.client_id = None, uuid.uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        entry.save(force_insert=True)


def test_two_people_work_on_one_tree(scene):
    other = PersonFactory()
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 50)
    clocked(other, scene.tree, scrub(), at(4, 7), 50)
    # person-minutes: each of the two worked 50
    assert LedgerEntry.objects.get(kind="labour").quantity == 100


def test_switching_stops_the_first_at_the_same_second(scene):
    first = start(scene, at(4, 6, 30))
    second = clocks.switch_clock(
        person=scene.grower, tree=scene.tree, activity=jet(), at=at(4, 8, 7), client_id=uuid.uuid4()
    )
    first.refresh_from_db()
    assert first.stopped_at == second.started_at == at(4, 8, 7)
    assert querysets.running_of(scene.grower) == second
    assert not querysets.overlapping(second, at(4, 9)).exists()


def test_a_switch_sent_twice_changes_nothing_the_second_time(scene):
    start(scene, at(4, 6, 30))
    key = uuid.uuid4()
    args = {"person": scene.grower, "tree": scene.tree, "activity": jet(), "client_id": key}
    second = clocks.switch_clock(at=at(4, 8), **args)
    assert clocks.switch_clock(at=at(4, 8, 1), **args) == second
    assert second.stopped_at is None
    assert TimeEntry.objects.count() == 2


def test_the_clock_changes_in_october_and_march(scene):
    """25 October 2026 00:40 to 02:20 in Dublin is 160 minutes, 29 March 2026 is 40 (IANA database)."""
    own = TreeFactory(owner__party=None)
    # Dublin summer time is UTC+1 until 25 October 01:00 UTC
    october = clocked(scene.grower, own, scrub(), dt.datetime(2026, 10, 24, 23, 40, tzinfo=dt.UTC), 160)
    assert october.stopped_at == dt.datetime(2026, 10, 25, 2, 20, tzinfo=dt.UTC)
    assert querysets.seconds_of(october) == 160 * 60
    # winter time is UTC until 29 March 01:00 UTC; 02:20 summer time is 01:20 UTC
    march = clocked(scene.grower, own, scrub(), dt.datetime(2026, 3, 29, 0, 40, tzinfo=dt.UTC), 40)
    assert march.stopped_at == dt.datetime(2026, 3, 29, 1, 20, tzinfo=dt.UTC)
    assert querysets.seconds_of(march) == 40 * 60


def test_a_pause_is_not_counted(scene):
    entry = start(scene, at(4, 7, 30))
    clocks.pause_clock(entry=entry, at=at(4, 8, 10), by=scene.grower)
    assert entry_state(querysets.running_of(scene.grower), paused=True) is EntryState.PAUSED
    clocks.resume_clock(entry=entry, at=at(4, 8, 22), by=scene.grower)
    clocks.stop_clock(entry=entry, at=at(4, 9, 19), by=scene.grower)
    entry.refresh_from_db()
    assert querysets.seconds_of(entry) == 97 * 60
    assert LedgerEntry.objects.get(kind="labour").quantity == 95


@pytest.mark.parametrize("verb", ["pause_clock", "resume_clock"])
def test_pause_and_going_on_need_the_other_state(scene, verb):
    entry = start(scene, at(4, 7, 30))
    if verb == "pause_clock":
        clocks.pause_clock(entry=entry, at=at(4, 7, 40), by=scene.grower)
    with pytest.raises(Refused):
        getattr(clocks, verb)(entry=entry, at=at(4, 7, 41), by=scene.grower)


def test_a_clock_stopped_while_paused_ends_with_the_pause(scene):
    entry = start(scene, at(4, 7, 30))
    clocks.pause_clock(entry=entry, at=at(4, 8, 0), by=scene.grower)
    clocks.stop_clock(entry=entry, at=at(4, 8, 30), by=scene.grower)
    entry.refresh_from_db()
    assert querysets.seconds_of(entry) == 30 * 60


def test_a_stop_is_taken_back_within_ten_seconds(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    assert LedgerEntry.objects.get(kind="labour").quantity == 60
    clocks.take_back_stop(entry=entry, at=at(4, 8) + 10 * SECOND, by=scene.grower)
    entry.refresh_from_db()
    assert entry_state(entry) is EntryState.RUNNING
    assert LedgerEntry.objects.get(kind="labour").quantity == 0
    clocks.stop_clock(entry=entry, at=at(4, 8, 30), by=scene.grower)
    assert LedgerEntry.objects.get(kind="labour").quantity == 90


def test_a_stop_taken_back_leaves_the_pause_open(scene):
    entry = start(scene, at(4, 7))
    clocks.pause_clock(entry=entry, at=at(4, 7, 30), by=scene.grower)
    clocks.stop_clock(entry=entry, at=at(4, 7, 40), by=scene.grower)
    clocks.take_back_stop(entry=entry, at=at(4, 7, 40) + SECOND, by=scene.grower)
    assert querysets.running_of(scene.grower).paused


def test_a_stop_is_not_taken_back_later_or_beside_another_clock(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    with pytest.raises(Refused) as late:
        clocks.take_back_stop(entry=entry, at=at(4, 8) + 11 * SECOND, by=scene.grower)
    assert late.value.code == "too-late"
    start(scene, at(4, 8) + SECOND, activity=jet())
    with pytest.raises(Refused) as beside:
        clocks.take_back_stop(entry=entry, at=at(4, 8) + 2 * SECOND, by=scene.grower)
    assert beside.value.code == "clock-runs"


def test_a_stopped_clock_is_not_stopped_again(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    with pytest.raises(Refused) as refused:
        clocks.stop_clock(entry=entry, at=at(4, 9), by=scene.grower)
    assert refused.value.code == "not-running"
    assert "09:00" in refused.value.sentence  # 08:00 UTC on the nursery's wall


def test_no_clock_ends_before_it_starts(scene):
    entry = start(scene, at(4, 7))
    with pytest.raises(Refused) as refused:
        clocks.stop_clock(entry=entry, at=at(4, 6, 59), by=scene.grower)
    assert refused.value.code == "ends-before-start"


def test_somebody_elses_clock_is_not_touched_by_a_grower(scene):
    entry = start(scene, at(4, 7))
    with pytest.raises(PermissionDenied):
        clocks.stop_clock(entry=entry, at=at(4, 8), by=PersonFactory())
    assert clocks.stop_clock(entry=entry, at=at(4, 8), by=PersonFactory(office=True)).stopped_at == at(4, 8)


# ---- doubt -------------------------------------------------------------------------------------------------------


def test_a_clock_left_running_overnight_becomes_doubtful_and_is_never_billed_by_itself(scene):
    """16:40 to 08:05 the next day would be 925 minutes."""
    entry = start(scene, at(4, 15, 40))
    assert clocks.mark_doubtful(now=at(4, 16, 59)) == 0
    assert clocks.mark_doubtful(now=at(4, 17, 0)) == 1
    assert clocks.mark_doubtful(now=at(4, 17, 5)) == 0
    clocks.stop_clock(entry=entry, at=at(5, 7, 5), by=scene.grower)
    entry.refresh_from_db()
    assert (entry.doubtful_at, entry.confirmed_at) == (at(4, 17, 0), None)
    assert list(querysets.to_confirm()) == [entry]
    assert not LedgerEntry.objects.exists()
    assert AuditRow.objects.filter(verb="marked a clock as doubtful", by=None).count() == 1


def test_a_clock_stopped_after_the_limit_is_doubtful_without_the_sweep(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 4 * 60)
    assert entry.doubtful_at == at(4, 11)
    assert not LedgerEntry.objects.exists()


def test_a_sign_of_work_keeps_a_clock_believed(scene):
    entry = start(scene, at(4, 7))
    scene.look(at(4, 10, 30))
    clocks.stop_clock(entry=entry, at=at(4, 12), by=scene.grower)
    entry.refresh_from_db()
    assert entry.doubtful_at is None
    assert LedgerEntry.objects.get(kind="labour").quantity == 300


def test_the_limits_are_settings(scene):
    Nursery.objects.update(doubtful_after_hours=8, closes_at=dt.time(20, 0))
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 9), 7 * 60)
    assert entry.doubtful_at is None


# ---- where no clock starts ---------------------------------------------------------------------------------------


def test_a_customers_tree_that_is_not_here_has_no_clock(scene):
    elsewhere = TreeFactory()
    with pytest.raises(Refused) as refused:
        start(scene, at(4, 7), tree=elsewhere)
    assert (refused.value.code, refused.value.field) == ("not-here", "tree")


def test_own_trees_have_clocks_and_no_ledger(scene):
    own = TreeFactory(owner__party=None)
    entry = clocked(scene.grower, own, scrub(), at(4, 7), 60)
    assert entry.stay is None
    assert not LedgerEntry.objects.exists()


def test_what_the_customer_forbade_is_not_begun(scene):
    Consent.objects.create(
        party=scene.owner,
        tree=scene.tree,
        question="jet",
        wording="?",
        answer="no",
        at=at(3),
        taken_by=scene.grower,
    )
    with pytest.raises(Refused) as refused:
        start(scene, at(4, 7), activity=jet())
    assert refused.value.code == "means-refused"
    Consent.objects.create(
        party=scene.owner,
        tree=scene.tree,
        question="jet",
        wording="?",
        answer="yes",
        at=at(4),
        taken_by=scene.grower,
    )
    assert start(scene, at(4, 9), activity=jet()).activity.code == "jet"


def test_retired_work_is_not_begun(scene):
    activity = inspect()
    activity.retired_on = dt.date(2026, 6, 4)
    activity.save(update_fields=["retired_on"])
    with pytest.raises(Refused) as refused:
        start(scene, at(4, 7), activity=activity)
    assert refused.value.code == "retired"


def test_work_that_is_not_charged_makes_no_ledger(scene):
    clocked(scene.grower, scene.tree, water(), at(4, 7), 30)
    assert not LedgerEntry.objects.exists()
