"""The pages of contact cases: proposed on Today and at the tree, answered on the case's own page, told to an owner."""

import datetime as dt
import re

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.models import ZoneOverride
from care.actions.contacts import add_by_hand, note_told
from care.actions.looks import look_and_plan
from care.models import ContactCase, DueItem
from tests.care_pages import press, signed_in, text
from tests.contact_scenes import Outbreak, in_care, outbreak
from tests.factories import TagFactory, TreeFactory
from tests.scenes import at

pytestmark = pytest.mark.django_db
NOW = at(21, 14)


@pytest.fixture
def scene() -> Outbreak:
    return outbreak()


@pytest.fixture(autouse=True)
def _later():
    with time_machine.travel(NOW, tick=False):
        yield


def page(who, name: str, *args: object) -> str:
    return text(signed_in(who).get(reverse(name, args=args)))


def test_today_proposes_a_case_for_a_live_find_and_one_press_opens_it(scene):
    said = page(scene.grower, "today")
    assert "5 alive on 30 twigs; who stood with it? DN-4083 Tree S" in said
    assert said.count("5 alive on 30 twigs") == 1
    answer = press(signed_in(scene.grower), "contact_open", scene.trees["S"].pk)
    case = ContactCase.objects.get()
    assert answer["Location"] == reverse("contact_case", args=[case.pk])
    said = page(scene.grower, "today")
    assert "Contact case, oystershell scale DN-4083 Tree S opened, its list not fixed" in said
    assert "who stood with it?" not in said


def test_a_find_at_the_gate_is_not_proposed(scene):
    scene.look("D", at(21, 10), live=1, purpose="check_in")
    said = page(scene.grower, "today")
    assert "1 alive on 30 twigs DN-4068 Tree D" in said
    assert said.count("who stood with it?") == 1  # that of S


def test_without_a_find_the_press_says_why(scene):
    answer = signed_in(scene.grower).post(reverse("contact_open", args=[scene.trees["C"].pk]), follow=True)
    assert "No live find stands on Tree C: write down the look first." in text(answer)


def test_the_page_of_a_tree_offers_the_case_and_shows_what_names_it(scene):
    assert "A live find stands without a contact case." in page(scene.grower, "tree", scene.trees["S"].pk)
    assert "Contacts" not in page(scene.grower, "tree", scene.trees["C"].pk)
    scene.fixed()
    mine = page(scene.grower, "tree", scene.trees["S"].pk)
    assert "without a contact case" not in mine
    assert "Contact case, oystershell scale" in mine
    other = page(scene.grower, "tree", scene.trees["C"].pk)
    assert "Named in the contact case of DN-4083 Stood on Bench 1 with DN-4083" in other


def test_the_case_answers_who_is_concerned_ring_by_ring(scene):
    case = scene.fixed()
    said = page(scene.office, "contact_case", case.pk)
    assert "Who is concerned? Oystershell scale, waiting for looks" in said
    assert "5 to look at, 4 owners to tell" in said
    first, second, third = re.split("First ring|Second ring|Third ring", said)[1:]
    for name in ("Tree A", "Tree B", "Tree C", "Tree O"):
        assert name in first
    assert "6 Jun to 12 Jun Tell the owner, advise a look-over DN-4065 Tree A" in first
    assert "from 6 Jun Inspect today DN-4067 Tree C" in first
    assert "8 Jun" in second
    assert "Inspect today DN-4089 Tree Y" in second
    assert "15 Jun Look later DN-4069 Tree E" in third
    assert "Tree D" not in said


def test_the_buttons_lead_to_the_look_and_back(scene):
    case = scene.fixed()
    address = reverse("contact_case", args=[case.pk])
    look = f"{reverse('look_add', args=[scene.trees['C'].pk])}?back="
    assert look in signed_in(scene.grower).get(address).content.decode()
    look_and_plan(tree=scene.trees["C"], at=NOW, by=scene.grower, twigs=40)
    assert "Inspected Sun 21 June, none alive" in page(scene.grower, "contact_case", case.pk)
    assert "; tell the owner" in page(scene.grower, "contact_case", case.pk)
    assert look not in signed_in(scene.grower).get(address).content.decode()


def test_a_grower_fixes_the_list_and_is_offered_no_word_to_owners(scene):
    case, client = scene.opened(), signed_in(scene.grower)
    assert "The list is a proposal." in text(client.get(reverse("contact_case", args=[case.pk])))
    press(client, "contact_fix", case.pk)
    again = client.post(reverse("contact_fix", args=[case.pk]), follow=True)
    assert "The list is fixed already" in text(again)
    assert DueItem.objects.count() == 5
    tell = reverse("contact_tell", args=[scene.row("A").pk])
    assert tell not in client.get(reverse("contact_case", args=[case.pk])).content.decode()
    assert tell in signed_in(scene.office).get(reverse("contact_case", args=[case.pk])).content.decode()


