"""Normal needle drop: what extension services published, against what customers are told.

Sources beside the rows. Nothing published was found for Pinus mugo, P. thunbergii and P. parviflora: what is told of
them, as of larch and dawn redwood, is common practice, no source.
"""

import datetime as dt

import pytest

from care.overviews.notes import told_now, told_of
from nursery.management.commands.load_reference import load
from nursery.models import Taxon

OCTOBER, JUNE, APRIL = dt.date(2026, 10, 12), dt.date(2026, 6, 12), dt.date(2026, 4, 12)
MINNESOTA, PURDUE = "University of Minnesota Extension 2020", "Purdue Extension 2022"
NORTH_DAKOTA, ILLINOIS = "North Dakota State University Extension", "University of Illinois Extension"
GARDENER = "Minnesota Master Gardener reply 2019"
GEORGIA = "Newspaper column, Georgia (weak source)"
PUBLISHED = [
    ("Pinus strobus", OCTOBER, ["third year turn yellow", "three years in summer and of two in winter"], MINNESOTA),
    ("Pinus strobus", OCTOBER, ["only those of one year by November"], MINNESOTA),
    ("Pinus strobus", OCTOBER, ["they live two to three"], PURDUE),
    ("Pinus strobus", OCTOBER, ["needles live two years", "half of them may drop in early autumn"], GARDENER),
    ("Pinus strobus", OCTOBER, ["gold", "hang on for 7 to 10 days"], ILLINOIS),
    ("Pinus nigra", OCTOBER, ["three years"], MINNESOTA),
    ("Pinus nigra", OCTOBER, ["three years"], PURDUE),
    ("Pinus sylvestris", OCTOBER, ["three years"], MINNESOTA),
    ("Pinus sylvestris", OCTOBER, ["Sources differ", "seven years", "Scots and ponderosa pine together"], NORTH_DAKOTA),
    ("Pinus ponderosa", OCTOBER, ["two to seven years"], NORTH_DAKOTA),
    ("Pinus resinosa", OCTOBER, ["fourth year"], MINNESOTA),
    ("Thuja occidentalis", OCTOBER, ["turns brown, not yellow", "hangs on much longer"], MINNESOTA),
    ("Thuja occidentalis", OCTOBER, ["two to three years"], PURDUE),
    ("Taxus baccata", JUNE, ["late spring or early summer, not in autumn", "third year"], MINNESOTA),
    ("Picea abies", OCTOBER, ["five to seven years"], ILLINOIS),
    ("Picea abies", OCTOBER, ["sources differ", "up to ten"], NORTH_DAKOTA),
    ("Juniperus chinensis", OCTOBER, ["ten years or more"], GEORGIA),
    ("Ilex aquifolium", APRIL, ["older leaves in spring", "new growth begins"], GEORGIA),
    ("Magnolia grandiflora", APRIL, ["older leaves in spring", "new growth begins"], GEORGIA),
]  # fmt: skip


def drop_of(name, day):
    genus, species = name.split()
    return [
        one for one in told_now(Taxon(genus=genus, species=species), day) if one.heading.startswith("Normal")
    ]


@pytest.fixture
def loaded(db):
    load()


@pytest.mark.parametrize(("name", "day", "words", "source"), PUBLISHED)
def test_what_was_published_is_told_with_its_source(loaded, name, day, words, source):
    (note,) = drop_of(name, day)
    assert [word for word in words if word not in note.text] == []
    assert source in note.source


@pytest.mark.parametrize("species", ["mugo", "thunbergii", "parviflora"])
def test_where_nothing_was_published_it_is_said(loaded, species):
    (note,) = drop_of(f"Pinus {species}", OCTOBER)
    assert note.text.startswith("No published figure for this species was found.")
    assert "in autumn, from September on, are those of the second or third year" in note.text
    assert note.source == "common practice, no source"


def test_another_pine_is_told_what_holds_for_pines(loaded):
    (note,) = drop_of("Pinus cembra", OCTOBER)
    assert "second or third year" in note.text


@pytest.mark.parametrize("name", ["Pinus strobus", "Picea abies", "Thuja occidentalis", "Pinus mugo"])
def test_this_year_s_needles_stay_green_and_what_is_not_normal_is_said(loaded, name):
    (note,) = drop_of(name, OCTOBER)
    assert "of this year stay" in note.text
    assert "Not normal" in note.text


def test_what_is_normal_by_illinois(loaded):
    """The inner, oldest needles, even over the whole tree and on neighbours of the same kind, tips green."""
    (note,) = drop_of("Picea abies", OCTOBER)
    assert (
        "oldest needles, on the inside, perhaps all over the tree and on its neighbours of the same kind"
        in note.text
    )
    assert "tips stay green" in note.text


def test_a_yew_drops_nothing_in_autumn(loaded):
    assert drop_of("Taxus baccata", OCTOBER) == []


def test_needle_drop_comes_first(loaded):
    assert told_of(Taxon(genus="Pinus", species="mugo"), OCTOBER)[0].heading == "Normal needle drop"


def test_no_figure_of_cold_is_told_of_the_roots_of_japanese_maple(loaded):
    """Figures in forums run from 15 F to -10 F: none is told."""
    (note,) = [
        one
        for one in told_of(Taxon(genus="Acer", species="palmatum"), JUNE)
        if "cold its roots" in one.heading
    ]
    assert "°" not in note.text


@pytest.mark.parametrize(
    ("name", "words"),
    [
        # Dirr & Smith, Ornamentals Northwest Archives 2(5): young roots killed at these temperatures, in F.
        ("Buxus sempervirens", ["20–25 °F", "−10 to −5 °F"]),
        ("Ilex crenata", ["20–25 °F", "−10 to −5 °F"]),
        ("Pyracantha coccinea", ["22 °F", "2 °F"]),
        ("Rhododendron catawbiense", ["0 °F", "20 °F", "10 °F", "−9 °F"]),
        # H. Mathers, Ohio State University, at second hand.
        ("Ilex opaca", ["23 °F", "9 °F"]),
    ],
)
def test_how_much_cold_roots_bear(loaded, name, words):
    genus, species = name.split()
    told = told_of(Taxon(genus=genus, species=species), JUNE)
    (note,) = [one for one in told if one.heading == "How much cold its roots bear"]
    assert [word for word in words if word not in note.text] == []
