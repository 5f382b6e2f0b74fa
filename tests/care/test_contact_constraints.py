"""What the database itself holds about contact cases, written around Python."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from care.models import ContactCase, ContactTree
from tests.contact_scenes import FOUND, Outbreak, outbreak

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LATER = FOUND + dt.timedelta(hours=2)


@pytest.fixture
def scene() -> Outbreak:
    scene = outbreak()
    scene.opened()
    return scene


def refused(name: str):
    return pytest.raises(IntegrityError, match=name)


def test_a_source_has_one_open_case(scene):
    other = scene.look("S", LATER, live=1)
    with refused("one_open_contact_case_per_source|care_contactcase.source_id"), transaction.atomic():
        ContactCase.objects.create(
            source=scene.trees["S"], since_at=FOUND, until_at=LATER, what="scale", look=other,
            opened_at=LATER, opened_by=scene.grower,
        )  # fmt: skip


def test_a_find_has_one_case(scene):
    case = ContactCase.objects.get()
    with refused("look_id"), transaction.atomic():
        ContactCase.objects.create(
            source=scene.trees["C"], since_at=FOUND, until_at=LATER, what="scale", look=case.look,
            opened_at=LATER, opened_by=scene.grower,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"look": None}, "a_contact_case_goes_back_to_a_find_or_an_exception"),
        ({"until_at": FOUND - dt.timedelta(days=30)}, "a_contact_window_ends_after_it_begins"),
        ({"what": ""}, "a_contact_case_says_what_was_found"),
        ({"list_fixed_at": LATER}, "a_fixed_contact_list_says_by_whom"),
        ({"closed_at": LATER, "closed_by": 1}, "a_contact_case_is_closed_after_its_list_was_fixed"),
    ],
)
def test_what_a_case_is(scene, fields, name):
    fields = fields | ({"closed_by": scene.office} if "closed_by" in fields else {})
    with refused(name), transaction.atomic():
        ContactCase.objects.update(**fields)


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"ring": 4}, "there_are_three_contact_rings"),
        ({"reason": ""}, "a_contact_has_its_reason"),
        ({"to_do": "wait"}, "a_contact_says_what_to_do"),
        ({"from_at": LATER, "until_at": FOUND}, "a_contact_ends_after_it_begins"),
        ({"told_at": LATER}, "an_owner_was_told_by_somebody_in_some_way"),
        ({"told_way": "phone"}, "an_owner_was_told_by_somebody_in_some_way"),
    ],
)
def test_what_a_row_of_a_list_is(scene, fields, name):
    with refused(name), transaction.atomic():
        ContactTree.objects.filter(tree=scene.trees["A"]).update(**fields)


def test_a_list_names_a_tree_once(scene):
    row = scene.row("A")
    with refused("a_contact_case_names_a_tree_once|care_contacttree.case_id"), transaction.atomic():
        ContactTree.objects.create(
            case=row.case,
            tree=row.tree,
            ring=2,
            reason="again",
            standing="clean",
            to_do="tell",
            added_at=LATER,
        )


@pytest.mark.parametrize("model", [ContactTree, ContactCase])
def test_nothing_of_a_case_is_ever_deleted(scene, model):
    with pytest.raises(IntegrityError, match="never"), transaction.atomic():
        model.objects.all()._raw_delete("default")


def test_what_an_owner_was_told_stands(scene):
    ContactTree.objects.filter(tree=scene.trees["A"]).update(
        told_at=LATER,
        told_by=scene.office,
        told_whom=scene.stays["A"].owner,
        told_way="phone",
        told_words="Facts.",
    )
    with pytest.raises(IntegrityError, match="stands"), transaction.atomic():
        ContactTree.objects.filter(tree=scene.trees["A"]).update(told_words="Other facts.")
