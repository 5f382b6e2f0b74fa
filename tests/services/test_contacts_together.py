"""Several at once on one contact case: opened once, its list fixed once, told once, and no deadlock with looks."""

import pytest

from boarding.actions.places import Override
from care.actions.contacts import catch_up, fix_list, note_told, open_case
from care.actions.looks import look_and_plan
from care.actions.moving import move_and_follow
from care.models import ContactCase, ContactTree, DueItem
from tests.contact_scenes import FOUND, outbreak
from tests.scenes import at
from tests.services.test_care_together import MANY, together

pytestmark = pytest.mark.django_db(transaction=True)
LATER = at(21, 12)


def test_a_case_pressed_by_many_is_opened_once():
    scene = outbreak()
    found = together(lambda n: open_case(tree=scene.trees["S"], at=FOUND, by=scene.grower).pk)
    assert len(set(found)) == 1
    assert (ContactCase.objects.count(), ContactTree.objects.count()) == (1, 6)


def test_a_list_fixed_by_many_makes_each_look_due_once():
    scene = outbreak()
    case = scene.opened()
    found = together(lambda n: fix_list(case=case, at=LATER, by=scene.grower).pk)
    assert sorted(map(str, found))[1:] == ["not-list-fixed"] * (MANY - 1)
    assert DueItem.objects.count() == 5


def test_an_owner_is_told_once():
    scene = outbreak()
    scene.fixed()
    found = together(lambda n: note_told(row=scene.row("A"), way="phone", at=LATER, by=scene.office).pk)
    assert sorted(map(str, found))[1:] == ["told"] * (MANY - 1)


def test_looks_fixing_and_the_sweep_side_by_side():
    """Whatever comes first, every look counts and nobody waits for ever."""
    scene = outbreak()
    case = scene.opened()

    def one(n):
        if n == 0:
            return fix_list(case=case, at=LATER, by=scene.grower).pk
        if n == 1:
            return catch_up(at=LATER)
        return look_and_plan(tree=scene.trees["BCYO"[n - 2]], at=LATER, by=scene.grower, twigs=30).pk

    together(one)
    catch_up(at=LATER)
    assert not ContactTree.objects.filter(tree__in=[scene.trees[name] for name in "BCYO"], look=None).exists()


def test_a_move_by_exception_and_the_sweep_draw_the_neighbours_once():
    scene = outbreak()
    why = Override("No room", LATER.date())

    def one(n):
        if n % 2:
            return catch_up(at=LATER)
        return move_and_follow(
            tree=scene.trees["S"], to=scene.bench5, at=LATER, by=scene.proprietor, override=why
        ).pk

    together(one)
    catch_up(at=LATER)
    assert (ContactCase.objects.count(), ContactTree.objects.count()) == (1, 2)
