"""The curve of warmth: where everything stands on the paper, and the same in words."""

import datetime as dt
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.weather_curve import NARROW, WIDE, Facts, Figure, Year, days_across, lay_out, step_of
from care.weather_curve_words import lines, summary

MARCH = dt.date(2026, 3, 1)
STEADY = tuple(5.0 * n for n in range(1, 21))  # 100 by 20 March
ON = {
    "coolest": tuple(100 + 2.0 * n for n in range(1, 200)),
    "middle": tuple(100 + 5.0 * n for n in range(1, 200)),
    "warmest": tuple(100 + 8.0 * n for n in range(1, 200)),
}
SCALE, LATE = Figure("Scale", 60, 90), Figure("Late scale", 200, 300)


def points(path):
    return [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", path)]


def facts(**told):
    return Facts(MARCH, STEADY, figures=(SCALE, LATE), **{**ON, **told})


def test_the_paper_runs_to_the_end_of_the_month_in_which_the_coolest_way_passes_the_last_figure():
    # 300 is passed 101 days after 20 March: on 29 June.
    assert days_across(facts()) == (dt.date(2026, 7, 1) - MARCH).days
    assert days_across(Facts(MARCH, STEADY)) == (dt.date(2026, 5, 1) - MARCH).days
    whole_year = tuple(0.0 for _ in range(400))
    assert days_across(facts(coolest=whole_year)) == (dt.date(2027, 1, 1) - MARCH).days


@pytest.mark.parametrize("paper", [WIDE, NARROW])
def test_everything_stands_on_the_paper(paper):
    drawn = lay_out(facts(earlier=(Year(2025, STEADY * 3),), filled=(3,), missing=(7, 8, 9, 12)), paper)
    for path in (drawn.course, drawn.middle, drawn.band, drawn.earlier[0].path):
        assert all(
            drawn.left <= x <= drawn.right + 0.1 and drawn.top - 0.1 <= y <= drawn.bottom
            for x, y in points(path)
        )
    assert [word.text for word in drawn.months] == ["Mar", "Apr", "May", "June"]
    assert [word.text for word in drawn.figures] == ["0", "50", "100", "150", "200", "250", "300"]
    assert len(drawn.missing) == 2
    assert drawn.missing[0].width > drawn.missing[1].width
    assert points(drawn.course)[-1] == points(drawn.middle)[0] == (drawn.here_rule.x1, drawn.here_rule.y1)


def test_a_winter_without_warmth_is_two_points():
    assert len(points(lay_out(Facts(MARCH, (0.0,) * 60), WIDE).course)) == 2


def test_the_lines_of_pests_rise_and_no_name_lies_on_another():
    near = tuple(Figure(f"Pest {n}", 300 + n, 310 + n) for n in range(8))
    drawn = lay_out(Facts(MARCH, STEADY, figures=near), NARROW)
    places = [line.word.y for line in drawn.lines]
    assert all(before - after > 15.9 for before, after in zip(places, places[1:], strict=False))
    rules = [line.rule.y1 for line in drawn.lines]
    assert rules == sorted(rules, reverse=True)


def test_a_name_too_long_for_the_paper_is_cut():
    drawn = lay_out(Facts(MARCH, STEADY, figures=(Figure("A very long name " * 6, 50, 60),)), NARROW)
    assert drawn.lines[0].word.text.endswith("…")


def test_with_nothing_ahead_there_is_neither_band_nor_middle():
    drawn = lay_out(Facts(MARCH, STEADY), WIDE)
    assert (drawn.band, drawn.middle, drawn.lines) == ("", "", ())


def test_a_year_without_a_day_has_no_curve():
    with pytest.raises(ValueError, match="at least one day"):
        lay_out(Facts(MARCH, ()), WIDE)


@pytest.mark.parametrize(("most", "step"), [(1.0, 1), (9.0, 2), (300.0, 50), (1000.0, 200), (40_000.0, 5000)])
def test_at_most_eight_ruled_lines(most, step):
    assert step_of(most) == step


def test_the_same_in_words():
    told = facts(earlier=(Year(2025, tuple(4.0 * n for n in range(1, 200))),), filled=(3, 4), missing=(7,))
    assert (
        summary(told)
        == "100 degree-days from Sun 1 March 2026 to Fri 20 March 2026. Of 2 figures 1 is passed."
    )
    assert lines(told) == [
        "100 degree-days by Fri 20 March 2026, counted since Sun 1 March 2026.",
        "Scale, 60 to 90: begins Thu 12 March 2026, as read.",
        "Late scale, 200 to 300: begins about Thu 9 April 2026,"
        " between Thu 2 April 2026 and Sat 9 May 2026, as foreseen.",
        "2025: 80 by the same day.",
        "Filled by the days around: Wed 4 March, Thu 5 March.",
        "Missing, only a range is known: Sun 8 March.",
    ]


def test_words_where_nothing_tells_how_it_goes_on():
    told = Facts(MARCH, STEADY, figures=(Figure("Late scale", 200, 200),))
    assert lines(told)[1] == "Late scale, 200: not reached yet."
    flat = tuple(100.0 for _ in range(100))
    told = Facts(MARCH, STEADY, flat, flat, flat, figures=(LATE,))
    assert lines(told)[1] == "Late scale, 200 to 300: not reached by any way the year may go on."


@given(
    daily=st.lists(st.floats(0, 30), min_size=1, max_size=300),
    ahead=st.lists(st.floats(0, 30), max_size=300),
    lows=st.lists(st.floats(1, 3000), max_size=12),
)
def test_any_year_is_drawn_within_its_paper(daily, ahead, lows):
    sums = tuple(sum(daily[: n + 1]) for n in range(len(daily)))
    way = tuple(sums[-1] + sum(ahead[: n + 1]) for n in range(len(ahead)))
    figures = tuple(Figure(f"Pest {n}", low, low + 50) for n, low in enumerate(lows))
    for paper in (WIDE, NARROW):
        drawn = lay_out(Facts(MARCH, sums, way, way, way, figures=figures), paper)
        for path in (drawn.course, drawn.middle, drawn.band):
            assert all(0 <= x <= paper.width and 0 <= y <= paper.height for x, y in points(path))
