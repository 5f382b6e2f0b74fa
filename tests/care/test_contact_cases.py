"""Contact cases: opened by a find, the list fixed, trees inspected, owners told, closed."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied

from boarding.actions.looks import FindingInput, record_look
from boarding.actions.standings import set_standing
from boarding.health import Standing
from boarding.models import StandingRow, Stay
from boarding.overviews import standing_of
from care import querysets
from care.actions.contacts import (
    add_by_hand,
    catch_up,
    close_case,
    fix_list,
    note_told,
    open_case,
    state_of,
)
from care.actions.looks import look_and_plan
from care.models import ContactCase, ContactTree, DueItem
from care.states import CASE_NEXT, CaseState, CaseVerb, case_state
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.contact_scenes import FOUND, Outbreak, outbreak
from tests.factories import TreeFactory
from tests.scenes import at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
SOON = FOUND + dt.timedelta(hours=1)
C, V = CaseState, CaseVerb


@pytest.fixture
def scene() -> Outbreak:
    return outbreak()


def rows(case: ContactCase) -> dict[str, tuple[int, str]]:
    """Ring and what to do, by the letter of the tree."""
    return {str(row.tree)[5]: (row.ring, row.to_do) for row in case.trees.select_related("tree")}


def inspected(scene: Outbreak, *names: str, when: dt.datetime = SOON) -> None:
    for name in names:
        look_and_plan(tree=scene.trees[name], at=when, by=scene.grower, twigs=40)


def told(scene: Outbreak, *names: str, when: dt.datetime = SOON) -> None:
    for name in names:
        note_told(row=scene.row(name), way="phone", at=when, by=scene.office)


# ---- opening -----------------------------------------------------------------------------------------------------


def test_the_case_names_who_stood_with_it_and_why(scene):
    case = scene.opened()
    assert (case.since_at, case.until_at, case.what) == (at(6), FOUND, "oystershell scale")
    assert rows(case) == {
        "A": (1, "tell"),
        "B": (1, "inspect"),
        "C": (1, "inspect"),
        "O": (1, "inspect"),
        "Y": (2, "inspect"),
        "E": (3, "look"),
    }
    assert [scene.row(name).reason for name in "ABCYE"] == [
        "Stood on Bench 1 with DN-4083 from Sat 6 June 2026 to Fri 12 June 2026",
        "Stood on Bench 1 with DN-4083 from Sat 6 June 2026 to Mon 8 June 2026",
        "Stood on Bench 1 with DN-4083 from Sat 6 June 2026 to the find",
        "Stood on Bench 5 with DN-4066, which had stood with DN-4083, from Mon 8 June 2026 to the find",
        "Worked on right after DN-4083 by Aoife on Mon 15 June 2026",
    ]
    assert scene.row("A").stay == scene.stays["A"]
    assert scene.row("O").stay is None
    assert AuditRow.objects.filter(verb="opened a contact case").count() == 1


def test_opening_alone_makes_nothing_due_and_nobody_suspect(scene):
    scene.opened()
    assert not DueItem.objects.exists()
    assert standing_of(scene.trees["C"]) is Standing.CLEAN


def test_pressed_twice_it_is_one_case_also_after_it_was_closed(scene):
    first = scene.opened()
    assert scene.opened() == first
    ContactCase.objects.update(
        list_fixed_at=SOON, list_fixed_by=scene.grower, closed_at=SOON, closed_by=scene.office
    )
    assert scene.opened() == first
    assert ContactCase.objects.count() == 1


def test_without_a_live_find_there_is_no_case(scene):
    with pytest.raises(Refused, match="write down the look first"):
        open_case(tree=scene.trees["C"], at=SOON, by=scene.grower)


def test_a_tree_never_looked_at_before_is_traced_from_its_arrival(scene):
    tree, owner = scene.trees["D"], scene.stays["D"].owner
    never = TreeFactory(owner__party=owner)
    Stay.objects.create(
        tree=never, owner=owner, payer=owner, state="in_care", size_class=2, received_at=at(10)
    )
    record_look(tree=never, at=at(23), by=scene.grower, twigs=9, findings=[FindingInput(live=1)])
    case = open_case(tree=never, at=at(23), by=scene.grower)
    assert (case.since_at, case.until_at, case.what) == (at(10), at(23), "unknown")
    assert not case.trees.filter(tree=tree).exists()  # it stood nowhere


def test_a_tree_infested_before_is_on_the_list_and_needs_nothing(scene):
    scene.look("C", at(18), live=1)
    case = scene.fixed()
    assert rows(case)["C"] == (1, "nothing")
    assert standing_of(scene.trees["C"]) is Standing.INFESTED
    assert not DueItem.objects.filter(tree=scene.trees["C"]).exists()


# ---- the list is fixed -------------------------------------------------------------------------------------------


def test_fixing_the_list_makes_the_bench_suspect_and_looks_due(scene):
    case = scene.fixed()
    standings = {name: standing_of(scene.trees[name]).value for name in "ABCOYED"}
    assert standings == {
        "A": "clean",  # collected; what it is now nobody here knows
        "B": "suspect",
        "C": "suspect",
        "O": "suspect",
        "Y": "clean",
        "E": "clean",
        "D": "clean",
    }
    items = {str(item.tree)[5]: (item.what, item.due_on.day) for item in DueItem.objects.all()}
    assert items == {
        "B": ("Inspect: contact", 20),
        "C": ("Inspect: contact", 20),
        "O": ("Inspect: contact", 20),
        "Y": ("Inspect: contact", 20),
        "E": ("Look: contact", 27),
    }
    assert state_of(case) is C.LIST_FIXED
    assert AuditRow.objects.get(verb="fixed a contact list").after == {"trees": 6}


def test_a_tree_not_yet_examined_becomes_suspect_too(scene):
    row = StandingRow.objects.get(tree=scene.trees["C"], until_at=None)
    set_standing(
        tree=row.tree, to=Standing.NOT_EXAMINED, cause="return", reason="Back", at=at(10), by=scene.grower
    )
    scene.fixed()
    assert standing_of(scene.trees["C"]) is Standing.SUSPECT


def test_why_a_tree_is_suspect_names_no_other_tree_bench_or_customer(scene):
    scene.fixed()
    reason = StandingRow.objects.get(tree=scene.trees["C"], until_at=None).reason
    assert reason == "Stood with a tree found infested on Sat 20 June 2026"


def test_a_list_is_fixed_once(scene):
    case = scene.fixed()
    with pytest.raises(Refused, match="fixed already"):
        fix_list(case=case, at=SOON, by=scene.grower)
    assert DueItem.objects.count() == 5


def test_a_tree_looked_at_between_find_and_list_is_inspected_already(scene):
    scene.opened()
    inspected(scene, "C", when=FOUND + dt.timedelta(minutes=7))
    scene.fixed()
    assert scene.row("C").look is not None
    assert not DueItem.objects.filter(tree=scene.trees["C"], what="Inspect: contact").exists()


# ---- looks -------------------------------------------------------------------------------------------------------


def test_a_look_does_the_inspection_and_its_due_item(scene):
    scene.fixed()
    inspected(scene, "B")
    row, item = scene.row("B"), DueItem.objects.get(tree=scene.trees["B"], what="Inspect: contact")
    assert (item.state, item.done_look) == ("done", row.look)
    assert scene.row("C").look is None


def test_a_suspect_tree_with_none_alive_is_looked_at_again_after_the_waiting_time(scene):
    scene.fixed()
    inspected(scene, "B", when=at(21))
    again = DueItem.objects.get(tree=scene.trees["B"], state="open")
    assert (again.what, again.due_on) == ("Look again", dt.date(2026, 7, 4))  # 14 days after 20 June
    look_and_plan(tree=scene.trees["B"], at=at(30) + dt.timedelta(days=4), by=scene.grower, twigs=40)
    assert standing_of(scene.trees["B"]) is Standing.CLEAN


def test_a_look_written_by_boarding_alone_is_followed_by_the_sweep(scene):
    scene.fixed()
    look = scene.look("Y", SOON)
    assert scene.row("Y").look is None
    assert catch_up(at=SOON) == 1
    assert scene.row("Y").look == look
    assert catch_up(at=SOON) == 0


def test_a_look_from_before_the_find_inspects_nothing(scene):
    scene.look("Y", at(19))
    scene.fixed()
    assert scene.row("Y").look is None


def test_a_tree_that_leaves_before_it_is_looked_at_is_for_its_owner_to_be_told(scene):
    scene.fixed()
    scene.gone("B", SOON)
    assert catch_up(at=SOON) == 1
    assert (scene.row("B").to_do, AuditRow.objects.filter(verb__startswith="left before").count()) == (
        "tell",
        1,
    )
    told(scene, "B")


# ---- owners ------------------------------------------------------------------------------------------------------


def test_an_owner_is_told_facts_of_the_own_tree_alone(scene):
    scene.fixed()
    inspected(scene, "C")
    told(scene, "A", "C")
    left, here = scene.row("A"), scene.row("C")
    assert left.told_words == (
        "About your tree DN-4065, Tree A: a neighbouring tree was found infested with oystershell scale on"
        " Sat 20 June 2026.\nYour tree left us on Fri 12 June 2026. Please keep it apart from other plants for four"
        " weeks, and look at bark, twigs and undersides of leaves with a lens now and again after two weeks.\n"
        "We look at it free of charge: bring it, or tell us when we may come. Questions: 0404 555 01."
    )
    assert "We looked at 40 twigs of your tree on Sat 20 June 2026 and saw none alive." in here.told_words
    for words in (left.told_words, here.told_words):
        for other in ("DN-4083", "Tree S", "Customer", "Bench"):
            assert other not in words
    assert (left.told_whom, left.told_way, left.told_by) == (scene.stays["A"].owner, "phone", scene.office)


def test_an_owner_is_not_told_twice_nor_before_the_look(scene):
    scene.opened()
    with pytest.raises(Refused, match="Fix the list first"):
        told(scene, "A")
    fix_list(case=ContactCase.objects.get(), at=SOON, by=scene.grower)
    told(scene, "A")
    for name, why in (
        ("A", "told already"),
        ("B", "Look at Tree B first"),
        ("O", "Nobody is told"),
        ("E", "Nobody"),
    ):
        with pytest.raises(Refused, match=why):
            told(scene, name)


def test_growers_tell_no_owner_and_close_nothing(scene):
    case = scene.fixed()
    with pytest.raises(PermissionDenied):
        note_told(row=scene.row("A"), way="phone", at=SOON, by=scene.grower)
    with pytest.raises(PermissionDenied):
        close_case(case=case, at=SOON, by=scene.grower)


# ---- by hand, and the end ----------------------------------------------------------------------------------------


def test_a_tree_added_by_hand_has_its_reason_and_is_taken_up_at_once(scene):
    case = scene.fixed()
    given = {"case": case, "tree": scene.trees["D"], "ring": 1, "at": at(22), "by": scene.grower}
    with pytest.raises(Refused, match="reason"):
        add_by_hand(reason=" ", **given)
    row = add_by_hand(reason="Stood in one tray with it", **given)
    assert (row.added_by, row.to_do, standing_of(row.tree)) == (scene.grower, "inspect", Standing.SUSPECT)
    assert DueItem.objects.filter(tree=row.tree, what="Inspect: contact").exists()
    for tree, why in ((scene.trees["D"], "on the list already"), (scene.trees["S"], "the case is about")):
        with pytest.raises(Refused, match=why):
            add_by_hand(**given | {"tree": tree}, reason="again")


def test_the_whole_case(scene):
    case = scene.fixed()
    states = [state_of(case)]
    with pytest.raises(Refused, match="wait for a look"):
        close_case(case=case, at=SOON, by=scene.office)
    inspected(scene, "B", "C", "O", "Y", "E")
    states.append(state_of(case))
    with pytest.raises(Refused, match="still to be told"):
        close_case(case=case, at=SOON, by=scene.office)
    told(scene, "A", "B", "C", "Y")  # of the nursery's own nobody, and of the third ring nobody
    states.append(state_of(case))
    closed = close_case(case=case, at=SOON, by=scene.office)
    states.append(state_of(closed))
    assert states == [C.LIST_FIXED, C.INSPECTED, C.TOLD, C.CLOSED]
    with pytest.raises(Refused, match="A new find opens a new one"):
        add_by_hand(case=case, tree=scene.trees["D"], ring=1, reason="late", at=SOON, by=scene.grower)


def test_a_case_without_neighbours_is_closed_after_its_list(scene):
    tree = TreeFactory()
    lone = ContactCase.objects.create(
        source=tree, since_at=at(6), until_at=FOUND, what="scale", look=scene.look("D", at(22), live=1),
        opened_at=at(22), opened_by=scene.grower,
    )  # fmt: skip
    fix_list(case=lone, at=at(22, 9), by=scene.grower)
    assert close_case(case=lone, at=at(22, 9), by=scene.office).closed_at == at(22, 9)


def test_a_find_on_an_inspected_neighbour_is_a_case_of_its_own(scene):
    scene.fixed()
    scene.look("C", SOON, live=2)
    catch_up(at=SOON)
    assert [row.tree for row in querysets.finds_without_case()] == [scene.trees["C"]]
    assert open_case(tree=scene.trees["C"], at=SOON, by=scene.grower).source == scene.trees["C"]
    assert ContactTree.objects.filter(tree=scene.trees["S"], to_do="nothing").count() == 1


# ---- the table ---------------------------------------------------------------------------------------------------


def test_the_lifeline_of_a_case():
    """Written out by hand from the trade's own steps."""
    assert CASE_NEXT == {
        (C.OPENED, V.ADD): C.OPENED,
        (C.OPENED, V.FIX): C.LIST_FIXED,
        (C.LIST_FIXED, V.ADD): C.LIST_FIXED,
        (C.LIST_FIXED, V.TELL): C.LIST_FIXED,
        (C.LIST_FIXED, V.INSPECT): C.INSPECTED,
        (C.INSPECTED, V.ADD): C.LIST_FIXED,
        (C.INSPECTED, V.TELL): C.TOLD,
        (C.TOLD, V.ADD): C.LIST_FIXED,
        (C.TOLD, V.CLOSE): C.CLOSED,
    }


@pytest.mark.parametrize(
    ("fixed", "closed", "looks", "owners", "state"),
    [
        (False, False, 2, 1, C.OPENED),
        (True, False, 1, 1, C.LIST_FIXED),
        (True, False, 0, 1, C.INSPECTED),
        (True, False, 0, 0, C.TOLD),
        (True, True, 0, 0, C.CLOSED),
    ],
)
def test_what_is_derived(fixed, closed, looks, owners, state):
    assert case_state(SOON if fixed else None, SOON if closed else None, looks, owners) is state
