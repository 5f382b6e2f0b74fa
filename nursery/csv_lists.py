"""A list as text from another program: which letters, which delimiter, which cells on which line?

Any list with one fact a line is cut by the delimiter that cuts it best. What a list is about, and the sentences that
say what is wrong with it, come with its `Manner`. Days are read in an order that a person names. Errors: NotReadable
with a sentence. Source of the form: RFC 4180 for quotes; other delimiters by custom.

>>> manner = Manner(1000, 10, "too large", "no text", "no columns", "too long")
>>> cut(decode(b"Day;Low\\n3.6.2026;11,5\\n", manner), manner)
[(1, ('Day', 'Low')), (2, ('3.6.2026', '11,5'))]
"""

import codecs
import contextlib
import csv
import datetime as dt
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

DELIMITERS = (";", ",", "\t", "|")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
YEARS = range(1900, 2200)
DAY_FIRST, MONTH_FIRST, ISO = "dmy", "mdy", "iso"
_YEAR = r"(?P<y>\d{4}|\d{2})"
DAYS = {
    DAY_FIRST: re.compile(rf"(?P<d>\d{{1,2}})[./ -](?P<m>\d{{1,2}})[./ -]{_YEAR}"),
    ISO: re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})-(?P<d>\d{1,2})(?:[T ].*)?"),
    MONTH_FIRST: re.compile(rf"(?P<m>\d{{1,2}})[./ -](?P<d>\d{{1,2}})[./ -]{_YEAR}"),
}
MARKED = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)

Line = tuple[int, tuple[str, ...]]


class NotReadable(ValueError):
    """A file that cannot be taken; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class Manner:
    """How long a kind of list may be, and what is said of one that cannot be read."""

    most_bytes: int
    most_lines: int
    too_large: str
    no_text: str
    no_columns: str
    too_long: str


def decode(data: bytes, manner: Manner) -> str:
    """The text: UTF-16 where it is marked as such, UTF-8, or else Windows-1252 (Latin-1 where that has no letter).

    >>> manner = Manner(1000, 10, "", "", "", "")
    >>> decode("Ruairí".encode("latin-1"), manner), decode("Ruairí".encode("utf-16"), manner)
    ('Ruairí', 'Ruairí')
    """
    if len(data) > manner.most_bytes:
        raise NotReadable(manner.too_large)
    text = next(found for coding in _codings(data) if (found := _decoded(data, coding)) is not None)
    if CONTROL.search(text):
        raise NotReadable(manner.no_text)
    return unicodedata.normalize("NFC", text)


def cut(text: str, manner: Manner) -> list[Line]:
    """Lines that are not empty, each with its number, cut by the delimiter that cuts them best."""
    best: list[Line] = []
    score = (0, 0)
    for delimiter in DELIMITERS:
        rows = _cut_by(text, delimiter)
        width, count = Counter(len(cells) for _, cells in rows).most_common(1)[0] if rows else (0, 0)
        if width > 1 and (count, width) > score:
            best, score = rows, (count, width)
    if not best:
        raise NotReadable(manner.no_columns)
    if len(best) > manner.most_lines:
        raise NotReadable(manner.too_long)
    return best


def usual_width(rows: Sequence[Line]) -> int:
    """How many columns most lines have."""
    return Counter(len(cells) for _, cells in rows).most_common(1)[0][0]


def below_the_preface(rows: list[Line]) -> list[Line]:
    """The lines from the first of the usual width on: what stands above the headings is passed over."""
    width = usual_width(rows)
    return rows[next(at for at, (_, cells) in enumerate(rows) if len(cells) == width) :]


def day_in(text: str, order: str) -> dt.date | None:
    """A day as the list writes it; None when it is none.

    >>> day_in("3.6.26", "dmy"), day_in("2026-06-03", "iso"), day_in("31.6.2026", "dmy"), day_in("6/3/2026", "mdy")
    (datetime.date(2026, 6, 3), datetime.date(2026, 6, 3), None, datetime.date(2026, 6, 3))
    """
    found = DAYS[order].fullmatch(text)
    if found is None:
        return None
    year = int(found["y"]) + (2000 if len(found["y"]) == 2 else 0)
    try:
        return dt.date(year, int(found["m"]), int(found["d"])) if year in YEARS else None
    except ValueError:
        return None


def _codings(data: bytes) -> tuple[str, ...]:
    return ("utf-16", "latin-1") if data.startswith(MARKED) else ("utf-8-sig", "cp1252", "latin-1")


def _decoded(data: bytes, coding: str) -> str | None:
    with contextlib.suppress(UnicodeDecodeError):
        return data.decode(coding)
    return None


def _cut_by(text: str, delimiter: str) -> list[Line]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[Line] = []
    try:
        for cells in reader:
            stripped = tuple(" ".join(cell.split()) for cell in cells)
            if any(stripped):
                rows.append((reader.line_num, stripped))
    except csv.Error:
        return []
    return rows
