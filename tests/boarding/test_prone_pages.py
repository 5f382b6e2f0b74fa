"""At the gate, at the bench and on the page of a tree: what its genus is prone to, and where to look."""

import pytest
from django.urls import reverse

from boarding.models import Stay
from nursery.management.commands.load_reference import load
from nursery.models import AuditRow, Tree
from tests.factories import PersonFactory, TaxonFactory
from tests.factories_boarding import a_house, a_visit
from tests.scenes import Scene

pytestmark = pytest.mark.django_db
NEW = "Old tree in a blue pot"


@pytest.fixture
def at_the_gate(client):
    a_house()
    load()
    client.force_login(PersonFactory())
    return client


def write_tree(client, visit, **typed):
    told = {"described_as": NEW, "size_class": "2"} | typed
    return client.post(reverse("visit_tree_new", args=[visit.pk]), told)


def look_at(client, visit) -> str:
    stay = Stay.objects.get(tree__described_as=NEW)
    return client.get(reverse("visit_look", args=[visit.pk, stay.pk])).content.decode()


@pytest.mark.parametrize(
    ("typed", "first", "where"),
    [
        ("Pinus mugo", "Pine needle scale", "Needles, the lower branches first"),
        ("Juniperus", "Juniper scale", "Needles, green twigs and cones"),
        ("Olea europaea", "Black scale", "Undersides of leaves along the midrib, and young twigs"),
        ("Camellia japonica", "Cottony camellia/taxus scale", "long white egg sacs"),
    ],
)
def test_a_tree_named_at_check_in_tells_where_to_look_before_the_count(at_the_gate, typed, first, where):
    visit = a_visit()
    assert write_tree(at_the_gate, visit, taxon=typed).status_code == 302
    assert str(Tree.objects.get(described_as=NEW).taxon) == typed
    shown = look_at(at_the_gate, visit)
    pests = shown[shown.index("What it is prone to") : shown.index("What you see")]
    assert first in pests
    assert where in pests
    named = [pests.find(f"<b>{name}</b>") for name in (first, "Spruce spider mite")]
    assert named[1] == -1 or named[0] < named[1]


def test_of_an_unknown_genus_the_gate_says_so(at_the_gate):
    visit = a_visit()
    write_tree(at_the_gate, visit, taxon="Ginkgo biloba")
    assert "No published list at hand names a pest of" in look_at(at_the_gate, visit)


def test_the_name_may_stay_unknown(at_the_gate):
    visit = a_visit()
    write_tree(at_the_gate, visit, taxon="")
    tree = Tree.objects.get(described_as=NEW)
    assert tree.taxon is None
    shown = look_at(at_the_gate, visit)
    assert "Nobody has named its genus yet" in shown
    assert reverse("tree_determine", args=[tree.pk]) in shown


def test_a_name_that_is_none_is_refused_at_its_field_and_nothing_is_written(at_the_gate):
    visit = a_visit()
    shown = write_tree(at_the_gate, visit, taxon="pinus").content.decode()
    assert "Begin with the genus and a capital letter" in shown
    assert 'value="pinus"' in shown
    assert not Tree.objects.filter(described_as=NEW).exists()
    assert not AuditRow.objects.filter(verb="wrote down a taxon").exists()


def test_the_look_in_care_and_the_page_of_the_tree_show_it(scene: Scene, grower):
    load()
    scene.tree.taxon = TaxonFactory(genus="Olea", species="europaea")
    scene.tree.save(update_fields=["taxon"])
    for view in ("look_add", "tree"):
        shown = grower.get(reverse(view, args=[scene.tree.pk])).content.decode()
        assert "<b>Black scale</b>, soft scale." in shown, view
        assert "“Olea primary; others listed”, UC IPM Pest Notes 2012" in shown
        assert "common practice, no source" in shown


def test_all_seven_pests_of_a_maple_are_on_the_page_of_the_tree(scene: Scene, grower):
    load()
    scene.tree.taxon = TaxonFactory(genus="Acer", species="palmatum")
    scene.tree.save(update_fields=["taxon"])
    shown = grower.get(reverse("tree", args=[scene.tree.pk])).content.decode()
    assert shown.count("How strongly, and who says so") == 7
    assert "Recorded on it too: 4" in shown
