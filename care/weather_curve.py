"""The curve of warmth: how far has the year's sum of degree-days come, and when does it cross each pest's line?

Drawn on ruled paper: days run to the right from the start of the count, the sum upwards. The ink line is this year as
read, the shaded band how it may go on between the coolest and the warmest way, with the middle way broken; thin lines
are earlier years; a straw line across is the figure of a pest. Days filled are dots on the line; a stretch of missing
days is hatched. The numbers below are the only place where the drawing is laid out, the template prints them;
`care.weather_curve_words` says the same in words.

Units: sums in degree-days of one measure, places in user units of the drawing. Errors: ValueError for a year without a
single day. Source: the house's own drawing.

>>> facts = Facts(dt.date(2026, 3, 1), (5.0, 12.0, 20.0), figures=(Figure("Scale", 15.0, 30.0),))
>>> drawn = lay_out(facts, WIDE)
>>> drawn.lines[0].word.text, drawn.months[0].text, drawn.course[:1]
('Scale, 15 to 30', 'Mar', 'M')
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

DAY = dt.timedelta(days=1)
LETTER = 6.6
GUTTER = 44
MARGIN = 8
HEAD = 16
FOOT = 30
LINE_OF_WORDS = 16
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")
STEPS = (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000)
MOST_RULES = 8
SHORTEST = 60  # days across, so that the first week of a year is no wall


@dataclass(frozen=True)
class Figure:
    """The figure of a pest: hatch begins at the lower sum and ends at the higher."""

    pest: str
    low: float
    high: float

    @property
    def words(self) -> str:
        """'Juniper scale, 550 to 700'."""
        span = f"{self.low:g}" if self.high == self.low else f"{self.low:g} to {self.high:g}"
        return f"{self.pest}, {span}"


@dataclass(frozen=True)
class Year:
    """An earlier year: its sums from the same start on."""

    year: int
    sums: tuple[float, ...]


@dataclass(frozen=True)
class Facts:
    """What is drawn. Sums are running ones, one a day from `start`; ways go on from the last of them, as sums since
    the same start; `filled` and `missing` are days by their number from the start."""

    start: dt.date
    sums: tuple[float, ...]
    coolest: tuple[float, ...] = ()
    middle: tuple[float, ...] = ()
    warmest: tuple[float, ...] = ()
    earlier: tuple[Year, ...] = ()
    figures: tuple[Figure, ...] = ()
    filled: tuple[int, ...] = ()
    missing: tuple[int, ...] = ()

    @property
    def last(self) -> dt.date:
        """The last day that was read."""
        return self.start + (len(self.sums) - 1) * DAY


@dataclass(frozen=True)
class Paper:
    """How large it is drawn."""

    width: int
    height: int


WIDE, NARROW = Paper(1100, 460), Paper(358, 420)


@dataclass(frozen=True)
class Word:
    """A word at a place; `anchor` is the end that stands there."""

    x: float
    y: float
    text: str
    anchor: str = "start"


@dataclass(frozen=True)
class Rule:
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class PestLine:
    """The line of a pest: where its figure begins, the strip up to where it ends, and its name above."""

    rule: Rule
    top: float
    height: float
    word: Word


@dataclass(frozen=True)
class Dot:
    """A day that was filled."""

    x: float
    y: float


@dataclass(frozen=True)
class Stretch:
    """A hatched stretch of missing days."""

    x: float
    width: float


@dataclass(frozen=True)
class EarlierLine:
    """An earlier year as a thin line with its number at the end."""

    path: str
    word: Word


@dataclass(frozen=True)
class Curve:
    """Everything at its place."""

    width: int
    height: int
    top: float
    bottom: float
    left: float
    right: float
    rules: tuple[Rule, ...]
    figures: tuple[Word, ...]
    ticks: tuple[Rule, ...]
    months: tuple[Word, ...]
    lines: tuple[PestLine, ...]
    earlier: tuple[EarlierLine, ...]
    band: str
    middle: str
    course: str
    filled: tuple[Dot, ...]
    missing: tuple[Stretch, ...]
    here: Word
    here_rule: Rule

    @property
    def depth(self) -> float:
        """From the top of the paper to the line of days."""
        return self.bottom - self.top

    @property
    def across(self) -> float:
        """From the first day to the last."""
        return self.right - self.left


def lay_out(facts: Facts, paper: Paper) -> Curve:
    """Everything of the year at its place on the paper."""
    if not facts.sums:
        raise ValueError("A curve needs at least one day.")
    sheet = _Sheet(paper, facts)
    now = len(facts.sums) - 1
    at = Dot(sheet.x(now), sheet.y(facts.sums[-1]))
    label = f"{facts.sums[-1]:.0f}"
    return Curve(
        width=paper.width,
        height=paper.height,
        top=HEAD,
        bottom=sheet.bottom,
        left=GUTTER,
        right=sheet.right,
        rules=tuple(Rule(GUTTER, sheet.y(sum_), sheet.right, sheet.y(sum_)) for sum_ in sheet.steps),
        figures=tuple(
            Word(GUTTER - 6, _round(sheet.y(sum_) + 4), f"{sum_:g}", "end") for sum_ in sheet.steps
        ),
        ticks=tuple(Rule(x, sheet.bottom, x, sheet.bottom + 6) for x, _ in sheet.months()),
        months=tuple(
            Word(_round(x + 3), sheet.bottom + 18, MONTHS[month - 1]) for x, month in sheet.months()
        ),
        lines=tuple(_lines(sheet, facts.figures)),
        earlier=tuple(_earlier(sheet, facts.earlier)),
        band=_band(sheet, facts),
        middle=sheet.path([facts.sums[-1], *facts.middle], now) if facts.middle else "",
        course=sheet.path(facts.sums),
        filled=tuple(Dot(sheet.x(n), sheet.y(facts.sums[n])) for n in facts.filled),
        missing=tuple(_stretches(sheet, facts.missing)),
        here=Word(_round(at.x - 6), _round(max(HEAD + 12, at.y - 6)), label, "end"),
        here_rule=Rule(at.x, at.y, at.x, sheet.bottom),
    )


def days_across(facts: Facts) -> int:
    """How many days the paper shows: until the coolest way has passed the highest figure, to the end of that month."""
    most = _highest(facts)
    ahead = facts.coolest or facts.middle
    reached = next((n for n, sum_ in enumerate(ahead, 1) if sum_ > most), len(ahead))
    end = facts.last + reached * DAY
    year_end = dt.date(facts.start.year, 12, 31)
    end = min(max(end, facts.last, facts.start + SHORTEST * DAY), max(year_end, facts.last))
    begins_next = dt.date(end.year + end.month // 12, end.month % 12 + 1, 1)
    return (begins_next - facts.start).days


def step_of(most: float) -> int:
    """The distance between ruled lines, so that at most eight are drawn.

    >>> step_of(700.0), step_of(90.0)
    (100, 20)
    """
    return next((step for step in STEPS if most / step <= MOST_RULES), STEPS[-1])


class _Sheet:
    """From days and sums to places."""

    def __init__(self, paper: Paper, facts: Facts) -> None:
        self.start = facts.start
        self.right = paper.width - MARGIN
        self.bottom = paper.height - FOOT
        self.days = days_across(facts)
        step = step_of(_highest(facts) * 1.08)
        self.most = max(_highest(facts) * 1.08, float(step))
        self.steps = range(0, int(self.most) + 1, step)

    def x(self, day: float) -> float:
        """The place of the evening of a day, by its number from the start."""
        return _round(GUTTER + (self.right - GUTTER) * (day + 1) / self.days)

    def y(self, sum_: float) -> float:
        """The place of a sum."""
        return _round(self.bottom - (self.bottom - HEAD) * min(sum_, self.most) / self.most)

    def path(self, sums: Sequence[float], first: int = 0) -> str:
        """A line through sums, one a day from the day `first` on, until it leaves the paper."""
        return _drawn(self.points(sums, first))

    def points(self, sums: Sequence[float], first: int = 0) -> list[tuple[float, float]]:
        """Its points; only the first above the top of the paper is kept."""
        found: list[tuple[float, float]] = []
        for n, sum_ in enumerate(sums[: max(0, self.days - first)], first):
            found.append((self.x(n), self.y(sum_)))
            if sum_ > self.most:
                break
        return found

    def months(self) -> list[tuple[float, int]]:
        """The place and number of each month that begins on the paper."""
        days = (self.start + n * DAY for n in range(self.days))
        return [
            (self.x((day - self.start).days - 1), day.month)
            for day in days
            if day.day == 1 or day == self.start
        ]


def _highest(facts: Facts) -> float:
    """The highest sum that matters: of the figures, or where there is none of the year so far."""
    return max([one.high for one in facts.figures] + [facts.sums[-1], 1.0])


def _lines(sheet: _Sheet, figures: Iterable[Figure]) -> list[PestLine]:
    """From the lowest figure up, each name above its line and none on another."""
    found: list[PestLine] = []
    free: float = sheet.bottom
    for one in sorted(figures, key=lambda figure: (figure.low, figure.high, figure.pest)):
        low, high = sheet.y(one.low), sheet.y(one.high)
        y = _round(min(low - 4, free))
        free = y - LINE_OF_WORDS
        words = _fitting(one.words, sheet.right - GUTTER - 12)
        found.append(
            PestLine(
                Rule(GUTTER, low, sheet.right, low), high, _round(low - high), Word(GUTTER + 6, y, words)
            )
        )
    return found


def _earlier(sheet: _Sheet, years: Iterable[Year]) -> list[EarlierLine]:
    found: list[EarlierLine] = []
    for one in years:
        points = sheet.points(one.sums)
        if len(points) < 2:
            continue
        x, y = points[-1]
        word = Word(min(x, sheet.right) - 4, _round(max(HEAD - 4, y - 5)), str(one.year), "end")
        found.append(EarlierLine(_drawn(points), word))
    return found


def _band(sheet: _Sheet, facts: Facts) -> str:
    """Out along the warmest way and back along the coolest."""
    if not facts.warmest or not facts.coolest:
        return ""
    now = len(facts.sums) - 1
    out = sheet.points([facts.sums[-1], *facts.warmest], now)
    back = sheet.points([facts.sums[-1], *facts.coolest], now)
    top = [(back[-1][0], out[-1][1])] if back[-1][0] > out[-1][0] else []
    return f"{_drawn([*out, *top, *reversed(back)])} Z"


def _stretches(sheet: _Sheet, days: Sequence[int]) -> list[Stretch]:
    found: list[list[int]] = []
    for day in days:
        if found and day == found[-1][-1] + 1:
            found[-1].append(day)
        else:
            found.append([day])
    return [Stretch(sheet.x(run[0] - 1), _round(sheet.x(run[-1]) - sheet.x(run[0] - 1))) for run in found]


def _drawn(points: Sequence[tuple[float, float]]) -> str:
    """A path; points on one straight line are left out, which keeps the page light."""
    kept = [point for n, point in enumerate(points) if n in (0, len(points) - 1) or _bends(points, n)]
    return "M" + " L".join(f"{x:g} {y:g}" for x, y in kept)


def _bends(points: Sequence[tuple[float, float]], n: int) -> bool:
    (ax, ay), (bx, by), (cx, cy) = points[n - 1 : n + 2]
    return abs((bx - ax) * (cy - by) - (cx - bx) * (by - ay)) > 1e-6


def _fitting(words: str, room: float) -> str:
    """Cut where it would leave the paper."""
    most = int(room / LETTER)
    return words if len(words) <= most else f"{words[: most - 1]}…"


def _round(place: float) -> float:
    return round(place, 1)
