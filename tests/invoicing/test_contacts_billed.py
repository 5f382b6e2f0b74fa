"""What a find costs the owner: nothing where a neighbour brought it, nothing where the nursery had said clean."""

import datetime as dt
from decimal import Decimal

import pytest

from boarding.actions.looks import FindingInput, record_look, suspect_by_contact
from boarding.actions.places import move_tree
from boarding.actions.stays import agree_isolation, make_ready
from boarding.models import FreeNight, Stay
from boarding.states import StayState
from care.actions.contacts import add_by_hand, fix_list, open_case
from care.actions.looks import look_and_plan
from care.tasks import follow_what_happened
from invoicing.actions.drafts import draw_up
from nursery.models import Party
from nursery.refusals import Refused
from tests.factories import BenchFactory, PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, at

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def payer() -> Party:
    return a_customer()


def lines(payer: Party, up_to: dt.date, *kinds: str) -> list[tuple[str, Decimal, Decimal]]:
    draft = draw_up(payer=payer, up_to_on=up_to, at=at(1, month=8), by=PersonFactory(office=True))
    rows = draft.lines.filter(kind__in=kinds).order_by("position")
    return [(row.kind, row.quantity, row.net) for row in rows]


def isolated(stay: Stay, by) -> None:
    """In isolation since 3 June, the surcharge agreed."""
    move_tree(tree=stay.tree, to=BenchFactory(zone="isolation"), at=at(3, 10), by=by)
    agree_isolation(stay=stay, on=dt.date(2026, 6, 3), at=at(3, 11), by=by)


# ---- a neighbour brought it ----------------------------------------------------------------------------------


def clean_and_drawn_in(payer: Party, ring: int) -> Stay:
    """Clean since 3 June; a tree of the same bench was found infested on 10 June, and itself two days later."""
    by = PersonFactory()
    stay = StayFactory(owner=payer, size_class=2)
    record_look(tree=stay.tree, at=at(3, 9, 30), by=by, twigs=30)
    other = StayFactory(owner=a_customer("Fergal Toomey"))
    record_look(tree=other.tree, at=at(10), by=by, twigs=30, findings=[FindingInput(live=3)])
    case = open_case(tree=other.tree, at=at(10, 10), by=by)
    add_by_hand(case=case, tree=stay.tree, ring=ring, reason="One tray", at=at(10, 10), by=by)
    fix_list(case=case, at=at(10, 11), by=by)
    record_look(tree=stay.tree, at=at(12), by=by, twigs=30, findings=[FindingInput(live=1)])
    move_tree(tree=stay.tree, to=BenchFactory(zone="isolation"), at=at(12, 10), by=by)
    return stay


@pytest.mark.parametrize("ring", [1, 2, 3])
def test_a_tree_drawn_in_by_a_neighbour_never_bears_the_surcharge(payer: Party, ring: int) -> None:
    """Also where somebody wrote down that its owner agreed."""
    stay = clean_and_drawn_in(payer, ring)
    agree_isolation(stay=stay, on=dt.date(2026, 6, 12), at=at(12, 11), by=PersonFactory())
    # 18 nights from 3 to 20 June: two weeks 14.70 and four nights 4.80
    assert lines(payer, dt.date(2026, 6, 20), "boarding", "isolation") == [("boarding", D(1), D("19.50"))]


def test_nor_does_one_named_in_a_contact_by_hand(payer: Party) -> None:
    by, stay = PersonFactory(), StayFactory(owner=payer, size_class=2)
    suspect_by_contact(tree=stay.tree, reason="Stood beside an infested tree", at=at(10), by=by)
    record_look(tree=stay.tree, at=at(12), by=by, twigs=30, findings=[FindingInput(live=1)])
    move_tree(tree=stay.tree, to=BenchFactory(zone="isolation"), at=at(12, 10), by=by)
    agree_isolation(stay=stay, on=dt.date(2026, 6, 12), at=at(12, 11), by=by)
    assert lines(payer, dt.date(2026, 6, 20), "isolation") == []


def test_a_tree_that_came_infested_bears_it_whatever_stands_beside_it(payer: Party) -> None:
    by, stay = PersonFactory(), StayFactory(owner=payer, size_class=2)
    record_look(tree=stay.tree, at=at(3, 9, 30), by=by, twigs=30, findings=[FindingInput(live=4)])
    isolated(stay, by)
    other = StayFactory(owner=a_customer("Fergal Toomey"))
    record_look(tree=other.tree, at=at(10), by=by, twigs=30, findings=[FindingInput(live=3)])
    case = open_case(tree=other.tree, at=at(10, 10), by=by)
    add_by_hand(case=case, tree=stay.tree, ring=1, reason="One tray", at=at(10, 10), by=by)
    fix_list(case=case, at=at(10, 11), by=by)
    assert lines(payer, dt.date(2026, 6, 20), "isolation") == [("isolation", D(18), D("10.80"))]


