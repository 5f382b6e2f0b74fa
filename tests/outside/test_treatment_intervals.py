"""Intervals and rounds of the usual programmes against what extension services publish; sources beside each."""

import json
from pathlib import Path

import pytest
from django.conf import settings

from boarding.overviews.strips import LONGEST
from care.actions.plans import MOST_ROUNDS

PROGRAMMES = {
    row["name"]: row
    for row in json.loads((Path(settings.BASE_DIR) / "fixtures" / "programmes.json").read_text())[
        "programmes"
    ]
}
SPRAYS = {"soap", "oil", "contact", "regulator", "systemic"}


def steps(name: str, kind: str) -> list[dict]:
    return [step for step in PROGRAMMES[name]["steps"] if step["kind"] == kind]


def sprays_in_all(name: str) -> int:
    """Sprays over the rounds expected."""
    row = PROGRAMMES[name]
    each = [step for step in row["steps"] if step["kind"] in SPRAYS]
    first = [step for step in each if not step.get("each_round", True)]
    return len(first) + (len(each) - len(first)) * row["expected_rounds"]


def test_two_sprays_seven_to_ten_days_apart_from_the_first_crawlers() -> None:
    # Penn State scouting report, 17 June 2008 (cryptomeria scale): two sprays 7 to 10 days apart, from first crawlers.
    hatch, again = steps("Scale, by the hatch", "soap")
    assert hatch["waits"] == "hatch"
    assert (again["least_days"], again["most_days"]) == (7, 10)


def test_two_to_four_sprays_in_all() -> None:
    # Penn State scouting report, 6 June 2007 (cryptomeria scale): 2 to 4 sprays, 7 to 10 days apart.
    assert sprays_in_all("Scale, by hand and soap") == 3
    assert sprays_in_all("Scale, by the hatch") == 2


def test_one_oil_a_year_within_two_weeks_of_the_crawlers() -> None:
    # Michigan State University Extension (D. Smitley), juniper scale: horticultural oil 2 %, one spray a year.
    [oil] = steps("Juniper scale, summer oil", "oil")
    assert (oil["waits"], oil["window_days"], sprays_in_all("Juniper scale, summer oil")) == ("hatch", 14, 1)


def test_a_growth_regulator_holds_for_about_three_weeks() -> None:
    # University of Maryland, 28 August 2009 (Japanese maple scale): buprofezin with 1 % oil, about 3 weeks.
    [regulator] = steps("Japanese maple scale, growth regulator", "regulator")
    assert (regulator["least_days"], regulator["best_days"]) == (21, 21)


def test_oil_against_mites_two_to_three_times_seven_to_ten_days_apart() -> None:
    # Minnesota Department of Natural Resources, 1999 (spruce spider mite).
    [oil] = steps("Spruce spider mite, oil", "oil")
    assert (oil["least_days"], oil["most_days"], sprays_in_all("Spruce spider mite, oil")) == (7, 10, 3)


def test_soap_is_looked_at_again_after_two_to_three_days() -> None:
    # University of Kentucky, 29 May 2013: insecticidal soap has no residual; check after 2 to 3 days.
    looks = steps("Woolly adelgid on pine, water then soap", "inspect")
    assert [(look["least_days"], look["best_days"]) for look in looks] == [(2, 3)]


@pytest.mark.parametrize("name", ["Scale, by hand and soap", "Scale, by the hatch"])
def test_eggs_outlast_one_spray_so_a_programme_repeats_and_brushing_does_not_replace_it(name: str) -> None:
    # Common practice, no source; eggs under the mother's cover at the first spray go on hatching: Penn State 2008.
    assert sprays_in_all(name) >= 2
    kinds = [step["kind"] for step in PROGRAMMES[name]["steps"]]
    assert kinds.index("brush") < kinds.index("soap")


def test_a_heavy_case_may_stay_eighteen_weeks_and_more() -> None:
    # Common practice, no source. A round a week, and every day of such a stay has its place on the strip.
    assert MOST_ROUNDS * 7 >= 18 * 7
    assert LONGEST > 18 * 7


def test_every_programme_names_its_source() -> None:
    assert all(row["source"].strip() for row in PROGRAMMES.values())
