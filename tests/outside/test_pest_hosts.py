"""Which pest lives on which genus: every published row against what a fresh load brings.

Sources: each row names its publisher and address (data/pest_hosts.txt). That how prone a tree is differs within a
genus is common practice, no source.
"""

import pytest

from nursery.management.commands.load_reference import load
from nursery.models import Host, Organism
from nursery.overviews import prone_to
from tests.outside.published import hosts

PUBLISHED = list(hosts())


@pytest.fixture
def loaded(db):
    load()


def test_there_are_136_rows(loaded):
    assert len(PUBLISHED) == 136
    assert Host.objects.count() == 136


def test_every_published_row_is_there_word_for_word(loaded):
    rows = Host.objects.values_list("organism__scientific_name", "genus", "strength", "publisher", "address")
    wanted = {(row.pest, row.genus, row.strength, row.publisher, row.address) for row in PUBLISHED}
    assert set(rows) == wanted


def test_one_pest_is_one_row_whatever_it_is_called(loaded):
    """The tables print it as camellia/taxus and as camellia (taxus) scale."""
    pest = Organism.objects.get(scientific_name="Pulvinaria floccifera")
    assert Organism.objects.filter(common_name__icontains="cottony camellia").get() == pest
    assert pest.hosts.count() == 16
    assert pest.thresholds.count() == 4


@pytest.mark.parametrize(
    ("genus", "main", "recorded"),
    [
        # The reading of the published rows: who is named as the main, preferred, usual or common host comes first.
        ("Juniperus", ["Juniper scale"], ["Fletcher scale", "Spruce spider mite"]),
        (
            "Taxus",
            ["Cottony camellia/taxus scale", "Fletcher scale"],
            ["Elongate hemlock scale", "Juniper scale", "Spruce spider mite"],
        ),
        ("Thuja", ["Fletcher scale"], ["Juniper scale", "Spruce spider mite"]),
        (
            "Pinus",
            ["Pine bark adelgid", "Pine needle scale"],
            ["Elongate hemlock scale", "Spruce spider mite"],
        ),
        (
            "Camellia",
            ["Cottony camellia/taxus scale", "Japanese maple scale", "Tea scale"],
            ["Euonymus scale"],
        ),
        ("Olea", ["Black scale"], []),
        ("Citrus", ["California red scale"], ["Black scale"]),
        (
            "Picea",
            ["Cooley spruce gall adelgid", "Eastern spruce gall adelgid"],
            ["Elongate hemlock scale", "Pine needle scale", "Spruce spider mite"],
        ),
        (
            "Acer",
            ["Cottony camellia/taxus scale", "Cottony maple scale", "Japanese maple scale"],
            ["Black scale", "Euonymus scale", "Oystershell scale", "White prunicola scale"],
        ),
        (
            "Ilex",
            ["Cottony camellia/taxus scale", "Japanese maple scale"],
            ["Black scale", "Euonymus scale", "Tea scale", "White prunicola scale"],
        ),
        (
            "Euonymus",
            ["Cottony camellia/taxus scale", "Euonymus scale", "Japanese maple scale"],
            [],
        ),
    ],
)
def test_what_a_genus_is_prone_to_the_strongest_first(loaded, genus, main, recorded):
    prone = prone_to(genus)
    assert [one.pest.common_name for one in prone.pests] == main
    assert [one.pest.common_name for one in prone.recorded] == recorded


def test_the_species_most_damaged_is_named_first(loaded):
    """NC State by Penn State: mugo and sylvestris suffer most from pine needle scale; the adelgid is one of strobus."""
    assert prone_to("Pinus", "mugo").pests[0].pest.common_name == "Pine needle scale"
    assert prone_to("Pinus", "strobus").pests[0].pest.common_name == "Pine bark adelgid"


def test_nothing_is_known_of_a_genus_nobody_names(loaded):
    assert not prone_to("Ginkgo").known


@pytest.mark.parametrize(
    ("pest", "places"),
    [
        # Common practice, no source.
        ("Pine needle scale", ["Needles"]),
        ("Euonymus scale", ["Bark", "undersides of leaves"]),
        ("Oystershell scale", ["Bark"]),
        ("Black scale", ["Undersides of leaves", "midrib", "twigs"]),
        ("Fletcher scale", ["twigs", "needles"]),
        ("Pine bark adelgid", ["Bark", "needles", "white wool"]),
        ("Taxus mealybug", ["leaf axils"]),
        # Tapping over white paper: Cornell, Utah State and Purdue extension pages.
        ("Spruce spider mite", ["Tap a branch over white paper"]),
        # Dark paper for pale crawlers: Colorado State University.
        ("Oystershell scale", ["Dark paper"]),
    ],
)
def test_where_to_look(loaded, pest, places):
    told = Organism.objects.get(common_name=pest).where_to_look
    assert [place for place in places if place not in told] == []


def test_every_pest_has_a_group_stages_and_a_place_to_look(loaded):
    for pest in Organism.objects.all():
        assert pest.group
        assert pest.life_stages[0] == "egg"
        assert pest.where_to_look
