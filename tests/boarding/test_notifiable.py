"""A suspected notifiable organism: anyone holds at once, with what stands there; only the authority's word ends it."""

import datetime as dt
from io import BytesIO

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from pypdf import PdfReader

from boarding.actions import holds, looks, places, stays, visits
from boarding.health import Standing
from boarding.models import Hold
from boarding.overviews import standing_of
from boarding.overviews.notifiable import movements, suspicion_of
from boarding.states import StayState
from nursery.actions.parties import change_address
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory, PersonFactory
from tests.factories_boarding import a_stay, a_tree, a_visit, stay_in

pytestmark = pytest.mark.django_db
LATER = NOON + dt.timedelta(hours=5)
HOUR = dt.timedelta(hours=1)
NEEDED = "Write the reason in a few words."
SAID = "Round exit holes at the base"


@pytest.fixture
def grower():
    return PersonFactory()


@pytest.fixture
def boss():
    return PersonFactory(proprietor=True)


@pytest.fixture
def area(grower):
    """Three trees: two on different benches of the entrance, one on a bench of another area."""
    first = a_stay(by=grower, bench=BenchFactory(zone="entrance"))
    near = a_stay(by=grower, bench=BenchFactory(zone="entrance"))
    far = a_stay(by=grower, bench=BenchFactory(zone="isolation"))
    return first.tree, near.tree, far.tree


def held(tree):
    return Hold.objects.filter(tree=tree, lifted_at=None).count()


def test_whoever_sees_it_holds_the_tree_and_then_all_that_stand_in_its_area(area, grower):
    tree, near, far = area
    row = looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower)
    assert standing_of(tree) is Standing.NOTIFIABLE
    assert (held(tree), held(near), held(far)) == (1, 0, 0)
    assert looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower) is None
    for _ in range(2):  # pressed twice, held once
        looks.hold_unit(tree=tree, at=LATER, by=grower)
    assert (held(tree), held(near), held(far)) == (1, 1, 0)
    hold = near.holds.get()
    tag = tree.tags.get().short
    assert hold.reason == f"Stands in one area with a suspected notifiable organism, {tag}"
    assert (hold.kind, hold.because_of, hold.placed_by) == ("official", row, grower)
    assert AuditRow.objects.filter(verb="placed a hold", by=grower).count() == 2
    assert standing_of(near) is Standing.NOT_EXAMINED


def test_no_area_is_held_without_a_suspicion(area, grower):
    with pytest.raises(Refused, match="under no suspicion"):
        looks.hold_unit(tree=area[0], at=LATER, by=grower)


def test_a_held_neighbour_leaves_by_no_gate(area, grower):
    tree, near, _ = area
    looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower)
    looks.hold_unit(tree=tree, at=LATER, by=grower)
    with pytest.raises(Refused) as refused:
        stays.send_away(stay=near.stays.get(), reason="A show", place_kept=True, at=LATER + HOUR, by=grower)
    assert refused.value.code == "held"


def test_the_authority_s_word_lifts_what_went_back_to_it_and_nothing_else(area, grower, boss):
    tree, near, _ = area
    looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower)
    looks.hold_unit(tree=tree, at=LATER, by=grower)
    own = holds.place_hold(tree=near, kind="official", reason="A sample of its own", at=LATER, by=boss)
    for nobody in (grower, PersonFactory(office=True)):
        with pytest.raises(PermissionDenied):
            looks.release_by_authority(tree=tree, reason="Letter", at=LATER + HOUR, by=nobody)
    with pytest.raises(Refused) as refused:
        looks.release_by_authority(tree=tree, reason=" ", at=LATER + HOUR, by=boss)
    assert refused.value.field == "reason"
    looks.release_by_authority(tree=tree, reason="Letter of 20 June, ref. 114", at=LATER + HOUR, by=boss)
    assert standing_of(tree) is Standing.NOT_EXAMINED
    assert (held(tree), held(near)) == (0, 1)
    assert near.holds.get(lifted_at=None) == own
    assert {one.lifted_why for one in Hold.objects.exclude(lifted_at=None)} == {"Letter of 20 June, ref. 114"}


def test_the_page_lists_what_stands_in_the_area_and_holds_all_of_it(area, grower, client):
    tree, near, far = area
    with time_machine.travel(LATER, tick=False):
        client.force_login(grower)
        own = reverse("tree", args=[tree.pk])
        address = reverse("notifiable", args=[tree.pk])
        assert f'href="{address}"' in client.get(own).text
        page = client.get(address).text
        assert f"/trees/{near.pk}/" in page
        assert f"/trees/{far.pk}/" not in page
        assert reverse("unit_hold", args=[tree.pk]) not in page
        again = client.post(address, {"reason": " "}).text
        assert NEEDED in again
        assert client.post(address, {"reason": SAID}).url == address
        page = client.get(address).text
        assert SAID in page
        assert "Hold all 1 of them" in page
        assert client.post(reverse("unit_hold", args=[tree.pk])).url == address
        assert "All 1 of them are held." in client.get(address).text
        assert "A notifiable organism is suspected." in client.get(own).text
        assert SAID in client.get("/").text


def test_the_release_is_offered_to_the_proprietor_with_the_authority_s_words(area, grower, boss, client):
    tree = area[0]
    with time_machine.travel(LATER, tick=False):
        client.force_login(boss)
        release = reverse("notifiable_release", args=[tree.pk])
        assert "Not possible now." in client.get(release).text
        looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower)
        assert f'href="{release}"' in client.get(reverse("notifiable", args=[tree.pk])).text
        assert NEEDED in client.post(release, {"reason": ""}).text
        assert client.post(release, {"reason": "Letter of 3 June"}).url == reverse("tree", args=[tree.pk])
        assert standing_of(tree) is Standing.NOT_EXAMINED


