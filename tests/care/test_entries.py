"""Work written later, confirmed, corrected, cut, given to another tree, not charged, struck out."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from boarding.models import Stay
from care import querysets
from care.actions import clocks, entries, ledger
from care.models import LedgerEntry, Pause, TimeEntry
from care.states import EntryState, entry_state
from nursery.models import AuditRow, Consent, Tree
from nursery.refusals import Refused
from tests.factories import PersonFactory, TreeFactory
from tests.factories_care import clocked, inspect, jet, scrub, water, written
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return in_care()


def other_tree() -> Tree:
    """A second customer's tree in care since 3 June."""
    tree = TreeFactory()
    owner = tree.ownerships.get().party
    Stay.objects.create(tree=tree, owner=owner, payer=owner, state="in_care", size_class=3, received_at=at(3))
    return tree


def labour(tree: Tree, day: dt.date = dt.date(2026, 6, 4)) -> list[int]:
    """The minutes in the ledger for a tree and day, zeros left out."""
    rows = LedgerEntry.objects.filter(tree=tree, day=day, kind="labour").exclude(quantity=0)
    return [int(row.quantity) for row in rows.order_by("pk")]


def lock(number: str = "I-2026-0047") -> None:
    """Bill everything that is in the ledger."""
    ledger.lock_entries(entries=LedgerEntry.objects.filter(lock=""), number=number)


# ---- written later -----------------------------------------------------------------------------------------------


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


# ---- doubtful clocks ---------------------------------------------------------------------------------------------


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


# ---- set right ---------------------------------------------------------------------------------------------------


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


# ---- not charged -------------------------------------------------------------------------------------------------


def test_minutes_not_charged_are_a_row_of_their_own(scene):
    """97 minutes are charged 95, and 20 of them not: a new grower was being shown."""
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    entries.not_charge(
        entry=entry, minutes=20, why="instruction of a new grower", at=at(4, 16), by=scene.proprietor
    )
    rows = {
        row.kind: (row.quantity, row.unit, row.reason) for row in LedgerEntry.objects.exclude(kind="wash")
    }
    assert rows == {"labour": (95, "min", ""), "not_charged": (20, "min", "instruction of a new grower")}


