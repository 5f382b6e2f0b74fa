"""A tree sold to somebody else while it stands here: two stays, one tree, nothing charged twice and no night lost."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from boarding.actions import handback, owners, places, reports, stays, visits
from boarding.models import Handback, Occupancy, PartGrade, StandingRow, Stay
from boarding.overviews import place_of
from invoicing.actions.drafts import draw_up
from nursery import slots
from nursery.actions.parties import link_party
from nursery.models import Party, Person
from nursery.refusals import Refused
from tests.factories import BenchFactory, PartyFactory, PersonFactory
from tests.factories_boarding import a_stay, a_tree, drawing, final_look
from tests.factories_boarding import ready_to_sign as asked
from tests.factories_invoicing import at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
SOLD = at(14, 10, month=7)


@pytest.fixture
def office() -> Person:
    return PersonFactory(proprietor=True)


@pytest.fixture
def stay(office: Person) -> Stay:
    """Class 3, received on 3 June, ready to be handed back on 14 July."""
    stay = a_stay(a_tree(size_class=3), by=office, at=at(3, 9))
    final_look(stay, by=office, at=at(13, 9, month=7))
    stays.make_ready(stay=stay, at=at(13, 10, month=7), by=office)
    return Stay.objects.get(pk=stay.pk)


def ended(stay: Stay, by: Person, when: dt.datetime, *, stays_on: bool, **changes: object) -> Handback:
    report = reports.begin_report(stay=stay, kind="handback", at=when, by=by)
    sound = {part.value: (0, "") for part in PartGrade.Part}
    reports.write_report(report=report, fields={}, parts=sound, at=when, by=by)
    told = {
        "collector": stay.owner,
        "identity_noted": "known to us",
        "tag_typed": stay.tree.tags.get(retired_at=None).printed,
        "photos_compared": True,
        "signer": stay.owner.name,
        "drawing": None,
    }
    return handback.hand_back(stay=stay, at=when, by=by, stays_on=stays_on, **(told | changes))


def received(stay: Stay, heir: Party, by: Person, when: dt.datetime) -> Stay:
    visit = visits.open_visit(at=when, by=by, customer=heir)
    visits.add_to_visit(visit=visit, tree=stay.tree, at=when, by=by)
    asked(visit, by=by, at=when, bench=place_of(stay.tree))
    visits.sign_agreement(visit=visit, signer=heir.name, drawing=drawing(), at=when, by=by)
    visits.close_visit(visit=visit, at=when, by=by)
    return Stay.objects.get(visit=visit)


def lines(payer: Party, up_to_on: dt.date, by: Person) -> list[tuple[str, Decimal]]:
    draft = draw_up(payer=payer, up_to_on=up_to_on, at=at(1, 20, month=9), by=by)
    return [(line.kind, line.net) for line in draft.lines.order_by("position")]


def test_two_stays_of_one_tree_are_billed_like_this(stay: Stay, office: Person) -> None:
    """3 June to 14 July, 41 nights, 66.75; then 18 nights of a new agreement, 32.50, without intake."""
    bench, heir = place_of(stay.tree), PartyFactory()
    ended(stay, office, SOLD, stays_on=True)
    owners.pass_on(tree=stay.tree, to=heir, on=dt.date(2026, 7, 14), at=SOLD, by=office)
    assert place_of(stay.tree) == bench
    # signed two days later: the nights between are the new owner's
    new = received(stay, heir, office, at(16, 10, month=7))
    assert (new.continues_id, new.received_at, new.owner) == (stay.pk, SOLD, heir)
    assert Occupancy.objects.filter(tree=stay.tree).count() == 1
    assert not StandingRow.objects.filter(tree=stay.tree, cause="arrival", since_at__gte=SOLD).exists()
    final_look(new, by=office, at=at(31, 9, month=7))
    stays.make_ready(stay=new, at=at(31, 10, month=7), by=office)
    ended(Stay.objects.get(pk=new.pk), office, at(1, 10, month=8), stays_on=False)
    august = dt.date(2026, 8, 1)
    assert lines(stay.owner, august, office) == [("intake", D("12.00")), ("boarding", D("66.75"))]
    assert lines(heir, august, office) == [("boarding", D("32.50")), ("pack", D("14.00"))]
    assert place_of(stay.tree) is None


def test_a_short_rest_has_no_least_charge_of_its_own(stay: Stay, office: Person) -> None:
    heir = PartyFactory()
    ended(stay, office, SOLD, stays_on=True)
    owners.pass_on(tree=stay.tree, to=heir, on=dt.date(2026, 7, 14), at=SOLD, by=office)
    new = received(stay, heir, office, SOLD)
    (piece,) = slots.pieces("receipt.prices", new.visit, dt.date(2026, 7, 14), None)
    assert (
        piece.facts[-1]
        == f"{stay.tree} stays here from its owner before: no intake and no least charge for it."
    )
    assert lines(heir, dt.date(2026, 7, 15), office) == [("boarding", D("4.00"))]


def test_the_owner_who_agreed_is_not_sold_away_while_the_stay_runs(
    stay: Stay, office: Person, client
) -> None:
    heir = PartyFactory()
    with pytest.raises(Refused, match="is ready for collection for .* End that stay first"):
        owners.pass_on(tree=stay.tree, to=heir, on=dt.date(2026, 7, 14), at=SOLD, by=office)
    client.force_login(office)
    page = client.post(reverse("tree_owner", args=[stay.tree_id]), {"to": heir.pk, "on": "2026-06-14"}).text
    assert "End that stay first" in page
    assert stay.tree.ownerships.get(until_on=None).party == stay.owner


def test_only_the_owner_passes_it_on(stay: Stay, office: Person) -> None:
    neighbour = PartyFactory()
    link_party(tree=stay.tree, party=neighbour, role="collector", on=dt.date(2026, 7, 1), at=SOLD, by=office)
    with pytest.raises(Refused, match="Only .* passes .* on") as refused:
        ended(stay, office, SOLD, stays_on=True, collector=neighbour)
    assert (refused.value.code, refused.value.field) == ("not-the-owner", "collector")


def test_a_new_check_in_that_is_given_up_leaves_the_tree_where_it_stands(stay: Stay, office: Person) -> None:
    heir, bench = PartyFactory(), place_of(stay.tree)
    ended(stay, office, SOLD, stays_on=True)
    owners.pass_on(tree=stay.tree, to=heir, on=dt.date(2026, 7, 14), at=SOLD, by=office)
    visit = visits.open_visit(at=SOLD, by=office, customer=heir)
    visits.add_to_visit(visit=visit, tree=stay.tree, at=SOLD, by=office)
    visits.abandon_visit(visit=visit, why="Comes again tomorrow", at=SOLD, by=office)
    assert place_of(stay.tree) == bench
    assert received(stay, heir, office, at(15, 10, month=7)).continues_id == stay.pk


def test_a_tree_that_left_begins_anew(stay: Stay, office: Person) -> None:
    heir = PartyFactory()
    ended(stay, office, SOLD, stays_on=False)
    owners.pass_on(tree=stay.tree, to=heir, on=dt.date(2026, 7, 14), at=SOLD, by=office)
    visit = visits.open_visit(at=SOLD, by=office, customer=heir)
    new = visits.add_to_visit(visit=visit, tree=stay.tree, at=SOLD, by=office)
    places.move_tree(tree=stay.tree, to=BenchFactory(), at=SOLD, by=office)
    assert new.continues_id is None
