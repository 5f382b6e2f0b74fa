"""Sums of degree-days: every published row against what a fresh load brings, and where publishers disagree.

Sources: each row names publisher, title, year and address, and how it was read (data/hatch_figures.txt).
"""

from decimal import Decimal

import pytest

from care.actions.figures import hold_to
from care.models import Threshold
from care.overviews.pests import disagreement
from nursery.management.commands.load_reference import load
from nursery.models import Organism
from nursery.refusals import Refused
from tests.factories import NOON, PersonFactory
from tests.outside.published import figures

PUBLISHED = list(figures())
STARTS = {"March 1": (3, 1), "January 1": (1, 1)}
# What this house reckons by: a vertical cutoff is another method and gives other days.
METHODS = {
    "simple average": "average",
    "simple AGDD": "average",
    "single sine, horizontal cutoff": "sine",
    "single sine, vertical cutoff": "",
    "": "",
}


@pytest.fixture
def loaded(db):
    load()


def number(text):
    return Decimal(text) if text else None


def test_there_are_105_rows_of_30_pests(loaded):
    assert len(PUBLISHED) == 105
    assert Threshold.objects.count() == 105
    assert Threshold.objects.values("organism").distinct().count() == 30


def test_every_published_row_is_there_as_published(loaded):
    rows = {row.row: row for row in Threshold.objects.select_related("organism")}
    for told in PUBLISHED:
        row = rows[told.number]
        found = (
            row.organism.scientific_name,
            row.life_stage,
            row.low,
            row.high,
            row.unit,
            row.base,
            row.upper,
        )
        wanted = (told.pest, told.stage, number(told.low), number(told.high), told.unit)
        assert found == (*wanted, number(told.base), number(told.upper)), told.number
        assert (row.start_words, row.method_words) == (told.start, told.method), told.number
        assert (row.publisher, row.title, row.year, row.address, row.verification) == told.source


def test_a_start_and_a_method_are_only_taken_where_they_are_stated(loaded):
    for row in Threshold.objects.all():
        assert (row.start_month, row.start_day) == STARTS.get(row.start_words, (None, None))
        assert row.method == METHODS[row.method_words]


def test_the_impossible_row_is_kept_with_its_reason_and_nobody_can_hold_to_it(loaded):
    """Michigan State, as read in a public copy, prints 1900-1050 for the second generation of euonymus scale."""
    (row,) = Threshold.objects.filter(usable=False)
    assert (row.row, row.organism.common_name, row.low, row.high) == (21, "Euonymus scale", None, None)
    assert "1900-1050" in row.unusable_why
    owner = PersonFactory(proprietor=True)
    with pytest.raises(Refused) as refused:
        hold_to(
            organism=row.organism, generation=2, threshold=row, start=(3, 1), method="sine", at=NOON, by=owner
        )
    assert refused.value.code == "unusable"


@pytest.mark.parametrize(
    ("pest", "about", "low", "high"),
    [
        ("Juniper scale", "hatch and crawlers", 450, 1260),  # UMass 450-600 and Cornell 707-1260 on one page
        ("Fletcher scale", "egg hatch", 600, 900),  # Wisconsin 600; Michigan State 850-900
        ("Pine needle scale", "first hatch and crawlers", 63, 1046),  # Delaware the widest
        ("Pine needle scale", "second hatch and crawlers", 1250, 1917),  # Michigan State; UNH
        ("Euonymus scale", "first hatch and crawlers", 400, 820),  # Michigan State; Cornell by UMass
        ("Cottony camellia/taxus scale", "hatch and crawlers", 520, 1388),  # Rutgers 520; Cornell 802-1388
        ("Striped pine scale", "hatch and crawlers", 400, 800),  # Cornell 400-500; Michigan State 750-800
        ("Eastern spruce gall adelgid", "egg hatch", 90, 310),  # Wisconsin 90; Michigan State 250-310
        ("Cooley spruce gall adelgid", "on spruce, spring", 22, 120),  # Cornell 22-81; Michigan State 25-120
        ("Cooley spruce gall adelgid", "autumn", 1850, 3000),  # Cornell prints both side by side
        ("Spruce spider mite", "egg hatch", 150, 175),  # Ohio and Oregon State 162; Michigan State 150-175
        ("White prunicola scale", "last window or generation", 1500, 3586),  # UMass 1500-2000; Delaware
    ],
)
def test_where_publishers_disagree_it_is_said(loaded, pest, about, low, high):
    rows = Threshold.objects.filter(organism__common_name=pest, compared_as=about)
    said = disagreement(about, rows)
    assert said.startswith("Publishers disagree. ")
    assert said.endswith(f"from {low} to {high} degree-days above 50 °F.")


def test_figures_of_one_value_are_no_disagreement(loaded):
    """Cornell by UMass and Rutgers both print 1150-1388; the impossible row counts for nothing."""
    rows = Threshold.objects.filter(
        organism__common_name="Euonymus scale", compared_as="second hatch and crawlers"
    )
    assert disagreement("second hatch and crawlers", rows) == ""


def test_a_sum_in_celsius_is_not_compared_with_one_in_fahrenheit(loaded):
    """Citricola scale, Davis 1991-94: 353 above 11 C, the only row in C."""
    row = Threshold.objects.get(unit="C")
    assert (row.organism.common_name, row.low, row.base) == ("Citricola scale", 353, 11)
    other = Threshold.objects.get(row=73)
    assert disagreement("crawlers", [row, other]) == ""


def test_loading_again_adds_nothing_and_changes_nothing(loaded):
    Threshold.objects.filter(row=1).update(note="Looked up again.")
    Organism.objects.filter(common_name="Juniper scale").update(where_to_look="Our own words.")
    assert load() == 0
    assert Threshold.objects.get(row=1).note == "Looked up again."
    assert Organism.objects.get(common_name="Juniper scale").where_to_look == "Our own words."
