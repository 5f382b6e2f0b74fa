"""What is due: re-treatments, looks, items by hand, and how each ends."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from boarding.actions import stays
from boarding.actions.looks import FindingInput
from care.actions import due, entries, following
from care.actions.looks import catch_up, look_and_plan
from care.models import DueItem, Retreatment
from nursery.models import Nursery
from nursery.refusals import Refused
from tests.factories import TreeFactory
from tests.factories_care import clocked, inspect, jet, scrub, written
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JUNE = dt.date(2026, 6, 1)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def on(day: int) -> dt.date:
    return JUNE.replace(day=day)


def states() -> list[tuple[str, int, str]]:
    """(kind, day due, state) of every item, in the order in which they were made."""
    return [(item.kind, item.due_on.day, item.state) for item in DueItem.objects.order_by("pk")]


def set_rule(scene: Scene, days: int = 7, when: dt.datetime | None = None) -> Retreatment:
    return due.set_retreatment(
        tree=scene.tree, activity=scrub(), days=days, at=when or at(3, 12), by=scene.grower
    )


# ---- re-treatments -----------------------------------------------------------------------------------------------


def test_the_first_treatment_is_due_when_the_rule_is_set(scene):
    set_rule(scene)
    item = DueItem.objects.get()
    assert (item.due_on, item.what, item.why, item.stay) == (on(3), "Scrubbing", "Not done yet", scene.stay)


def test_a_rule_set_again_after_its_item_fell_away_has_one_again(scene):
    set_rule(scene)
    due.fall_away(item=DueItem.objects.get(), why="rain all week", at=at(4), by=scene.grower)
    set_rule(scene, when=at(5))
    set_rule(scene, when=at(6))
    assert states() == [("treat", 3, "fell_away"), ("treat", 3, "open")]


def test_a_treatment_does_the_open_item_and_opens_the_next(scene):
    set_rule(scene)
    first = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    assert states() == [("treat", 3, "done"), ("treat", 11, "open")]
    assert DueItem.objects.first().done_entry == first
    clocked(scene.grower, scene.tree, scrub(), at(12, 7), 60)
    assert states()[1:] == [("treat", 11, "done"), ("treat", 19, "open")]


def test_a_rule_set_after_a_treatment_counts_from_it(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    set_rule(scene, when=at(6))
    item = DueItem.objects.get()
    assert (item.due_on, item.what, item.why) == (on(11), "Scrubbing again", "7 days after Thu 4 June 2026")


def test_two_treatments_of_a_day_are_one(scene):
    set_rule(scene)
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    clocked(scene.grower, scene.tree, scrub(), at(4, 9), 30)
    assert states() == [("treat", 3, "done"), ("treat", 11, "open")]


def test_other_work_leaves_the_item_open(scene):
    set_rule(scene)
    clocked(scene.grower, scene.tree, jet(), at(4, 7), 30)
    clocked(scene.grower, scene.tree, inspect(), at(4, 8), 30)
    assert states() == [("treat", 3, "open")]


def test_an_earlier_treatment_written_later_changes_nothing(scene):
    set_rule(scene)
    clocked(scene.grower, scene.tree, scrub(), at(5, 7), 30)
    written(scene.grower, scene.tree, scrub(), at(4, 7), 30, at(5, 16))
    assert states() == [("treat", 3, "done"), ("treat", 12, "open")]


def test_a_struck_out_treatment_puts_the_item_back_where_it_was(scene):
    set_rule(scene)
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    wrong = clocked(scene.grower, scene.tree, scrub(), at(10, 7), 30)
    entries.strike_out(entry=wrong, why="another tree", at=at(10, 9), by=scene.grower)
    assert states() == [
        ("treat", 3, "done"),
        ("treat", 11, "done"),
        ("treat", 17, "fell_away"),
        ("treat", 11, "open"),
    ]


def test_a_treatment_given_to_another_tree_does_that_trees_item(scene):
    other = TreeFactory(owner__party=None)
    rule = due.set_retreatment(tree=other, activity=scrub(), days=7, at=at(3), by=scene.grower)
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    entries.reassign_entry(entry=entry, tree=other, why="wrong tag", at=at(4, 9), by=scene.grower)
    done, then = DueItem.objects.filter(rule=rule).order_by("pk")
    assert (done.state, done.done_entry, then.due_on) == ("done", entry, on(11))


def test_putting_off_keeps_the_day_it_was_reckoned_for(scene):
    set_rule(scene)
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    item = DueItem.objects.get(state="open")
    later = due.put_off(item=item, to=on(14), why="rain", at=at(11), by=scene.grower)
    assert (later.due_on, later.earliest_on, later.put_off_from) == (on(14), on(11), item)
    clocked(scene.grower, scene.tree, scrub(), at(13, 7), 30)
    assert states() == [
        ("treat", 3, "done"),
        ("treat", 11, "put_off"),
        ("treat", 14, "done"),
        ("treat", 20, "open"),
    ]


def test_another_number_of_days_ends_the_rule_before(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    set_rule(scene, days=7, when=at(5))
    assert set_rule(scene, days=7, when=at(5)) == Retreatment.objects.get()
    set_rule(scene, days=10, when=at(5))
    assert states() == [("treat", 11, "fell_away"), ("treat", 14, "open")]
    assert Retreatment.objects.filter(ended_at=None).get().days == 10


@pytest.mark.parametrize("days", [0, 366])
def test_days_are_1_to_365(scene, days):
    with pytest.raises(Refused) as refused:
        set_rule(scene, days=days)
    assert refused.value.field == "days"


def test_only_treatments_are_repeated(scene):
    with pytest.raises(Refused) as refused:
        due.set_retreatment(tree=scene.tree, activity=inspect(), days=7, at=at(3), by=scene.grower)
    assert refused.value.code == "not-a-treatment"


def test_the_database_keeps_one_open_item_per_rule(scene):
    rule = set_rule(scene)
    item = DueItem.objects.get()
    item.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        item.save(force_insert=True)
    assert rule.due_items.count() == 1


# ---- looks -------------------------------------------------------------------------------------------------------


def look(scene: Scene, day: int, live: int = 0):
    findings = [FindingInput(organism=scene.scale, live=live)] if live else []
    return look_and_plan(tree=scene.tree, at=at(day, 10), by=scene.grower, twigs=60, findings=findings)


def test_the_first_look_with_none_alive_makes_the_next_one_due_in_seven_days(scene):
    look(scene, 4, live=14)
    assert states() == []
    look(scene, 18)
    assert states() == [("look", 25, "open")]
    second = look(scene, 26)
    assert states() == [("look", 25, "done")]
    assert DueItem.objects.get().done_look == second


def test_the_days_between_are_a_setting(scene):
    Nursery.objects.update(clean_days_apart=10)
    look(scene, 4, live=14)
    look(scene, 15)
    assert states() == [("look", 25, "open")]


def test_a_look_too_early_leaves_the_item_open(scene):
    look(scene, 4, live=14)
    look(scene, 18)
    look(scene, 20)
    assert states() == [("look", 25, "open")]


def test_a_live_find_makes_the_planned_look_fall_away(scene):
    look(scene, 4, live=14)
    look(scene, 18)
    look(scene, 20, live=2)
    assert states() == [("look", 25, "fell_away")]


def test_a_sound_tree_needs_no_second_look(scene):
    look(scene, 4)
    assert states() == []


def test_looks_written_down_elsewhere_are_caught_up_once(scene):
    scene.look(at(4, 10), live=14)
    scene.look(at(18, 10))
    assert catch_up(at=at(18, 11)) == 1
    assert catch_up(at=at(18, 12)) == 0
    assert states() == [("look", 25, "open")]
    scene.look(at(26, 10))
    assert catch_up(at=at(26, 11)) == 1
    assert catch_up(at=at(26, 12)) == 0
    assert states() == [("look", 25, "done")]


def test_a_look_that_was_let_fall_away_stays_away_until_the_next_look(scene):
    look(scene, 4, live=14)
    look(scene, 18)
    item = DueItem.objects.get(state="open")
    due.fall_away(item=item, why="The owner wants none", at=at(19), by=scene.grower)
    assert catch_up(at=at(19, 11)) == 0
    assert states() == [("look", 25, "fell_away")]
    scene.look(at(20, 10), live=2)
    scene.look(at(21, 10))
    assert catch_up(at=at(21, 11)) == 1
    assert states()[1:] == [("look", 28, "open")]


# ---- by hand, and the ends ---------------------------------------------------------------------------------------


def item_by_hand(scene: Scene, day: int = 5) -> DueItem:
    return due.add_item(
        tree=scene.tree, what="Check the collar", why="", due_on=on(day), at=at(4), by=scene.grower
    )


def test_an_item_by_hand_is_done_by_one_press(scene):
    item = due.mark_done(item=item_by_hand(scene), at=at(5), by=scene.grower)
    assert (item.state, item.closed_by) == ("done", scene.grower)
    with pytest.raises(Refused) as refused:
        due.mark_done(item=item, at=at(5), by=scene.grower)
    assert refused.value.code == "ended"


def test_a_treatment_and_a_look_are_not_done_by_a_press(scene):
    set_rule(scene)
    with pytest.raises(Refused) as clock:
        due.mark_done(item=DueItem.objects.get(), at=at(5), by=scene.grower)
    assert clock.value.code == "by-clock"
    look(scene, 4, live=1)
    look(scene, 18)
    with pytest.raises(Refused) as lens:
        due.mark_done(item=DueItem.objects.get(kind="look"), at=at(18), by=scene.grower)
    assert lens.value.code == "by-look"


@pytest.mark.parametrize("to", [on(4), on(5)])
def test_putting_off_goes_to_a_later_day(scene, to):
    with pytest.raises(Refused) as refused:
        due.put_off(item=item_by_hand(scene), to=to, why="rain", at=at(4), by=scene.grower)
    assert refused.value.field == "to"


def test_an_overdue_item_is_put_off_to_today_at_the_earliest(scene):
    item = item_by_hand(scene)
    with pytest.raises(Refused):
        due.put_off(item=item, to=on(9), why="rain", at=at(10), by=scene.grower)
    assert due.put_off(item=item, to=on(10), why="rain", at=at(10), by=scene.grower).due_on == on(10)


@pytest.mark.parametrize("verb", ["put_off", "fall_away"])
def test_a_reason_is_asked_for(scene, verb):
    more = {"to": on(9)} if verb == "put_off" else {}
    with pytest.raises(Refused) as refused:
        getattr(due, verb)(item=item_by_hand(scene), why=" ", at=at(5), by=scene.grower, **more)
    assert refused.value.code == "no-reason"


def test_an_item_falls_away_with_its_reason(scene):
    item = due.fall_away(item=item_by_hand(scene), why="tape taken off", at=at(5), by=scene.grower)
    assert (item.state, item.closed_why) == ("fell_away", "tape taken off")


@pytest.mark.parametrize(("what", "day", "field"), [("", 5, "what"), ("Water", 3, "due_on")])
def test_bad_items_by_hand(scene, what, day, field):
    with pytest.raises(Refused) as refused:
        due.add_item(tree=scene.tree, what=what, why="", due_on=on(day), at=at(4), by=scene.grower)
    assert refused.value.field == field


def test_the_database_lets_no_item_vanish_or_end_twice(scene):
    item = due.fall_away(item=item_by_hand(scene), why="tape taken off", at=at(5), by=scene.grower)
    with pytest.raises(IntegrityError), transaction.atomic():
        DueItem.objects.filter(pk=item.pk).update(state="open", closed_at=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        item.delete()


# ---- when the tree goes ------------------------------------------------------------------------------------------


def test_everything_falls_away_when_the_tree_goes(scene):
    set_rule(scene)
    item_by_hand(scene)
    assert due.end_care(tree=scene.tree, why="Handed back", at=at(6), by=scene.grower) == 2
    assert {(item.state, item.closed_why) for item in DueItem.objects.all()} == {("fell_away", "Handed back")}
    assert Retreatment.objects.get().ended_why == "Handed back"


def test_what_no_verb_ended_falls_away_by_the_sweep(scene):
    set_rule(scene)
    stays.record_death(stay=scene.stay, reason="Root rot", at=at(6), by=scene.grower)
    assert following.let_fall_of_gone(at=at(6, 10)) == 1
    assert following.let_fall_of_gone(at=at(6, 11)) == 0
    item = DueItem.objects.get()
    assert (item.state, item.closed_why, item.closed_by) == (
        "fell_away",
        "The stay ended: died in care",
        None,
    )
