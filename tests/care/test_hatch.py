"""The next hatch on a tree: of which pest, when, and where it shows on the stay strip."""

import datetime as dt

import pytest

from boarding.overviews.strips import StripSpan, draw, hatch_of
from boarding.strip import Hatch
from care.models import HeldFigure
from care.overviews.hatch import next_hatch
from tests.plan_scenes import BRUSH, on, programme, read, running, says, thermometer
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    """Five degree-days a day at the house since 1 June; the scale hatches between 50 and 90 of them."""
    scene = in_care()
    HeldFigure.objects.create(
        **{"organism": scene.scale, "generation": 1, "low": 50, "high": 90, "unit": "C", "base": 10},
        **{"start_month": 6, "start_day": 1, "method": "average", "why": "Own years"},
        set_at=at(1),
        set_by=scene.proprietor,
    )
    house = thermometer()
    days = {dt.date(2025, 6, 1) + dt.timedelta(days=n): (15.0, 15.0) for n in range(60)}
    read(house, days | {on(day): (15.0, 15.0) for day in range(1, 6)}, scene.grower)
    return scene


def test_a_tree_without_a_find_or_a_plan_expects_no_hatch(scene) -> None:
    assert next_hatch(scene.tree, on(6)) is None


def test_an_infested_tree_expects_the_hatch_of_what_was_found(scene) -> None:
    scene.look(at(4), live=14)
    assert next_hatch(scene.tree, on(6)) == Hatch(on(10), on(18))


def test_a_plan_says_against_which_pest(scene) -> None:
    says(scene, scene.grower, brush="yes")
    running(scene, programme(BRUSH))
    assert next_hatch(scene.tree, on(6)) == Hatch(on(10), on(18))


def test_the_strip_goes_on_to_the_end_of_the_hatch(scene) -> None:
    scene.look(at(4), live=14)
    span = StripSpan(scene.tree, on(3), on(6))
    hatch = hatch_of(span, on(6), None)
    drawn = draw(span, [], hatch=hatch)
    [row] = drawn.strip.rows
    assert [number.text for number in row.numbers][-1] == "18"
    assert [(band.x, band.width, band.word.text) for band in row.hatches] == [(227, 225, "hatch expected")]
    assert drawn.summary.endswith("The next hatch is expected from Wed 10 June 2026 to Thu 18 June 2026.")
    assert drawn.lines[-1].day == on(4)


def test_a_hatch_far_ahead_is_told_in_words_alone(scene) -> None:
    span = StripSpan(scene.tree, on(3), on(6))
    far = Hatch(dt.date(2026, 9, 1), dt.date(2026, 9, 20))
    drawn = draw(span, [], hatch=far)
    assert len(drawn.strip.rows[0].numbers) == 4
    assert "Tue 1 September 2026" in drawn.summary
