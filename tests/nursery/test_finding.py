"""The one field: tag, scanned address, document number, tree, customer."""

import pytest

from nursery import finding
from nursery.actions import trees
from nursery.finding import Kind
from nursery.models import Paper
from tests.factories import DAY, NOON, PartyFactory, TreeFactory


def paper(number, kind, by):
    return Paper.objects.create(
        kind=kind, number=number, title="T", issued_on=DAY, issued_at=NOON, issued_by=by, words={}
    )


@pytest.mark.parametrize(
    "typed", ["DN-0412", "dn0412", "0412", "412", "DN-0412-P", "https://trees.example/t/DN0412P"]
)
def test_a_live_tag_in_any_spelling_leads_to_its_tree(typed, grower):
    tree = TreeFactory(tag__code="DN0412")
    hit = finding.find(typed, grower).only()
    assert (hit.kind, hit.key) == (Kind.TREE, tree.pk)


def test_a_retired_tag_says_which_tree_and_which_tag_now(grower):
    tree = TreeFactory(described_as="Big olive", tag__code="DN0412")
    trees.retire_tag(tag=tree.tags.get(), why="lost", at=NOON, by=grower, code="DN0501")
    found = finding.find("DN-0412", grower)
    assert found.only() is None
    assert found.hits[0].key == tree.pk
    assert found.sentence == (
        "DN-0412 was on Big olive and was retired on 3 June 2026 (lost). The tree now has the tag DN-0501."
    )


def test_an_unknown_tag_says_what_to_do(grower):
    found = finding.find("DN-0999", grower)
    assert found.hits == ()
    assert found.sentence.startswith("No tree has ever had the tag DN-0999 here. Read the tag again")


def test_a_misread_tag_is_noticed_by_its_check_character(grower):
    TreeFactory(tag__code="DN0412")
    found = finding.find("DN-0412-N", grower)
    assert found.hits == ()
    assert "wrong letter or digit" in found.sentence


def test_a_strange_square_code_is_named_so(grower):
    assert "not of a tree" in finding.find("https://elsewhere.example/menu", grower).sentence


def test_words_find_trees_and_customers(grower):
    party = PartyFactory(name="Mary Byrne")
    tree = TreeFactory(described_as="Olive by the door", owner__party=party)
    found = finding.find("byrne", grower)
    assert [(hit.kind, hit.key) for hit in found.hits] == [(Kind.TREE, tree.pk), (Kind.PARTY, party.pk)]
    assert finding.find("olive door", grower).only().key == tree.pk
    assert finding.find("olive gate", grower).hits == ()


@pytest.mark.parametrize("typed", ["G-2026-0007", "g-2026-7", "G20260007"])
def test_a_document_by_its_number(typed, owner, grower):
    paper("G-2026-0007", "receipt", owner)
    assert finding.find(typed, grower).only().key == "G-2026-0007"


def test_a_bill_is_found_at_the_desk_only(owner, office, grower):
    paper("I-2026-0047", "invoice", owner)
    assert finding.find("I-2026-0047", office).only().key == "I-2026-0047"
    assert finding.find("I-2026-0047", grower).hits == ()


def test_nothing_typed_asks_for_something(grower):
    assert finding.find("  ", grower).sentence.startswith("Type or scan")


def test_nothing_found_says_so(grower):
    assert "Nothing here is called “xyzzy”" in finding.find("xyzzy", grower).sentence


def test_looking_costs_the_same_with_more_rows(grower, django_assert_num_queries):
    for _ in range(3):
        TreeFactory(described_as="Olive")
    with django_assert_num_queries(5):
        finding.find("olive", grower)
    for _ in range(12):
        TreeFactory(described_as="Olive")
    with django_assert_num_queries(5):
        finding.find("olive", grower)


@pytest.mark.parametrize("typed", ["DN", "dn-"])
def test_the_prefix_alone_asks_for_the_number(typed, grower):
    found = finding.find(typed, grower)
    assert (found.hits, found.sentence) == (
        (),
        "Every tag here begins with DN; type its number too, for example DN-0412.",
    )
