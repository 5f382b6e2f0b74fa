"""The stay strip: one ruled row of day cells for a whole stay, like the temperature sheet at a bedside.

Trade question: where did this tree stand, what was found on it, what was done to it, and when is the next
hatch due? Above the line stands the place (shaded by zone), on the line what was found (live count as a
bar, none alive as a dot), below it what was done. Rows of 35 days on a desk and on paper, of 13 on a phone; the
numbers below are the only place where the drawing is laid out, the template prints them. `boarding.strip_words`
says the same in words.

Units: user units of the drawing (about a pixel on a desk page). Errors: ValueError for no days, for days that
do not follow each other, and for a negative count. Source: the house's own drawing.

>>> days = [StripDay(dt.date(2026, 6, 3), "isolation", look=Look(live=4, dead=1, twigs=60)),
...         StripDay(dt.date(2026, 6, 4), "isolation", works=("scrub",))]
>>> drawn = lay_out(days)
>>> len(drawn.rows), drawn.rows[0].bars[0].count, drawn.rows[0].glyphs[0].word
(1, 4, 'scrubbed')
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TypeVar

from boarding.strip_marks import DRAWINGS, OTHER, SHADES, Drawing, work_word, zone_word
from boarding.strip_shapes import Bar, Block, Change, Dot, Glyph, Row, Rule, Strip, Word

T = TypeVar("T")

DAYS_A_ROW = 35
DAYS_A_ROW_ON_A_PHONE = 13
CELL = 25
GUTTER = 52
MARGIN = 20
HEAD = 30
PLACE = 20
HEALTH = 18
FOUND = 50
QUIET = 22
TALLEST = 32
STEP = 16
MOST_MARKS = 3
FOOT = 20
GAP = 18
LETTER = 6.8
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Look:
    """What an inspection counted on a number of twigs; of `times` on one day the one with the most alive."""

    live: int
    dead: int
    twigs: int
    times: int = 1


@dataclass(frozen=True)
class StripDay:
    """One calendar day of the stay; until `hold_until` (local time) the tree is not touched. `standing` is a word."""

    day: dt.date
    zone: str = ""
    look: Look | None = None
    works: tuple[str, ...] = ()
    sprays: tuple[str, ...] = ()
    hold_until: dt.datetime | None = None
    standing: str = ""


@dataclass(frozen=True)
class Hatch:
    """First and last day on which the next crawlers are expected."""

    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class _Frame:
    """The levels of one row: top edge, place band, standing, line, marks, foot; and how wide it may be."""

    top: float
    place: float
    health: float
    line: float
    marks: float
    foot: float
    bottom: float
    width: float


def lay_out(
    days: Sequence[StripDay],
    *,
    hatch: Hatch | None = None,
    with_places: bool = True,
    days_a_row: int = DAYS_A_ROW,
) -> Strip:
    """The geometry of a strip; `with_places=False` leaves out where the tree stood (for customers)."""
    _checked(days)
    width = GUTTER + days_a_row * CELL + MARGIN
    tallest = max((day.look.live for day in days if day.look), default=0)
    rows = []
    top = 0.0
    for at in range(0, len(days), days_a_row):
        chunk = days[at : at + days_a_row]
        frame = _frame(top, chunk, with_places, width)
        rows.append(_row(chunk, frame, tallest, hatch, with_places))
        top = frame.bottom + GAP
    return _with_key(tuple(rows), days, top, width)


def _checked(days: Sequence[StripDay]) -> None:
    if not days:
        raise ValueError("A strip needs at least one day.")
    if any(day.day != days[0].day + dt.timedelta(days=at) for at, day in enumerate(days)):
        raise ValueError("The days of a strip follow each other without a gap.")
    if any(day.look and min(day.look.live, day.look.dead, day.look.twigs) < 0 for day in days):
        raise ValueError("A count is never negative.")


def _frame(top: float, days: Sequence[StripDay], with_places: bool, width: float) -> _Frame:
    """A row is as tall as what happened in it: a quiet month takes little paper."""
    depth = max(1, min(MOST_MARKS, max(len(_done(day)) for day in days)))
    found = FOUND if any(day.look and day.look.live for day in days) else QUIET
    place = top + HEAD
    health = place + (PLACE if with_places else 0)
    line = health + (HEALTH if any(day.standing for day in days) else 0) + found
    marks = line + STEP - 4
    foot = line + depth * STEP + 4
    return _Frame(top, place, health, line, marks, foot, foot + FOOT, width)


def _row(
    days: Sequence[StripDay], frame: _Frame, tallest: int, hatch: Hatch | None, with_places: bool
) -> Row:
    counted = [(at, day.look) for at, day in enumerate(days) if day.look]
    return Row(
        sides=_sides(frame, days, with_places),
        months=tuple(_months(days, frame)),
        numbers=tuple(
            Word(_middle(at), frame.top + 25, str(day.day.day), day.day.weekday() == 0)
            for at, day in enumerate(days)
        ),
        ticks=tuple(Rule(_left(at), _left(at), frame.place, frame.foot) for at in range(len(days) + 1)),
        line=Rule(GUTTER, _left(len(days)), frame.line, frame.line),
        places=tuple(_places(days, frame)) if with_places else (),
        standings=tuple(_standings(days, frame)),
        hatches=tuple(_hatches(days, frame, hatch)),
        bars=tuple(_bar(at, look.live, frame, tallest) for at, look in counted if look.live),
        dots=tuple(Dot(_middle(at), frame.line) for at, look in counted if not look.live),
        glyphs=tuple(_glyphs(days, frame)),
        more=tuple(_more(days, frame)),
        holds=tuple(_holds(days, frame)),
        hold_words=tuple(
            Word(_middle(at), frame.foot + 16, f"{day.hold_until:%H:%M}")
            for at, day in enumerate(days)
            if day.hold_until
        ),
    )


def _left(at: int) -> float:
    return GUTTER + at * CELL


def _middle(at: int) -> float:
    return GUTTER + at * CELL + CELL / 2


def _sides(frame: _Frame, days: Sequence[StripDay], with_places: bool) -> tuple[Word, ...]:
    stood = (Word(0, frame.place + 14, "stood"),) if with_places else ()
    was = (Word(0, frame.health + 13, "was"),) if any(day.standing for day in days) else ()
    return (*stood, *was, Word(0, frame.line - 4, "found"), Word(0, frame.marks + 4, "done"))


def _months(days: Sequence[StripDay], frame: _Frame) -> Iterator[Word]:
    for at, day in enumerate(days):
        # A first cell late in its month leaves no room before the next month's own word.
        crowded = at == 0 and len(days) > 1 and any(later.day.day == 1 for later in days[1:3])
        if (at == 0 or day.day.day == 1) and not crowded:
            yield Word(
                min(_left(at) + 2, frame.width - 66),
                frame.top + 11,
                f"{MONTHS[day.day.month - 1]} {day.day.year}",
            )


def _places(days: Sequence[StripDay], frame: _Frame) -> Iterator[Block]:
    for zone, first, length in _runs([day.zone for day in days]):
        if zone:
            text = _fitting(zone_word(zone), length)
            word = Word(_left(first) + 4, frame.place + 14, text)
            yield Block(_left(first), frame.place, length * CELL, PLACE - 2, SHADES.get(zone, ".2"), word)


def _standings(days: Sequence[StripDay], frame: _Frame) -> Iterator[Change]:
    """The word of each standing from the day on which it began, as long as its run has room for it."""
    for standing, first, length in _runs([day.standing for day in days]):
        if standing:
            fits = len(standing) * LETTER + 6 <= length * CELL
            word = Word(_left(first) + 4, frame.health + 13, standing if fits else "")
            yield Change(_left(first), frame.health + 2, frame.health + HEALTH - 2, word)


def _hatches(days: Sequence[StripDay], frame: _Frame, hatch: Hatch | None) -> Iterator[Block]:
    inside = [hatch is not None and hatch.first <= day.day <= hatch.last for day in days]
    for expected, first, length in _runs(inside):
        if expected:
            word = Word(min(_left(first) + 2, frame.width - 98), frame.bottom + 8, "hatch expected")
            yield Block(_left(first), frame.place, length * CELL, frame.foot - frame.place, ".2", word)


def _bar(at: int, live: int, frame: _Frame, tallest: int) -> Bar:
    height = round(max(5.0, TALLEST * live / tallest), 1)
    top = frame.line - height
    return Bar(_middle(at) - 4, top, 8, height, live, Word(_middle(at), top - 3, str(live)))


def _done(day: StripDay) -> tuple[str, ...]:
    """Codes of the marks below the line, each activity once; a spray is one of them."""
    sprayed = ("spray",) if day.sprays else ()
    return tuple(dict.fromkeys((*sprayed, *day.works)))


def _glyphs(days: Sequence[StripDay], frame: _Frame) -> Iterator[Glyph]:
    for at, day in enumerate(days):
        done = _done(day)
        shown = done if len(done) <= MOST_MARKS else done[: MOST_MARKS - 1]
        for level, code in enumerate(shown):
            yield _glyph(code, _middle(at), frame.marks + level * STEP)


def _glyph(code: str, x: float, y: float) -> Glyph:
    drawing: Drawing = DRAWINGS.get(code, OTHER)
    return Glyph(x, y, drawing.path, drawing.filled, work_word(code))


def _more(days: Sequence[StripDay], frame: _Frame) -> Iterator[Word]:
    for at, day in enumerate(days):
        left = len(_done(day)) - (MOST_MARKS - 1)
        if left > 1:
            yield Word(_middle(at), frame.marks + (MOST_MARKS - 1) * STEP + 4, f"+{left}")


def _holds(days: Sequence[StripDay], frame: _Frame) -> Iterator[Rule]:
    for at, day in enumerate(days):
        if day.hold_until:
            last = min(len(days) - 1, at + max(0, (day.hold_until.date() - day.day).days))
            yield Rule(_left(at) + 3, _left(last + 1) - 3, frame.foot + 3, frame.foot + 3)


def _runs(values: Sequence[T]) -> Iterator[tuple[T, int, int]]:
    """(value, first index, length) of each run of equal values."""
    first = 0
    for value, group in groupby(values):
        length = len(list(group))
        yield value, first, length
        first += length


def _fitting(word: str, cells: int) -> str:
    return word if len(word) * LETTER + 6 <= cells * CELL else word[0].upper()


def _letters(rows: tuple[Row, ...], days: Sequence[StripDay]) -> list[tuple[str, str]]:
    """(letter, zone in words) for each place too short for its word."""
    short = {place.word.text for row in rows for place in row.places if len(place.word.text) == 1}
    zones = dict.fromkeys(zone_word(day.zone) for day in days if day.zone)
    return [(zone[0].upper(), zone) for zone in zones if zone[0].upper() in short]


def _room(text: str) -> int:
    """The room an entry of the key takes, its mark and the gap to the next included."""
    return round(38 + len(text) * 6.2)


def _with_key(rows: tuple[Row, ...], days: Sequence[StripDay], top: float, width: float) -> Strip:
    """The key below the rows: what a bar, a dot, each mark and each letter stands for, line by line."""
    pen = _Pen(width, top + 16)
    x, y = pen.take("live counted")
    bar = Bar(x, y - 10, 8, 10, 0, Word(x + 16, y, "live counted"))
    words = [bar.word]
    x, y = pen.take("none alive seen")
    dot = Dot(x + 5, y - 4)
    words.append(Word(x + 16, y, "none alive seen"))
    key = []
    for code in dict.fromkeys(code for day in days for code in _done(day)):
        text = work_word(code)
        x, y = pen.take(text)
        key.append(_glyph(code, x + 5, y - 4))
        words.append(Word(x + 16, y, text))
    for letter, text in _letters(rows, days):
        x, y = pen.take(text)
        words += [Word(x, y, letter, strong=True), Word(x + 16, y, text)]
    return Strip(
        width, pen.y + 8, rows, tuple(key), tuple(words), Rule(GUTTER, width - 4, top, top), bar, dot
    )


class _Pen:
    """Where the next entry of the key goes: on the line, or at the start of the next one when it is full."""

    def __init__(self, width: float, y: float) -> None:
        self.width, self.x, self.y = width, float(GUTTER), y

    def take(self, text: str) -> tuple[float, float]:
        """The place of an entry; the pen moves on behind it."""
        if self.x > GUTTER and self.x + _room(text) > self.width:
            self.x, self.y = GUTTER, self.y + STEP + 4
        at = self.x, self.y
        self.x += _room(text)
        return at
