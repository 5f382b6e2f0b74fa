import datetime as dt

import pytest
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from boarding.strip import Hatch, Look, StripDay, lay_out
from boarding.strip_words import lines, summary

FIRST = dt.date(2026, 6, 3)
HALF_TWO = dt.datetime(2026, 6, 5, 14, 30)  # noqa: DTZ001  # local wall-clock time, as the strip takes it


def on(offset: int) -> dt.date:
    return FIRST + dt.timedelta(days=offset)


def quiet(count: int, zone: str = "isolation") -> list[StripDay]:
    return [StripDay(on(at), zone) for at in range(count)]


def a_stay() -> list[StripDay]:
    return [
        StripDay(on(0), "entrance", look=Look(41, 12, 60), works=("inspect", "move")),
        StripDay(on(1), "isolation"),
        StripDay(on(2), "isolation", works=("scrub", "jet"), sprays=("rapeseed oil",), hold_until=HALF_TWO),
        StripDay(on(3), "isolation", look=Look(0, 38, 60), works=("inspect",)),
        StripDay(on(4), ""),
    ]


@pytest.mark.parametrize(("days", "rows"), [(1, 1), (35, 1), (36, 2), (70, 2), (71, 3), (200, 6)])
def test_rows_wrap_after_35_days(days, rows):
    drawn = lay_out(quiet(days))
    assert len(drawn.rows) == rows
    assert sum(len(row.numbers) for row in drawn.rows) == days


def test_a_phone_has_rows_of_13_days_and_a_key_that_wraps():
    drawn = lay_out([*a_stay(), *(StripDay(on(5 + at)) for at in range(9))], days_a_row=13)
    assert [len(row.numbers) for row in drawn.rows] == [13, 1]
    assert drawn.width == 397
    assert all(word.x + len(word.text) * 6.2 <= drawn.width for word in drawn.key_words)
    assert len({word.y for word in drawn.key_words}) > 1


def test_several_looks_of_one_day_are_all_counted():
    days = [StripDay(on(0), look=Look(7, 1, 60, times=2)), StripDay(on(1), look=Look(0, 1, 60))]
    assert summary(days) == (
        "2 days, Wed 3 June 2026 to Thu 4 June 2026: 3 looks, live last seen on Wed 3 June 2026, 0 days with work."
    )
    assert [line.words for line in lines(days)] == [
        "7 alive and 1 dead counted on 60 twigs (the most of 2 looks)",
        "none alive and 1 dead counted on 60 twigs",
    ]


def test_where_it_stood_is_a_block_for_each_place():
    blocks = lay_out(a_stay()).rows[0].places
    assert [(block.x, block.width, block.word.text) for block in blocks] == [
        (52, 25, "E"),
        (77, 75, "isolation"),
    ]


def test_a_letter_is_explained_in_the_key():
    drawn = lay_out(a_stay())
    assert [word.text for word in drawn.key_words][-2:] == ["E", "entrance quarantine"]


def test_the_tallest_bar_is_the_highest_count_and_nil_is_a_dot():
    days = [StripDay(on(at), look=Look(live, 0, 60)) for at, live in enumerate([40, 20, 1, 0])]
    row = lay_out(days).rows[0]
    assert [(bar.count, bar.height) for bar in row.bars] == [(40, 32), (20, 16), (1, 5)]
    assert [(dot.x, dot.y) for dot in row.dots] == [(139.5, row.line.y1)]
    assert {bar.y + bar.height for bar in row.bars} == {row.line.y1}


def test_marks_stand_below_the_line_and_a_spray_shows_until_when():
    row = lay_out(a_stay()).rows[0]
    assert [glyph.word for glyph in row.glyphs] == [
        "inspected", "moved", "sprayed", "scrubbed", "jetted with water", "inspected",
    ]  # fmt: skip
    assert all(glyph.y > row.line.y1 for glyph in row.glyphs)
    assert [word.text for word in row.hold_words] == ["14:30"]
    assert [(rule.x1, rule.x2) for rule in row.holds] == [(105, 124)]


def test_a_hold_over_night_reaches_into_the_next_day():
    next_morning = HALF_TWO + dt.timedelta(days=1)
    days = [StripDay(on(2), sprays=("rapeseed oil",), hold_until=next_morning), StripDay(on(3))]
    assert [(rule.x1, rule.x2) for rule in lay_out(days).rows[0].holds] == [(55, 99)]


def test_more_than_three_marks_are_counted():
    days = [StripDay(on(0), works=("scrub", "jet", "wire", "pack", "move"))]
    row = lay_out(days).rows[0]
    assert [glyph.word for glyph in row.glyphs] == ["scrubbed", "jetted with water"]
    assert [word.text for word in row.more] == ["+3"]


