"""Lists from other programs: letters, delimiters, days in each order."""

import datetime as dt

import pytest

from nursery.csv_lists import Manner, NotReadable, below_the_preface, cut, day_in, decode, usual_width

MANNER = Manner(100, 3, "too large", "no text", "no columns", "too long")


@pytest.mark.parametrize(
    ("data", "text"),
    [("€ 5".encode("cp1252"), "€ 5"), ("é".encode(), "é"), ("é".encode("utf-8-sig"), "é"),
     ("é;1".encode("utf-16"), "é;1"), (b"\x81", "\x81"), ("é".encode("utf-16-be"), None)],
)  # fmt: skip
def test_letters(data, text):
    if text is None:
        with pytest.raises(NotReadable, match="no text"):
            decode(data, MANNER)
    else:
        assert decode(data, MANNER) == text


def test_half_a_letter_is_no_error_of_ours():
    with pytest.raises(NotReadable, match="no text"):
        decode(b"\xff\xfea\x00b", MANNER)


@pytest.mark.parametrize(
    ("text", "sentence"), [("x" * 101, "too large"), ("a;b\n" * 4, "too long"), ("a letter", "no columns")]
)
def test_what_is_refused(text, sentence):
    with pytest.raises(NotReadable, match=sentence):
        cut(decode(text.encode(), MANNER), MANNER)


def test_the_delimiter_that_cuts_best_and_what_stands_above():
    rows = cut("Station 1\n\nday;low\n1;2,5\n", MANNER)
    assert (usual_width(rows), below_the_preface(rows)) == (2, [(3, ("day", "low")), (4, ("1", "2,5"))])


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [("6/13/2026", "mdy", dt.date(2026, 6, 13)), ("13/6/2026", "mdy", None), ("13/6/1899", "dmy", None),
     ("2026-06-13 07:00", "iso", dt.date(2026, 6, 13))],
)  # fmt: skip
def test_days(text, order, day):
    assert day_in(text, order) == day