def test_movements_of_the_tree_and_of_all_that_stood_with_it(boss):
    entrance, wash = BenchFactory(zone="entrance", name="E1"), BenchFactory(zone="wash", name="W1")
    before = NOON - dt.timedelta(days=100)
    gone = a_stay(by=boss, at=before, bench=entrance)  # in the area, but only before the tree came
    places.move_tree(tree=gone.tree, to=wash, at=before + HOUR, by=boss)
    stay = a_stay(by=boss, bench=entrance)
    near = a_stay(by=boss, bench=entrance)
    places.move_tree(tree=near.tree, to=wash, at=LATER, by=boss)
    stays.send_away(stay=near, reason="A show", place_kept=True, at=LATER + HOUR, by=boss)
    elsewhere = a_stay(by=boss, bench=BenchFactory(zone="isolation"))
    change_address(
        party=stay.owner,
        since_on=DAY,
        address={"street": "3 Quay Street", "town": "Arklow", "postcode": "Y14 A000"},
        at=NOON,
        by=boss,
    )
    rows = movements(stay.tree, DAY - dt.timedelta(days=30))
    assert {row.tree for row in rows} == {stay.tree, near.tree}
    assert elsewhere.tree not in {row.tree for row in rows}
    told = {row.what for row in rows if row.tree == near.tree}
    assert told == {
        f"came in from {near.owner}",
        "to E1 (entrance quarantine)",
        "from E1 to W1 (wash bay)",
        "away: A show",
    }
    assert f"came in from {stay.owner}, 3 Quay Street, Y14 A000, Arklow" in [row.what for row in rows]
    assert [row.at for row in rows] == sorted(row.at for row in rows)


def test_where_a_tree_went_is_told_too(boss):
    stay = stay_in(StayState.HANDED_BACK, by=boss)
    rows = [row.what for row in movements(stay.tree, DAY - dt.timedelta(days=30))]
    assert rows[-1] == f"left: handed back, owner {stay.owner}"


def test_the_list_for_the_authority_is_one_press(area, grower, client):
    tree, near, far = area
    office = PersonFactory(office=True)
    looks.suspect_notifiable(tree=tree, reason=SAID, at=LATER, by=grower)
    with time_machine.travel(LATER, tick=False):
        client.force_login(office)
        address = reverse("movements", args=[tree.pk])
        assert f'href="{address}?months=6"' in client.get(reverse("notifiable", args=[tree.pk])).text
        answer = client.get(address, {"months": "3"})
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    text = " ".join(text.split())
    assert SAID in text
    assert tree.tags.get().short in text
    assert near.tags.get().short in text
    assert far.tags.get().short not in text


@pytest.mark.parametrize("months", ["", "999", "six"])
def test_a_number_of_months_that_is_not_offered_gives_six(area, client, months):
    with time_machine.travel(LATER, tick=False):
        client.force_login(PersonFactory(office=True))
        assert client.get(reverse("movements", args=[area[0].pk]), {"months": months}).status_code == 200


def test_a_tree_named_in_a_contact_case_is_suspect_with_its_reason(area, grower, client):
    near = area[1]
    with time_machine.travel(LATER, tick=False):
        client.force_login(grower)
        address = reverse("contact_named", args=[near.pk])
        assert NEEDED in client.post(address, {"reason": ""}).text
        assert client.post(address, {"reason": "Beside DN-0412 on E2"}).url == reverse("tree", args=[near.pk])
        page = client.get(reverse("tree", args=[near.pk])).text
    assert standing_of(near) is Standing.SUSPECT
    assert "Beside DN-0412 on E2" in page
    assert AuditRow.objects.get(verb="changed standing", reason="Beside DN-0412 on E2").by == grower


def test_a_contact_changes_nothing_for_a_tree_that_was_not_clean(area, grower, client):
    near = area[1]
    looks.suspect_by_contact(tree=near, reason="First", at=LATER, by=grower)
    with time_machine.travel(LATER + HOUR, tick=False):
        client.force_login(grower)
        answer = client.post(reverse("contact_named", args=[near.pk]), {"reason": "Again"}, follow=True)
    assert "keeps its standing" in answer.text
    assert near.standings.get(until_at=None).reason == "First"


def test_a_tree_that_stands_nowhere_has_no_neighbours():
    case = suspicion_of(a_tree(), NOON)
    assert (case.row, case.area, case.neighbours, case.free) == (None, "", (), 0)


@pytest.mark.parametrize("way", ["turn_away", "drop", "abandon"])
def test_a_tree_under_suspicion_at_the_gate_is_not_turned_away(grower, way):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    places.move_tree(tree=stay.tree, to=BenchFactory(zone="entrance"), at=LATER, by=grower)
    looks.suspect_notifiable(tree=stay.tree, reason=SAID, at=LATER, by=grower)
    told = {"at": LATER + HOUR, "by": grower}
    out = {
        "turn_away": lambda: stays.turn_away(stay=stay, reason="No room", **told),
        "drop": lambda: visits.drop_from_visit(stay=stay, why="No room", **told),
        "abandon": lambda: visits.abandon_visit(visit=visit, why="No room", **told),
    }
    with pytest.raises(Refused, match="cannot be turned away until it is lifted: official hold"):
        out[way]()
    stay.refresh_from_db()
    assert stay.state == "being_received"
    assert stay.tree.occupancies.filter(until_at=None).exists()
