"""What the floor knows of trees, customers and the first steps."""

import datetime as dt

from nursery import overviews, querysets
from nursery.actions import parties
from tests.factories import (
    DAY,
    NOON,
    BenchFactory,
    NurseryFactory,
    PartyFactory,
    PersonFactory,
    TreeFactory,
    r1,
)

NEXT_DAY = dt.date(2026, 6, 4)


def test_payer_and_contact_fall_back_on_the_owner(owner):
    tree, firm = TreeFactory(), PartyFactory()
    party = tree.ownerships.get().party
    seen = overviews.tree_parties(tree, DAY)
    assert (seen.owner, seen.payer, seen.contact, seen.collectors) == (party, party, party, ())
    parties.link_party(tree=tree, party=firm, role="payer", on=DAY, at=NOON, by=owner)
    seen = overviews.tree_parties(tree, DAY)
    assert (seen.payer, seen.contact) == (firm, party)


def test_only_the_owner_or_somebody_named_may_collect(owner):
    tree, aunt, neighbour = TreeFactory(), PartyFactory(), PartyFactory()
    parties.link_party(tree=tree, party=aunt, role="collector", on=NEXT_DAY, at=NOON, by=owner)
    assert overviews.tree_parties(tree, DAY).may_collect(tree.ownerships.get().party)
    assert not overviews.tree_parties(tree, DAY).may_collect(aunt)
    assert overviews.tree_parties(tree, NEXT_DAY).may_collect(aunt)
    assert not overviews.tree_parties(tree, NEXT_DAY).may_collect(neighbour)


def test_own_stock_has_nobody_behind_it(db):
    seen = overviews.tree_parties(TreeFactory(owner__party=None), DAY)
    assert (seen.owner, seen.payer, seen.contact) == (None, None, None)


def test_trees_by_owner_on_a_day(db):
    mine, other = TreeFactory(), TreeFactory(owner__party=None)
    party = mine.ownerships.get().party
    assert list(querysets.trees_of(party, DAY)) == [mine]
    assert list(querysets.trees_of(party, dt.date(2025, 12, 31))) == []
    assert list(querysets.customers_trees(DAY)) == [mine]
    assert list(querysets.own_stock(DAY)) == [other]


def test_the_tag_comes_with_the_tree(db):
    TreeFactory(tag__code="DN0412")
    assert querysets.find_trees("DN-0412").get().tag_code == "DN0412"


def test_a_closed_bench_is_left_out_from_its_day_on(db):
    bench = BenchFactory(closed_on=NEXT_DAY)
    assert list(querysets.benches_on(DAY)) == [bench]
    assert list(querysets.benches_on(NEXT_DAY)) == []


def floor_steps(viewer):
    steps = overviews.first_steps(DAY, viewer)
    return {step.question: step.done for step in steps if step.url_name in FLOOR}


FLOOR = {"nursery_details", "rates", "bench_add", "people_at_work"}


def test_an_empty_ledger_leads_the_owner(owner):
    assert floor_steps(owner) == {
        "Who are we?": False,
        "What do we charge?": False,
        "Where do trees stand?": False,
        "Who works here?": True,
    }


def test_everybody_is_led_only_to_what_they_may_do(office, grower):
    assert "Where do trees stand?" in floor_steps(office)
    assert "Who are we?" not in floor_steps(office)
    assert floor_steps(grower) == {}


def test_the_first_steps_are_done_when_their_rows_are_there(owner):
    NurseryFactory()
    r1(by=owner)
    BenchFactory(zone="entrance")
    assert not floor_steps(owner)["Where do trees stand?"]
    BenchFactory(zone="isolation")
    assert all(floor_steps(owner).values())


def test_a_card_that_begins_tomorrow_is_not_in_force_today(owner):
    r1(by=owner, valid_from=NEXT_DAY)
    assert not floor_steps(owner)["What do we charge?"]
    assert querysets.card_on(NEXT_DAY).get().name == "R1"


def test_a_customers_page_asks_the_same_whatever_there_is(owner, django_assert_num_queries):
    party = PartyFactory()
    PersonFactory()
    TreeFactory(owner__party=party)
    with django_assert_num_queries(6):
        overviews.party_page(party, DAY)
    for _ in range(5):
        TreeFactory(owner__party=party)
    with django_assert_num_queries(6):
        overviews.party_page(party, DAY)