def test_never_more_is_not_charged_than_is_charged(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    entries.not_charge(entry=entry, minutes=97, why="all of it", at=at(4, 16), by=scene.proprietor)
    assert LedgerEntry.objects.get(kind="not_charged").quantity == 95
    entries.not_charge(entry=entry, minutes=0, why="charged after all", at=at(4, 17), by=scene.proprietor)
    assert LedgerEntry.objects.get(kind="not_charged").quantity == 0


@pytest.mark.parametrize("minutes", [-1, 98])
def test_not_more_than_its_length(scene, minutes):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    with pytest.raises(Refused) as refused:
        entries.not_charge(entry=entry, minutes=minutes, why="?", at=at(4, 16), by=scene.proprietor)
    assert refused.value.field == "minutes"


def test_a_grower_gives_nothing_away(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    with pytest.raises(PermissionDenied):
        entries.not_charge(entry=entry, minutes=20, why="?", at=at(4, 16), by=scene.grower)


def test_minutes_not_charged_are_never_taken_from_other_work(scene):
    """20 minutes, none charged, turn out to be 5: the 10 of somebody else that day are charged."""
    shown, own = (
        clocked(person, scene.tree, inspect(), start, minutes)
        for person, start, minutes in ((scene.grower, at(4, 7), 20), (scene.proprietor, at(4, 9), 10))
    )
    entries.not_charge(entry=shown, minutes=20, why="shown", at=at(4, 10), by=scene.proprietor)
    told = {"why": "pressed late", "at": at(4, 11), "by": scene.proprietor}
    entries.correct_entry(entry=shown, started_at=at(4, 7), stopped_at=at(4, 7, 5), **told)
    rows = dict(LedgerEntry.objects.values_list("kind", "quantity"))
    assert rows == {"labour": 15, "not_charged": 5}


def test_minutes_not_charged_stay_so_when_the_work_is_cut(scene):
    """20 of 47 minutes: the first part is charged as 10, which it keeps; the rest goes with the second."""
    entry = clocked(scene.grower, scene.tree, inspect(), at(4, 7), 47)
    entries.not_charge(entry=entry, minutes=20, why="shown", at=at(4, 10), by=scene.proprietor)
    told = {"why": "two kinds", "at": at(4, 11), "by": scene.proprietor, "activity": jet()}
    entries.cut_entry(entry=entry, cut_at=at(4, 7, 12), **told)
    rows = LedgerEntry.objects.order_by("pk").values_list("kind", "activity__code", "quantity", "reason")
    assert set(rows) == {
        ("labour", "inspect", 10, ""),
        ("not_charged", "inspect", 10, "shown"),
        ("labour", "jet", 35, ""),
        ("not_charged", "jet", 10, "shown"),
    }


def test_a_short_look_may_be_left_uncharged_wholly(scene):
    """Two minutes are charged as five, so five may be left out."""
    entry = clocked(scene.grower, scene.tree, inspect(), at(4, 7), 2)
    entries.not_charge(entry=entry, minutes=5, why="goodwill", at=at(4, 10), by=scene.proprietor)
    assert dict(LedgerEntry.objects.values_list("kind", "quantity")) == {"labour": 5, "not_charged": 5}
    with pytest.raises(Refused, match="from 0 to 5"):
        entries.not_charge(entry=entry, minutes=6, why="goodwill", at=at(4, 10), by=scene.proprietor)


def test_work_is_cut_again_at_the_same_time(scene):
    entry = clocked(scene.grower, scene.tree, inspect(), at(4, 7), 47)
    told = {"why": "two trees", "at": at(4, 12), "by": scene.proprietor}
    first, second = entries.cut_entry(entry=entry, cut_at=at(4, 7, 12), **told)
    entries.strike_out(entry=second, **told)
    entries.correct_entry(entry=first, started_at=at(4, 7), stopped_at=at(4, 7, 30), **told)
    _, again = entries.cut_entry(entry=first, cut_at=at(4, 7, 12), **told)
    assert (again.started_at, again.stopped_at) == (at(4, 7, 12), at(4, 7, 30))


def test_minutes_not_charged_go_with_struck_out_work(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    entries.not_charge(entry=entry, minutes=20, why="shown", at=at(4, 16), by=scene.proprietor)
    entries.strike_out(entry=entry, why="not done", at=at(4, 17), by=scene.grower)
    assert LedgerEntry.objects.get(kind="not_charged").quantity == 0


# ---- after billing -----------------------------------------------------------------------------------------------


def test_billed_minutes_never_change_a_difference_is_a_row_of_its_own(scene):
    """95 charged minutes should have been 60 (59 measured): a counter-entry of 35."""
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    lock()
    entries.correct_entry(
        entry=entry,
        started_at=at(4, 7),
        stopped_at=at(4, 7, 59),
        why="counted twice",
        at=at(30, 12),
        by=scene.proprietor,
    )
    assert labour(scene.tree) == [95, -35]
    assert [row.lock for row in LedgerEntry.objects.filter(kind="labour").order_by("pk")] == [
        "I-2026-0047",
        "",
    ]


def test_a_grower_does_not_change_billed_work(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    lock()
    for verb in (
        lambda: entries.strike_out(entry=entry, why="?", at=at(5), by=scene.grower),
        lambda: entries.reassign_entry(entry=entry, tree=other_tree(), why="?", at=at(5), by=scene.grower),
    ):
        with pytest.raises(PermissionDenied):
            verb()


def test_later_work_of_a_billed_day_makes_the_extra_minutes(scene):
    """Billed 10 for 12 minutes; with 9 more the day is 21 minutes, 20 charged: 10 extra, not 5 or 15."""
    clocked(scene.grower, scene.tree, jet(), at(4, 7), 12)
    lock()
    written(scene.grower, scene.tree, jet(), at(4, 9), 9, at(5, 7))
    assert labour(scene.tree) == [10, 10]


def test_a_second_difference_joins_the_open_row(scene):
    clocked(scene.grower, scene.tree, jet(), at(4, 7), 12)
    lock()
    written(scene.grower, scene.tree, jet(), at(4, 9), 9, at(5, 7))
    written(scene.grower, scene.tree, jet(), at(4, 10), 10, at(5, 8))
    assert labour(scene.tree) == [10, 20]
    lock("I-2026-0048")
    written(scene.grower, scene.tree, jet(), at(4, 11), 10, at(5, 9))
    assert labour(scene.tree) == [10, 20, 10]


def test_work_that_is_not_charged_moves_without_a_ledger(scene):
    entry = clocked(scene.grower, scene.tree, water(), at(4, 7), 30)
    entries.strike_out(entry=entry, why="rain", at=at(4, 8), by=scene.grower)
    assert not LedgerEntry.objects.exists()
