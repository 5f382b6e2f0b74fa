"""Tag labels: the square code of a tree's address, to be scanned by any phone or hand scanner.

The address ends in the code with its check character (nursery/tag_codes.py), so that a misread one is noticed.
Error correction of level Q: a quarter of the square may be covered by mud. Source: ISO/IEC 18004, as the library
`segno` writes it; the level is our own choice.

>>> address_of("DN0412", "https://nursery.example")
'https://nursery.example/t/DN0412P'
"""

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from nursery import tag_codes

# Labels of 70 x 37 mm on A4, three across, eight down: common practice, no source. Their places stand in labels.css.
ACROSS, DOWN = 3, 8
A_SHEET = ACROSS * DOWN


@dataclass(frozen=True)
class Label:
    """What is printed on one label; `square` is an SVG."""

    code: str
    words: str
    square: str


def address_of(code: str, site: str) -> str:
    """The address a scan leads to."""
    return f"{site}/t/{tag_codes.scanned(code)}"


def square_of(code: str, site: str) -> str:
    """The square code as inline SVG with a title for those who cannot see it.

    >>> square_of("DN0412", "https://nursery.example").startswith("<svg")
    True
    """
    made = segno.make(address_of(code, site), error="q", micro=False)
    svg: str = made.svg_inline(border=2, omitsize=True, title=f"Square code of tag {tag_codes.printed(code)}")
    return svg


def label_of(code: str, words: str, site: str) -> Label:
    """The label of a tag."""
    return Label(tag_codes.printed(code), words, square_of(code, site))


@dataclass(frozen=True)
class Placed:
    """A label with its place on the sheet, counted from the upper left corner."""

    label: Label
    column: int
    row: int


def sheets(labels: Sequence[Label], used: int) -> list[list[Placed]]:
    """The labels on sheets of 24; the first `used` places of the first sheet stay empty.

    >>> one = Label("DN-0412-P", "", "")
    >>> [(place.column, place.row) for place in sheets([one, one], 23)[0]], len(sheets([one, one], 23))
    ([(2, 7)], 2)
    """
    made: list[list[Placed]] = []
    for n, label in enumerate(labels, start=used):
        if n % A_SHEET == 0 or not made:
            made.append([])
        row, column = divmod(n % A_SHEET, ACROSS)
        made[-1].append(Placed(label, column, row))
    return made