def test_the_office_reads_the_warning_out_and_notes_the_way(scene):
    scene.fixed()
    row, client = scene.row("A"), signed_in(scene.office)
    said = text(client.get(reverse("contact_tell", args=[row.pk])))
    assert "What is the owner told? Customer of A" in said
    assert "a neighbouring tree was found infested with oystershell scale on Sat 20 June 2026" in said
    assert press(client, "contact_tell", row.pk, way="").context["form"].errors["way"]
    press(client, "contact_tell", row.pk, way="phone")
    row = scene.row("A")
    assert (row.told_way, row.told_at, row.told_by) == ("phone", NOW, scene.office)
    assert "Told by telephone on Sun 21 June 2026" in text(client.get(reverse("contact_tell", args=[row.pk])))


def test_a_tree_not_looked_at_yet_has_no_warning(scene):
    scene.fixed()
    said = page(scene.office, "contact_tell", scene.row("C").pk)
    assert "Not possible now. Look at Tree C first" in said
    answer = press(signed_in(scene.office), "contact_tell", scene.row("C").pk, way="phone")
    assert "Look at Tree C first" in text(answer)


def test_a_tree_is_put_on_the_list_by_hand(scene):
    case, client = scene.fixed(), signed_in(scene.grower)
    empty = text(press(client, "contact_add", case.pk, tag=""))
    assert "Scan or type the tag" in empty
    kept = press(client, "contact_add", case.pk, tag="DN4083", ring="1", reason="One tray")
    assert "This is the tree that the case is about." in text(kept)
    assert kept.context["form"]["reason"].value() == "One tray"
    press(client, "contact_add", case.pk, tag="DN4068", ring="1", reason="One tray")
    assert scene.row("D").reason == "One tray"
    assert "put on the list by Aoife" in page(scene.grower, "contact_case", case.pk)


def test_closing_waits_for_looks_and_owners(scene):
    case, client = scene.fixed(), signed_in(scene.office)
    early = client.post(reverse("contact_close", args=[case.pk]), follow=True)
    assert "Trees on the list still wait for a look" in text(early)
    for name in "BCOYE":
        look_and_plan(tree=scene.trees[name], at=NOW, by=scene.grower, twigs=30)
    for name in "ABCY":
        note_told(row=scene.row(name), way="email", at=NOW, by=scene.office)
    press(client, "contact_close", case.pk)
    case.refresh_from_db()
    assert (case.closed_at, case.closed_by) == (NOW, scene.office)
    said = page(scene.office, "contact_case", case.pk)
    assert "closed" in said
    assert "Put a tree on the list" not in said


def test_the_list_of_cases_is_reached_from_today_and_from_the_benches(scene):
    scene.fixed()
    for name in ("today", "benches"):
        assert reverse("contact_cases") in signed_in(scene.grower).get(reverse(name)).content.decode()
    said = page(scene.grower, "contact_cases")
    assert "Sat 20 June 2026 DN-4083 Tree S oystershell scale 6 5 trees to look at, 4 owners to tell" in said
    rows = signed_in(scene.grower).get(reverse("contact_cases") + "?_export=csv")
    assert rows.status_code == 200


def test_moving_by_exception_opens_the_case_on_the_page(scene):
    client = signed_in(scene.proprietor)
    told = {"bench": scene.bench5.pk, "override_reason": "No room", "override_until": "2026-06-25"}
    press(client, "tree_move", scene.trees["S"].pk, **told)
    assert ZoneOverride.objects.count() == 1
    assert ContactCase.objects.get().trees.count() == 2
    assert "Put there by exception" in page(scene.proprietor, "contact_case", ContactCase.objects.get().pk)


def test_the_pages_cost_the_same_however_many_are_concerned(scene):
    case, client = scene.fixed(), signed_in(scene.office)
    names = (("contact_case", case.pk), ("contact_cases",), ("tree", scene.trees["S"].pk), ("today",))

    def asked() -> list[int]:
        counts = []
        for name, *args in names:
            with CaptureQueriesContext(connection) as queries:
                client.get(reverse(name, args=args))
            counts.append(len(queries))
        return counts

    asked()
    few = asked()
    for number in range(6):
        tree = TreeFactory(tag=None)
        TagFactory(code=f"DN{6000 + number}", tree=tree)
        add_by_hand(case=case, tree=tree, ring=1, reason="One tray", at=NOW, by=scene.grower)
    for name in "UVW":
        tree, stay = in_care(name, scene.bench5, at(21), scene.grower)
        scene.trees[name], scene.stays[name] = tree, stay
        scene.look(name, at(21, 10), live=1)
    assert asked() == few


def test_a_finders_words_stay_in_the_house(scene):
    """Only the common names of organisms are told."""
    case = scene.fixed()
    finding = case.look.findings.get()
    assert finding.organism.common_name == "Oystershell scale"
    lone = in_care("L", scene.bench5, at(21), scene.grower)[0]
    row = add_by_hand(case=case, tree=lone, ring=1, reason="Beside Mr Toomey's", at=NOW, by=scene.grower)
    look_and_plan(tree=lone, at=NOW + dt.timedelta(minutes=1), by=scene.grower, twigs=30)
    assert "Toomey" not in page(scene.office, "contact_tell", row.pk).partition("About your tree")[2]
