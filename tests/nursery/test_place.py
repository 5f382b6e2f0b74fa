"""Setting up the nursery."""

import pytest

from nursery import finding
from nursery.actions.place import set_up_nursery
from nursery.models import AuditRow, Nursery
from nursery.refusals import Refused
from tests.factories import NOON, NurseryFactory, TagFactory

FIELDS = {"name": "Derrynavail Nursery", "street": "Old Mill Lane 4", "town": "Derrynavail"}


def test_the_first_time_writes_the_one_row(owner):
    set_up_nursery(fields=FIELDS, at=NOON, by=owner)
    here = Nursery.objects.get()
    assert (here.pk, here.name, here.time_zone, here.currency) == (
        1,
        "Derrynavail Nursery",
        "Europe/Dublin",
        "EUR",
    )
    row = AuditRow.objects.get()
    assert (row.verb, row.by, row.at, row.after["town"]) == ("set up the nursery", owner, NOON, "Derrynavail")


def test_later_only_what_differs_is_written_with_before_and_after(owner):
    NurseryFactory()
    set_up_nursery(fields={"name": "Derrynavail Nursery", "phone": "+353 404 00 000"}, at=NOON, by=owner)
    row = AuditRow.objects.get()
    assert (row.before, row.after) == ({"phone": ""}, {"phone": "+353 404 00 000"})
    assert Nursery.objects.get().town == "Derrynavail"


def test_the_same_again_leaves_no_trace(owner):
    NurseryFactory()
    set_up_nursery(fields=FIELDS, at=NOON, by=owner)
    assert AuditRow.objects.count() == 0


def test_a_field_the_nursery_does_not_have_is_a_slip_of_the_programmer(owner):
    with pytest.raises(ValueError, match="no colour"):
        set_up_nursery(fields=FIELDS | {"colour": "moss"}, at=NOON, by=owner)
    assert Nursery.objects.count() == 0


def test_the_letters_of_the_tags_stay_once_a_tag_hangs_on_a_tree(owner):
    NurseryFactory()
    set_up_nursery(fields={"tag_prefix": "OM"}, at=NOON, by=owner)
    tag = TagFactory(code="OM0412")
    set_up_nursery(fields={"tag_prefix": "OM", "phone": "1"}, at=NOON, by=owner)
    for prefix in ("O", "OMX", "DN"):
        with pytest.raises(Refused, match="OM-0412 for one") as refused:
            set_up_nursery(fields={"tag_prefix": prefix}, at=NOON, by=owner)
        assert (refused.value.code, refused.value.field) == ("tags-printed", "tag_prefix")
    assert Nursery.objects.get().tag_prefix == "OM"
    assert finding.find("om-412", owner).only().key == tag.tree_id
