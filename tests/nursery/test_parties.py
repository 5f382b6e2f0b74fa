"""Customers: written down, moved, named to trees, asked."""

import datetime as dt

import pytest

from nursery import overviews
from nursery.actions import parties
from nursery.models import AuditRow, Consent, Party, PartyLink
from nursery.refusals import Refused
from tests.factories import DAY, NOON, AddressFactory, PartyFactory, TreeFactory

HARBOUR = {"street": "Harbour Road 12", "town": "Wicklow", "country": "IE"}
NEXT_DAY = dt.date(2026, 6, 4)


def test_a_customer_with_an_address(owner):
    party = parties.add_party(
        kind="business", name="Glen Hotel", contact_name="Mr Dunne", address=HARBOUR, at=NOON, by=owner
    )
    assert (party.kind, party.contact_name, party.created_at) == ("business", "Mr Dunne", NOON)
    address = party.addresses.get()
    assert (address.since_on, address.town) == (DAY, "Wicklow")
    assert list(AuditRow.objects.order_by("pk").values_list("verb", flat=True)) == [
        "wrote down a customer",
        "wrote down an address",
    ]


def test_the_first_day_of_an_address_is_the_nurserys_date(owner):
    """23:30 UTC in June is half past midnight of the next day in Ireland."""
    late = dt.datetime(2026, 6, 3, 23, 30, tzinfo=dt.UTC)
    party = parties.add_party(kind="private", name="Mary Byrne", address=HARBOUR, at=late, by=owner)
    assert party.addresses.get().since_on == NEXT_DAY


def test_a_gate_customer_needs_only_a_name(grower):
    party = parties.add_party(kind="private", name="Mary Byrne", at=NOON, by=grower)
    assert Party.objects.get() == party
    assert party.addresses.count() == 0


def test_a_change_keeps_what_was(owner):
    party = PartyFactory(name="Mary Byrne")
    parties.change_party(party=party, fields={"name": "Mary Dunne"}, at=NOON, by=owner)
    row = AuditRow.objects.get()
    assert (row.before, row.after) == ({"name": "Mary Byrne"}, {"name": "Mary Dunne"})


def test_old_addresses_stay(owner):
    first = AddressFactory(town="Wicklow")
    parties.change_address(
        party=first.party, since_on=DAY, address=HARBOUR | {"town": "Arklow"}, at=NOON, by=owner
    )
    assert overviews.address_on(first.party, dt.date(2026, 6, 2)).town == "Wicklow"
    assert overviews.address_on(first.party, DAY).town == "Arklow"
    assert overviews.address_on(first.party, dt.date(2025, 1, 1)).town == "Wicklow"


def test_two_addresses_never_begin_on_one_day(owner):
    first = AddressFactory(since_on=DAY)
    with pytest.raises(Refused) as refused:
        parties.change_address(party=first.party, since_on=DAY, address=HARBOUR, at=NOON, by=owner)
    assert (refused.value.code, refused.value.field) == ("address-that-day", "since_on")
    assert first.party.addresses.count() == 1


def test_a_new_payer_ends_the_old_ones_part(owner):
    tree, firm, partner = TreeFactory(), PartyFactory(), PartyFactory()
    old = parties.link_party(tree=tree, party=firm, role="payer", on=DAY, at=NOON, by=owner)
    parties.link_party(tree=tree, party=partner, role="payer", on=NEXT_DAY, at=NOON, by=owner)
    old.refresh_from_db()
    assert old.until_on == NEXT_DAY
    assert overviews.tree_parties(tree, DAY).payer == firm
    assert overviews.tree_parties(tree, NEXT_DAY).payer == partner


def test_several_may_collect_but_nobody_twice(owner):
    tree, aunt, uncle = TreeFactory(), PartyFactory(), PartyFactory()
    parties.link_party(tree=tree, party=aunt, role="collector", on=DAY, at=NOON, by=owner)
    parties.link_party(tree=tree, party=uncle, role="collector", on=DAY, at=NOON, by=owner)
    with pytest.raises(Refused) as refused:
        parties.link_party(tree=tree, party=aunt, role="collector", on=DAY, at=NOON, by=owner)
    assert refused.value.code == "linked-already"
    assert set(overviews.tree_parties(tree, DAY).collectors) == {aunt, uncle}


def test_a_link_ends_once_and_never_before_it_began(owner):
    tree = TreeFactory()
    link = parties.link_party(tree=tree, party=PartyFactory(), role="collector", on=DAY, at=NOON, by=owner)
    with pytest.raises(Refused) as refused:
        parties.end_link(link=link, on=dt.date(2026, 6, 2), at=NOON, by=owner)
    assert refused.value.code == "ends-before-it-begins"
    parties.end_link(link=link, on=NEXT_DAY, at=NOON, by=owner)
    with pytest.raises(Refused) as refused:
        parties.end_link(link=link, on=NEXT_DAY, at=NOON, by=owner)
    assert refused.value.code == "link-ended"
    assert overviews.tree_parties(tree, NEXT_DAY).collectors == ()
    assert PartyLink.objects.count() == 1


def ask(party, tree, by, answer="yes", question="soap", at=NOON, **more):
    return parties.record_consent(
        party=party,
        tree=tree,
        question=question,
        answer=answer,
        wording="May we use soap?",
        at=at,
        by=by,
        **more,
    )


def test_the_latest_answer_holds_and_earlier_ones_stay(grower):
    tree = TreeFactory()
    party = tree.ownerships.get().party
    ask(party, tree, grower, "yes")
    ask(party, tree, grower, "no", at=NOON + dt.timedelta(days=1), way="phone")
    assert overviews.means_of(tree) == {"soap": "no"}
    assert Consent.objects.count() == 2
    assert AuditRow.objects.filter(verb="took an answer").count() == 2
    assert [one.answer for one in overviews.latest_answers(tree)] == ["no"]


def test_an_answer_about_means_names_the_tree(grower):
    with pytest.raises(Refused) as refused:
        ask(PartyFactory(), None, grower)
    assert (refused.value.code, refused.value.field) == ("which-tree", "tree")


def test_an_answer_about_collecting_names_the_person(grower):
    tree = TreeFactory()
    with pytest.raises(Refused) as refused:
        ask(tree.ownerships.get().party, tree, grower, question="collect")
    assert (refused.value.code, refused.value.field) == ("which-person", "about")
    assert Consent.objects.count() == 0


@pytest.mark.parametrize("answer", ["no", "ask"])
def test_who_was_named_may_not_collect_after_the_owner_took_it_back(grower, answer):
    tree, neighbour = TreeFactory(), PartyFactory()
    owner, later = tree.ownerships.get().party, NOON + dt.timedelta(days=1)
    ask(owner, tree, grower, question="collect", about=neighbour)
    assert overviews.tree_parties(tree, DAY).may_collect(neighbour)
    ask(owner, tree, grower, answer, question="collect", about=neighbour, at=later)
    assert not overviews.tree_parties(tree, NEXT_DAY).may_collect(neighbour)
    assert AuditRow.objects.filter(verb="ended a party's part in a tree").count() == 1