def test_a_find_after_a_clean_check_in_costs_isolation_only_from_the_owners_word(payer: Party) -> None:
    """None seen on 3 June, one alive on the 4th: isolated at once, the owner agrees on the 7th."""
    by, stay = PersonFactory(), StayFactory(owner=payer, size_class=2)
    record_look(tree=stay.tree, at=at(3, 9, 30), by=by, twigs=30)
    record_look(tree=stay.tree, at=at(4), by=by, twigs=30, findings=[FindingInput(live=1)])
    move_tree(tree=stay.tree, to=BenchFactory(zone="isolation"), at=at(4, 10), by=by)
    assert lines(payer, dt.date(2026, 6, 6), "isolation") == []
    agree_isolation(stay=stay, on=dt.date(2026, 6, 7), at=at(7), by=by)
    assert lines(payer, dt.date(2026, 6, 10), "isolation") == [("isolation", D(4), D("2.40"))]


# ---- declared clean, then found ------------------------------------------------------------------------------


def declared_clean(payer: Party) -> Stay:
    """Class 3, in isolation from 3 to 24 June, clean on the 26th, ready on the 27th."""
    by, stay = PersonFactory(), StayFactory(owner=payer, size_class=3)
    record_look(tree=stay.tree, at=at(3, 9, 30), by=by, twigs=30, findings=[FindingInput(live=4)])
    isolated(stay, by)
    record_look(tree=stay.tree, at=at(18), by=by, twigs=60)
    move_tree(tree=stay.tree, to=BenchFactory(zone="observation"), at=at(24), by=by)
    record_look(tree=stay.tree, at=at(26), by=by, twigs=60, purpose="final")
    make_ready(stay=stay, at=at(27), by=by)
    return stay


def found_again(stay: Stay) -> None:
    """The day before it was to be fetched."""
    by = PersonFactory()
    look_and_plan(tree=stay.tree, at=at(28), by=by, twigs=60, findings=[FindingInput(live=2)])
    move_tree(tree=stay.tree, to=BenchFactory(zone="isolation"), at=at(28, 10), by=by)


def test_one_more_cycle_costs_neither_boarding_nor_surcharge(payer: Party, time_machine) -> None:
    """3 to 27 June are 25 nights: 42.50, of them 21 in isolation: 12.60. Found on the 28th, clean and ready again on
    13 July, fetched on the 15th: only the night of 14 July is added, and 26 nights are still 42.50."""
    by, stay = PersonFactory(), declared_clean(payer)
    found_again(stay)
    stay.refresh_from_db()
    assert stay.lifeline is StayState.IN_CARE
    kept = ("boarding", D(1), D("42.50")), ("isolation", D(21), D("12.60"))
    assert lines(payer, dt.date(2026, 6, 28), "boarding", "isolation") == list(kept)
    time_machine.move_to(at(5, month=7))
    follow_what_happened()
    follow_what_happened()
    assert FreeNight.objects.count() == 8  # 28 June to 5 July, each once
    record_look(tree=stay.tree, at=at(6, month=7), by=by, twigs=60)
    record_look(tree=stay.tree, at=at(13, month=7), by=by, twigs=60, purpose="final")
    make_ready(stay=stay, at=at(13, 10, month=7), by=by)
    free = [night.day for night in FreeNight.objects.order_by("night_of").values_list("night_of", flat=True)]
    assert free == [28, 29, 30, *range(1, 14)]
    time_machine.move_to(at(14, month=7))
    follow_what_happened()
    assert FreeNight.objects.count() == 16  # ready again: the nights are the owner's
    Stay.objects.filter(pk=stay.pk).update(state=StayState.HANDED_BACK, left_at=at(15, month=7))
    assert lines(payer, dt.date(2026, 7, 15), "boarding", "isolation") == list(kept)


def test_a_tree_still_under_observation_when_made_ready_pays_its_nights(payer: Party) -> None:
    by, stay = PersonFactory(), StayFactory(owner=payer, size_class=3)
    record_look(tree=stay.tree, at=at(3, 9, 30), by=by, twigs=30, findings=[FindingInput(live=4)])
    record_look(tree=stay.tree, at=at(18), by=by, twigs=60, purpose="final")
    make_ready(stay=stay, at=at(19), by=by)
    record_look(tree=stay.tree, at=at(20), by=by, twigs=60, findings=[FindingInput(live=1)])
    assert not FreeNight.objects.exists()


def test_nights_granted_by_hand_are_not_granted_twice(payer: Party) -> None:
    stay = declared_clean(payer)
    FreeNight.objects.create(
        stay=stay, night_of=dt.date(2026, 6, 28), reason="A wish", granted_by=PersonFactory()
    )
    found_again(stay)
    assert FreeNight.objects.count() == 1


def test_it_is_ready_again_only_after_a_new_final_look(payer: Party) -> None:
    """Also where the owner takes it as it is: somebody looks, counts, and writes the owner's words."""
    stay = declared_clean(payer)
    found_again(stay)
    with pytest.raises(Refused, match="final inspection"):
        make_ready(stay=stay, at=at(28, 12), by=PersonFactory())
