"""What a genus is prone to, shown wherever a tree is named or looked at."""

import pytest
from django.urls import reverse

from nursery.models import Host, Organism, Tree
from nursery.overviews import prone_of, prone_to
from tests.factories import OrganismFactory, TaxonFactory, TreeFactory

pytestmark = pytest.mark.django_db
MAIN, SOME, RECORDED = Host.Proneness.MAIN, Host.Proneness.HOST, Host.Proneness.RECORDED


def host(pest: Organism, genus: str, proneness: int, strength: str = "listed", publisher: str = "A college"):
    return Host.objects.create(
        organism=pest,
        genus=genus,
        proneness=proneness,
        strength=strength,
        publisher=publisher,
        address="college.example",
    )


@pytest.fixture
def scale() -> Organism:
    return OrganismFactory(
        common_name="Pine scale", group="armoured_scale", where_to_look="Needles, the lower ones first."
    )


def test_the_strongest_word_counts_and_all_are_kept(scale):
    host(scale, "Pinus", RECORDED, "recorded", "Another college")
    host(scale, "Pinus", MAIN, "most common host")
    (one,) = prone_to("Pinus").pests
    assert [row.strength for row in one.hosts] == ["most common host", "recorded"]


def test_main_hosts_come_before_hosts_and_what_was_only_recorded_stands_apart(scale):
    for name, proneness in (("A mite", RECORDED), ("B scale", SOME), ("C scale", MAIN)):
        host(OrganismFactory(common_name=name), "Pinus", proneness)
    prone = prone_to("Pinus")
    assert [str(one.pest) for one in prone.pests] == ["C scale", "B scale"]
    assert [str(one.pest) for one in prone.recorded] == ["A mite"]


def test_a_pest_of_this_species_comes_first(scale):
    host(OrganismFactory(common_name="A adelgid"), "Pinus", MAIN, "P. strobus principal")
    host(scale, "Pinus", MAIN, "listed; P. mugo and P. sylvestris most damaged")
    assert [str(one.pest) for one in prone_to("Pinus", "mugo").pests] == ["Pine scale", "A adelgid"]
    assert [str(one.pest) for one in prone_to("Pinus", "cembra").pests] == ["A adelgid", "Pine scale"]


def test_a_hybrid_genus_is_asked_for_without_its_sign(scale):
    host(scale, "Hesperotropsis", MAIN)
    assert prone_to("×Hesperotropsis").known


def test_it_costs_one_query(scale, django_assert_num_queries):
    host(scale, "Pinus", MAIN)
    host(OrganismFactory(), "Pinus", RECORDED)
    with django_assert_num_queries(1):
        assert len(prone_to("Pinus").pests) == 1


def test_a_tree_without_a_name_is_prone_to_nothing_known():
    assert prone_of(Tree(described_as="Old tree")) is None


def page(browser, tree):
    return browser.get(reverse("tree_determine", args=[tree.pk])).content.decode()


def test_where_a_taxon_is_determined_it_is_shown(scale, grower, signed_in):
    host(scale, "Pinus", MAIN, "most common host")
    tree = TreeFactory(taxon=TaxonFactory(genus="Pinus", species="mugo"))
    shown = page(signed_in(grower), tree)
    for words in (
        "Pine scale</b>, armoured scale. Needles, the lower ones first.",
        "“most common host”, A college",
        "college.example",
        "Where to look: common practice, no source.",
        "differs within a genus",
    ):
        assert words in shown, words


def test_of_an_unknown_genus_it_is_said_that_nothing_is_known(grower, signed_in):
    tree = TreeFactory(taxon=TaxonFactory(genus="Ginkgo", species="biloba"))
    assert "No published list at hand names a pest of" in page(signed_in(grower), tree)


@pytest.mark.parametrize(
    ("typed", "shown", "said"),
    [
        ("Pinus", True, "Pine scale"),
        ("Pinus mugo 'Mops'", True, "Pine scale"),
        ("Ginkgo", True, "No published list at hand"),
        ("", False, ""),
        ("pinus", False, ""),
        ("Pinus 'Mops", False, ""),
    ],
)
def test_a_genus_just_named_is_answered(scale, grower, signed_in, typed, shown, said):
    host(scale, "Pinus", MAIN)
    answer = signed_in(grower).get(reverse("taxon_prone"), {"taxon": typed}).content.decode()
    assert ("is prone to" in answer) is shown
    assert said in answer
