"""What is not charged of work, and what a change means after it was billed."""

import pytest
from django.core.exceptions import PermissionDenied

from care.actions import entries
from care.models import LedgerEntry
from nursery.refusals import Refused
from tests.factories_care import clocked, inspect, jet, labour, lock, other_tree, scrub, water, written
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return in_care()


# ---- not charged -----------------------------------------------------------------------------------------------------


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


# ---- after billing ---------------------------------------------------------------------------------------------------


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
