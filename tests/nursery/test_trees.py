"""Trees and tags: written down, named, passed on, tagged."""

import datetime as dt

import pytest

from nursery import overviews
from nursery.actions import trees
from nursery.models import AuditRow, Ownership, Tag, Taxon, Tree
from nursery.refusals import Refused
from tests.factories import DAY, NOON, NurseryFactory, PartyFactory, TaxonFactory, TreeFactory

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def add(by, **told):
    given = {"described_as": "Big olive", "size_class": 2, "owner": None, "on": DAY} | told
    return trees.add_tree(**given, at=NOON, by=by)


def test_a_tree_has_an_owner_and_a_tag_from_the_start(grower):
    party = PartyFactory(name="Mary Byrne")
    tree = add(grower, owner=party, height_cm=60)
    assert overviews.tree_parties(tree, DAY).owner == party
    assert overviews.tag_of(tree).code == "DN0001"
    assert list(AuditRow.objects.order_by("pk").values_list("verb", flat=True)) == [
        "wrote down a tree",
        "gave a tag",
    ]
    assert AuditRow.objects.get(verb="wrote down a tree").after["owner"] == "Mary Byrne"


def test_tags_follow_each_other_and_pass_over_printed_ones(grower):
    NurseryFactory(tag_prefix="XY")
    add(grower, code="XY0002")
    codes = [add(grower).tags.get().code for _ in range(3)]
    assert codes == ["XY0001", "XY0003", "XY0004"]


def test_a_used_tag_is_refused_and_nothing_is_written(grower):
    add(grower, code="DN0412")
    with pytest.raises(Refused) as refused:
        add(grower, described_as="Pine", code="DN0412")
    assert (refused.value.code, refused.value.field) == ("tag-used", "code")
    assert "DN-0412 was given to Big olive" in refused.value.sentence
    assert not Tree.objects.filter(described_as="Pine").exists()


def test_a_lost_tag_is_retired_and_never_comes_back(grower):
    tree = add(grower)
    old = overviews.tag_of(tree)
    new = trees.retire_tag(tag=old, why="lost", at=NOON, by=grower)
    old.refresh_from_db()
    assert (old.retired_why, old.retired_at, new.code) == ("lost", NOON, "DN0002")
    with pytest.raises(Refused) as refused:
        trees.retire_tag(tag=new, why="worn", at=NOON, by=grower, code="DN0001")
    assert refused.value.code == "tag-used"
    assert overviews.tag_of(tree) == new


def test_retiring_twice_is_refused(grower):
    tag = overviews.tag_of(add(grower))
    trees.retire_tag(tag=tag, why="worn", at=NOON, by=grower)
    with pytest.raises(Refused) as refused:
        trees.retire_tag(tag=tag, why="worn", at=NOON, by=grower)
    assert refused.value.code == "tag-retired"
    assert Tag.objects.count() == 2


def test_the_tag_of_a_tree_that_is_gone_has_no_follower(grower):
    tree = add(grower)
    trees.retire_tag_for_good(tag=overviews.tag_of(tree), at=NOON, by=grower)
    assert overviews.tag_of(tree) is None


def test_a_tree_carries_one_tag(grower):
    tree = add(grower)
    with pytest.raises(Refused) as refused:
        trees.give_tag(tree=tree, at=NOON, by=grower)
    assert refused.value.code == "has-tag"


def test_a_typed_name_becomes_a_taxon_once(grower):
    first = trees.taxon_named(text="Olea europaea 'Cipressino'", at=NOON, by=grower, common_name="Olive")
    again = trees.taxon_named(text="Olea  europaea ‘Cipressino’", at=NOON, by=grower)
    assert first == again
    assert (first.genus, first.species, first.cultivar, first.common_name) == (
        "Olea",
        "europaea",
        "Cipressino",
        "Olive",
    )
    assert Taxon.objects.count() == 1


def test_a_name_that_is_none_says_how_to_write_it(grower):
    with pytest.raises(Refused) as refused:
        trees.taxon_named(text="olive", at=NOON, by=grower)
    assert (refused.value.code, refused.value.field) == ("no-botanical-name", "taxon")
    assert "capital letter" in refused.value.sentence


def test_a_determination_says_who_and_when(grower):
    tree, taxon = TreeFactory(), TaxonFactory()
    trees.determine_tree(tree=tree, taxon=taxon, determined_by="Dr Walsh", on=DAY, at=NOON, by=grower)
    tree.refresh_from_db()
    assert (tree.taxon, tree.determined_by, tree.determined_on) == (taxon, "Dr Walsh", DAY)
    assert AuditRow.objects.get().after["determined_by"] == "Dr Walsh"


def test_describing_anew_writes_only_what_differs(grower):
    tree = TreeFactory(described_as="Olive")
    trees.change_tree(tree=tree, fields={"described_as": "Olive", "pot": "blue glaze"}, at=NOON, by=grower)
    assert AuditRow.objects.get().after == {"pot": "blue glaze"}


def test_a_tree_passes_on_in_one_step(owner):
    tree, heir = TreeFactory(), PartyFactory()
    seller = tree.ownerships.get().party
    trees.change_owner(tree=tree, to=heir, on=DAY, at=NOON, by=owner)
    assert overviews.tree_parties(tree, dt.date(2026, 6, 2)).owner == seller
    assert overviews.tree_parties(tree, DAY).owner == heir
    assert Ownership.objects.filter(tree=tree, until_on=None).count() == 1


def test_passing_on_is_refused_to_the_same_owner_and_before_the_last(owner):
    tree = TreeFactory()
    with pytest.raises(Refused) as refused:
        trees.change_owner(tree=tree, to=tree.ownerships.get().party, on=DAY, at=NOON, by=owner)
    assert refused.value.code == "owner-already"
    with pytest.raises(Refused) as refused:
        trees.change_owner(tree=tree, to=None, on=dt.date(2025, 12, 31), at=NOON, by=owner)
    assert refused.value.code == "before-this-owner"
    assert Ownership.objects.count() == 1
