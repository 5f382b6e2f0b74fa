"""Code cards for the wash bay: what a hand scanner reads off the wall, so that a scan replaces a touch.

The square carries the code word itself, as the field of the clock page understands it (care/code_words.py). Error
correction of level H: three tenths of the square may be under soap. Source: ISO/IEC 18004, as the library `segno`
writes it; the level and the size of the cards are our own choice.

>>> cards_of({"scrub": "Scrubbing"})[-1].word
'START SCRUB'
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import segno

from care import code_words

# Cards of 95 x 54 mm on A4, two across, five down. Their size stands in cards.css.
A_SHEET = 10


@dataclass(frozen=True)
class Card:
    """What is printed on one card; `square` is an SVG."""

    word: str
    means: str
    square: str


def cards_of(activities: Mapping[str, str]) -> list[Card]:
    """The cards of a nursery whose kinds of work are these (code to name)."""
    return [Card(word, means, square_of(word)) for word, means in code_words.of_cards(activities)]


def square_of(word: str) -> str:
    """The code word as inline SVG, with a title for those who cannot see it."""
    made = segno.make(word, error="h", micro=False)
    svg: str = made.svg_inline(border=4, omitsize=True, title=f"Square code of {word}")
    return svg


def sheets(cards: Sequence[Card]) -> list[Sequence[Card]]:
    """The cards on sheets of ten.

    >>> [len(sheet) for sheet in sheets(cards_of({str(n): "" for n in range(14)}))]
    [10, 7]
    """
    return [cards[first : first + A_SHEET] for first in range(0, len(cards), A_SHEET)]
