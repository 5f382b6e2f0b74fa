"""An exception that puts a tree among clean ones draws its neighbours into a contact case by itself."""

import datetime as dt

import pytest

from boarding.actions.places import Override, end_override, move_tree
from boarding.models import ZoneOverride
from boarding.overviews import standing_of
from care.actions.contacts import catch_up, close_case, fix_list, note_told
from care.actions.looks import look_and_plan
from care.actions.moving import move_and_follow
from care.models import ContactCase, DueItem
from nursery.refusals import Refused
from tests.contact_scenes import Outbreak, in_care, outbreak
from tests.scenes import at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
WHY = Override("No room in isolation", dt.date(2026, 6, 30))
MOVED = at(22, 10)


@pytest.fixture
def scene() -> Outbreak:
    """S, infested, stands in isolation."""
    scene = outbreak()
    move_tree(tree=scene.trees["S"], to=scene.isolation, at=at(20, 10), by=scene.grower)
    return scene


def put_on_bench5(scene: Outbreak, when: dt.datetime = MOVED) -> None:
    """By boarding alone, as a check-in does."""
    move_tree(tree=scene.trees["S"], to=scene.bench5, at=when, by=scene.proprietor, override=WHY)


def listed() -> dict[str, int]:
    return {str(row.tree)[5]: row.ring for row in ContactCase.objects.get().trees.select_related("tree")}


def test_the_sweep_opens_a_case_with_the_neighbours(scene):
    put_on_bench5(scene)
    assert catch_up(at=MOVED) == 2
    case = ContactCase.objects.get()
    assert (case.override, case.look, case.opened_by) == (ZoneOverride.objects.get(), None, scene.proprietor)
    assert case.what == "infested, on Bench 5 by exception"
    assert listed() == {"B": 1, "Y": 1}
    assert catch_up(at=MOVED) == 0


def test_moving_it_on_the_page_opens_the_case_at_once(scene):
    move_and_follow(tree=scene.trees["S"], to=scene.bench5, at=MOVED, by=scene.proprietor, override=WHY)
    assert listed() == {"B": 1, "Y": 1}


def test_a_move_without_an_exception_opens_none(scene):
    move_and_follow(tree=scene.trees["C"], to=scene.bench5, at=MOVED, by=scene.grower)
    catch_up(at=MOVED)
    assert not ContactCase.objects.exists()


def test_only_clean_benches_draw_and_no_exception_for_room(scene):
    winter = type(scene.bench).objects.create(name="Winter house", zone="winter", area_m2=6)
    move_and_follow(tree=scene.trees["S"], to=winter, at=MOVED, by=scene.proprietor, override=WHY)
    full = type(scene.bench).objects.create(name="Tiny", zone="clean", area_m2="0.01")
    move_and_follow(tree=scene.trees["C"], to=full, at=MOVED, by=scene.proprietor, override=WHY)
    catch_up(at=MOVED)
    assert not ContactCase.objects.exists()


def test_alone_on_its_bench_it_opens_a_case_when_somebody_comes_near(scene):
    bench = type(scene.bench).objects.create(name="Bench 7", zone="clean", area_m2=6)
    move_and_follow(tree=scene.trees["S"], to=bench, at=MOVED, by=scene.proprietor, override=WHY)
    assert not ContactCase.objects.exists()
    in_care("N", bench, at(23), scene.grower)
    catch_up(at=at(23, 9))
    assert listed() == {"N": 1}


def test_who_comes_near_later_is_drawn_in_and_taken_up_on_a_fixed_list(scene):
    put_on_bench5(scene)
    catch_up(at=MOVED)
    fix_list(case=ContactCase.objects.get(), at=at(22, 11), by=scene.grower)
    assert standing_of(scene.trees["Y"]).value == "suspect"
    tree, _ = in_care("N", scene.bench5, at(23), scene.grower)
    assert catch_up(at=at(23, 9)) == 1
    assert listed() == {"B": 1, "Y": 1, "N": 1}
    assert standing_of(tree).value == "suspect"
    assert DueItem.objects.filter(tree=tree, what="Inspect: contact", state="open").exists()


def test_who_comes_after_the_exception_is_not_concerned(scene):
    put_on_bench5(scene)
    catch_up(at=MOVED)
    end_override(override=ZoneOverride.objects.get(), at=at(22, 15), by=scene.proprietor)
    move_tree(tree=scene.trees["S"], to=scene.isolation, at=at(22, 15), by=scene.grower)
    in_care("N", scene.bench5, at(23), scene.grower)
    catch_up(at=at(23, 9))
    assert listed() == {"B": 1, "Y": 1}


def test_made_and_ended_between_two_sweeps_it_is_still_followed(scene):
    put_on_bench5(scene)
    move_tree(tree=scene.trees["S"], to=scene.isolation, at=at(22, 10, 2), by=scene.grower)
    catch_up(at=at(22, 10, 4))
    assert listed() == {"B": 1, "Y": 1}


def test_neighbours_of_an_exception_join_the_open_case_of_the_find(scene):
    case = scene.opened()
    assert case.trees.count() == 6
    scene.look("Y", at(21))
    other, _ = in_care("N", scene.bench5, at(21), scene.grower)
    put_on_bench5(scene)
    catch_up(at=MOVED)
    assert ContactCase.objects.get() == case
    assert case.trees.get(tree=other).ring == 1


def test_a_case_stays_open_while_its_exception_stands(scene):
    put_on_bench5(scene)
    catch_up(at=MOVED)
    case = fix_list(case=ContactCase.objects.get(), at=MOVED, by=scene.grower)
    for row in case.trees.select_related("tree", "case"):
        look_and_plan(tree=row.tree, at=at(22, 12), by=scene.grower, twigs=30)
        note_told(row=row, way="phone", at=at(22, 13), by=scene.office)
    with pytest.raises(Refused, match="end the exception first"):
        close_case(case=case, at=at(22, 14), by=scene.office)
    move_tree(tree=scene.trees["S"], to=scene.isolation, at=at(22, 15), by=scene.grower)
    close_case(case=case, at=at(22, 16), by=scene.office)
    assert catch_up(at=at(22, 17)) == 0
    assert ContactCase.objects.count() == 1