def test_an_activity_without_a_mark_keeps_its_name():
    drawn = lay_out([StripDay(on(0), works=("leaf_pruning",))])
    assert [glyph.word for glyph in drawn.key] == ["leaf pruning"]


def test_the_expected_hatch_runs_over_the_row_s_end():
    drawn = lay_out(quiet(40), hatch=Hatch(on(33), on(36)))
    assert [[(band.x, band.width) for band in row.hatches] for row in drawn.rows] == [[(877, 50)], [(52, 50)]]


def test_customers_do_not_see_where_it_stood():
    drawn = lay_out(a_stay(), with_places=False)
    assert drawn.rows[0].places == ()
    assert [side.text for side in drawn.rows[0].sides] == ["found", "done"]
    assert "isolation" not in " ".join(line.words for line in lines(a_stay(), with_places=False))


@pytest.mark.parametrize(
    ("days", "sentence"),
    [
        ([], "at least one day"),
        ([StripDay(on(0)), StripDay(on(2))], "without a gap"),
        ([StripDay(on(1)), StripDay(on(0))], "without a gap"),
        ([StripDay(on(0), look=Look(-1, 0, 60))], "never negative"),
    ],
)
def test_days_that_are_no_stay_are_refused(days, sentence):
    with pytest.raises(ValueError, match=sentence):
        lay_out(days)


@given(st.integers(1, 200), st.integers(0, 500), st.booleans(), st.integers(0, 210), st.integers(0, 30))
def test_everything_drawn_lies_on_the_drawing(count, live, with_places, hatch, length):
    days = [StripDay(on(at), "clean", look=Look(live * (at % 3), 0, 60)) for at in range(count)]
    drawn = lay_out(days, hatch=Hatch(on(hatch), on(hatch + length)), with_places=with_places)
    blocks = [block for row in drawn.rows for block in (*row.places, *row.hatches, *row.bars)]
    assert all(block.x >= 0 and block.x + block.width <= drawn.width for block in blocks)
    assert all(block.y >= 0 and block.y + block.height <= drawn.height for block in blocks)
    words = [word for row in drawn.rows for word in (*row.months, *row.numbers, *row.hold_words)]
    assert all(0 <= word.x <= drawn.width and 0 < word.y <= drawn.height for word in words)
    assert sum(len(row.bars) + len(row.dots) for row in drawn.rows) == count


def test_the_words_say_what_the_drawing_shows():
    assert [(line.day.day, line.words) for line in lines(a_stay())] == [
        (3, "stood in entrance quarantine; 41 alive and 12 dead counted on 60 twigs; inspected; moved"),
        (4, "stood in isolation"),
        (5, "scrubbed; jetted with water; sprayed with rapeseed oil; not to be touched until 14:30"),
        (6, "none alive and 38 dead counted on 60 twigs; inspected"),
        (7, "stood outside the nursery"),
    ]


def test_the_summary_is_one_sentence_and_the_hatch():
    assert summary(a_stay(), hatch=Hatch(on(10), on(14))) == (
        "5 days, Wed 3 June 2026 to Sun 7 June 2026: 2 looks, live last seen on Wed 3 June 2026, 3 days with work. "
        "The next hatch is expected from Sat 13 June 2026 to Wed 17 June 2026."
    )
    assert summary(quiet(1)) == "1 day, Wed 3 June 2026 to Wed 3 June 2026: not looked at, 0 days with work."


def test_the_picture_carries_its_words():
    days = a_stay()
    svg = render_to_string(
        "pieces/stay_strip.svg",
        {"strip": lay_out(days), "summary": summary(days), "title": "Stay of DN-0417"},
    )
    assert "<title>Stay of DN-0417</title>" in svg
    assert "<desc>5 days, Wed 3 June 2026" in svg
    assert svg.count('class="s-live"') == 2  # the bar and the key
    assert "style=" not in svg


def test_a_standing_is_named_where_it_begins_and_marked_where_its_word_has_no_room() -> None:
    words = ["infested"] * 4 + ["clean"] + ["under observation"] * 6
    row = lay_out([StripDay(on(at), standing=word) for at, word in enumerate(words)]).rows[0]
    assert [(change.x, change.word.text) for change in row.standings] == [
        (52, "infested"),
        (152, ""),
        (177, "under observation"),
    ]
    assert [side.text for side in row.sides] == ["stood", "was", "found", "done"]


def test_without_standings_no_room_is_kept_for_them() -> None:
    row = lay_out(quiet(3)).rows[0]
    assert (row.standings, [side.text for side in row.sides]) == ((), ["stood", "found", "done"])


def test_a_changed_standing_is_said_in_words() -> None:
    days = [
        StripDay(on(0), standing="infested"),
        StripDay(on(1), standing="infested"),
        StripDay(on(2), standing="clean"),
    ]
    assert [(line.day, line.words) for line in lines(days)] == [
        (on(0), "was infested"),
        (on(2), "was clean"),
    ]
