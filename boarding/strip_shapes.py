"""The shapes of which a stay strip is drawn, in user units of the drawing; `boarding.strip` lays them out."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """A word at a place of the drawing."""

    x: float
    y: float
    text: str
    strong: bool = False


@dataclass(frozen=True)
class Change:
    """Where a standing begins: a short upright stroke, and its word where there is room for it."""

    x: float
    y1: float
    y2: float
    word: Word


@dataclass(frozen=True)
class Block:
    """A shaded rectangle with its word."""

    x: float
    y: float
    width: float
    height: float
    shade: str
    word: Word


@dataclass(frozen=True)
class Bar:
    """A live count standing on the line."""

    x: float
    y: float
    width: float
    height: float
    count: int
    word: Word


@dataclass(frozen=True)
class Dot:
    """A look that found none alive."""

    x: float
    y: float


@dataclass(frozen=True)
class Glyph:
    """A mark of something done."""

    x: float
    y: float
    path: str
    filled: bool
    word: str


@dataclass(frozen=True)
class Rule:
    """A straight line of the drawing."""

    x1: float
    x2: float
    y1: float
    y2: float


@dataclass(frozen=True)
class Row:
    """Up to 35 days with everything drawn in them."""

    sides: tuple[Word, ...]
    months: tuple[Word, ...]
    numbers: tuple[Word, ...]
    ticks: tuple[Rule, ...]
    line: Rule
    places: tuple[Block, ...]
    standings: tuple[Change, ...]
    hatches: tuple[Block, ...]
    bars: tuple[Bar, ...]
    dots: tuple[Dot, ...]
    glyphs: tuple[Glyph, ...]
    more: tuple[Word, ...]
    holds: tuple[Rule, ...]
    hold_words: tuple[Word, ...]


@dataclass(frozen=True)
class Strip:
    """The whole drawing: its size, its rows, and the key to its marks."""

    width: float
    height: float
    rows: tuple[Row, ...]
    key: tuple[Glyph, ...]
    key_words: tuple[Word, ...]
    key_rule: Rule
    key_bar: Bar
    key_dot: Dot
