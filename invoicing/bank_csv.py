"""A bank's list of movements as text: which columns does it have, and what does each line say?

Any list with one movement a line is read; which column is which a person says once. Units: amounts in the account's
currency as Decimal, above nothing for money that came in; days as dates. Errors: NotReadable with a sentence that names
the line. Source of the form: RFC 4180 for quotes; other delimiters by custom. Nothing here knows one bank's list.

>>> table = read_table("Day;Name;In\\n03.06.2026;N Brackenridge;1.300,00\\n")
>>> entries(table, Layout(day=0, amount=2, name=1))[0].amount
Decimal('1300.00')
"""

import csv
import datetime as dt
import hashlib
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nursery.money import ZERO, cents

MOST_BYTES = 2_000_000
MOST_LINES = 20_000
LONGEST = 140  # characters of a name or a reference that are kept
DELIMITERS = (";", ",", "\t", "|")
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
YEARS = range(1990, 2200)
MOST = Decimal("9999999999.99")
DAY_FIRST, ISO = "dmy", "iso"
DAYS = {
    DAY_FIRST: re.compile(r"(?P<d>\d{1,2})[./ -](?P<m>\d{1,2})[./ -](?P<y>\d{4}|\d{2})"),
    ISO: re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})-(?P<d>\d{1,2})(?:[T ].*)?"),
}
AMOUNTS = {
    ",": re.compile(r"[+-]?(\d+|\d{1,3}([. ']\d{3})+)(,\d{1,2})?"),
    ".": re.compile(r"[+-]?(\d+|\d{1,3}([, ']\d{3})+)(\.\d{1,2})?"),
}


class NotReadable(ValueError):
    """A file that cannot be taken; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class Table:
    """The columns of a list by their headings, and its lines, each with its number in the file."""

    header: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]

    @property
    def key(self) -> str:
        """The same for every list of this form."""
        return hashlib.sha256("\x1f".join(word.casefold() for word in self.header).encode()).hexdigest()


@dataclass(frozen=True)
class Layout:
    """Which column says what, and how days and amounts are written."""

    day: int
    amount: int
    name: int | None = None
    reference: int | None = None
    day_order: str = DAY_FIRST
    mark: str = ","


@dataclass(frozen=True)
class Entry:
    """One movement. The fingerprint tells it from every other, also when two lists overlap."""

    line: int
    day: dt.date
    amount: Decimal
    name: str
    reference: str
    fingerprint: str


def decode(data: bytes) -> str:
    """The text: UTF-8, or else Latin-1.

    >>> decode("Ruairí".encode("latin-1"))
    'Ruairí'
    """
    if len(data) > MOST_BYTES:
        raise NotReadable("This file is larger than 2 MB. Take a shorter span of days at the bank.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if CONTROL.search(text):
        raise NotReadable(
            "This is no list as text (CSV). Ask the bank's page for CSV, not for a PDF or a workbook."
        )
    return unicodedata.normalize("NFC", text)


def read_table(text: str) -> Table:
    """Headings and lines; what stands above the headings is passed over."""
    rows = _rows(text)
    width = Counter(len(cells) for _, cells in rows).most_common(1)[0][0]
    first = next(at for at, (_, cells) in enumerate(rows) if len(cells) == width)
    rows = rows[first:]
    for line, cells in rows:
        if len(cells) != width:
            raise NotReadable(
                f"Line {line} has {len(cells)} columns, the others {width}. Load the file as the bank gave it."
            )
    if any(_is_day(cell) for cell in rows[0][1]):
        return Table(tuple(f"Column {number}" for number in range(1, width + 1)), tuple(rows))
    if len(rows) == 1:
        raise NotReadable("There is not one movement under the headings of this file.")
    return Table(tuple(cell[:60] for cell in rows[0][1]), tuple(rows[1:]))


def guess(table: Table) -> Layout:
    """What a person is asked to confirm: columns by what stands in them."""
    columns = range(len(table.header))
    sample = [cells for _, cells in table.lines[:50]]
    day, order = next(
        ((at, order) for at in columns for order in DAYS if all(day_in(row[at], order) for row in sample)),
        (0, DAY_FIRST),
    )
    free = [at for at in columns if at != day and not all(_is_day(row[at]) for row in sample)]
    found = [(at, mark) for at in free for mark in AMOUNTS if _are_amounts([row[at] for row in sample], mark)]
    amount, mark = found[0] if found else (min(1, len(table.header) - 1), ",")
    words = sorted(
        (at for at in free if at != amount and not any(at == one for one, _ in found)),
        key=lambda at: -len({row[at] for row in sample}),
    )
    name, reference = [*sorted(words[:2]), None, None][:2]
    return Layout(day, amount, name, reference, day_order=order, mark=mark)


def entries(table: Table, layout: Layout) -> list[Entry]:
    """Every movement, those without an amount left out; NotReadable names the first line that cannot be read."""
    found: list[Entry] = []
    seen: Counter[tuple[str, ...]] = Counter()
    for line, cells in table.lines:
        if not cells[layout.amount]:
            continue
        day = day_in(cells[layout.day], layout.day_order)
        amount = amount_in(cells[layout.amount], layout.mark)
        if day is None:
            raise NotReadable(
                f"Line {line}: “{cells[layout.day][:30]}” is no day. Choose the column and its order again."
            )
        if amount is None:
            raise NotReadable(
                f"Line {line}: “{cells[layout.amount][:30]}” is no amount. Choose its column and decimal mark again."
            )
        name, reference = (_cell(cells, at) for at in (layout.name, layout.reference))
        same = (day.isoformat(), str(amount), name.casefold(), reference.casefold())
        found.append(Entry(line, day, amount, name, reference, fingerprint(same, seen[same])))
        seen[same] += 1
    return found


def fingerprint(same: Sequence[str], nth: int) -> str:
    """Day, amount, name and reference, and which of several equal ones in its list it is."""
    return hashlib.sha256("\x1f".join([*same, str(nth)]).encode()).hexdigest()


def day_in(text: str, order: str) -> dt.date | None:
    """A day as the list writes it; None when it is none.

    >>> day_in("3.6.26", "dmy"), day_in("2026-06-03", "iso"), day_in("31.6.2026", "dmy")
    (datetime.date(2026, 6, 3), datetime.date(2026, 6, 3), None)
    """
    found = DAYS[order].fullmatch(text)
    if found is None:
        return None
    year = int(found["y"]) + (2000 if len(found["y"]) == 2 else 0)
    try:
        return dt.date(year, int(found["m"]), int(found["d"])) if year in YEARS else None
    except ValueError:
        return None


def amount_in(text: str, mark: str) -> Decimal | None:
    """An amount as the list writes it; a minus may stand behind it; None when it is none.

    >>> amount_in("1.300,50", ","), amount_in("12.50-", "."), amount_in("1,250.00", ",")
    (Decimal('1300.50'), Decimal('-12.50'), None)
    """
    bare = text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{MINUS SIGN}", "-").strip()
    bare = f"-{bare[:-1].strip()}" if bare.endswith("-") else bare
    if not AMOUNTS[mark].fullmatch(bare):
        return None
    plain = re.sub(r"[ ']", "", bare).replace("." if mark == "," else ",", "").replace(mark, ".")
    amount = Decimal(plain)
    return cents(amount) if abs(amount) <= MOST else None


def _rows(text: str) -> list[tuple[int, tuple[str, ...]]]:
    """Lines that are not empty, cut by the delimiter that cuts them best."""
    best: list[tuple[int, tuple[str, ...]]] = []
    score = (0, 0)
    for delimiter in DELIMITERS:
        rows = _cut(text, delimiter)
        width, count = Counter(len(cells) for _, cells in rows).most_common(1)[0] if rows else (0, 0)
        if width > 1 and (count, width) > score:
            best, score = rows, (count, width)
    if not best:
        raise NotReadable("No columns are found in this file. Ask the bank's page for a list as CSV.")
    if len(best) > MOST_LINES:
        raise NotReadable("This file has more than 20 000 lines. Take a shorter span of days at the bank.")
    return best


def _cut(text: str, delimiter: str) -> list[tuple[int, tuple[str, ...]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        for cells in reader:
            stripped = tuple(" ".join(cell.split()) for cell in cells)
            if any(stripped):
                rows.append((reader.line_num, stripped))
    except csv.Error:
        return []
    return rows


def _are_amounts(cells: Sequence[str], mark: str) -> bool:
    """Amounts, empty where nothing moved, and at least one with cents, as numbers of other things have none."""
    told = [cell for cell in cells if cell]
    return (
        bool(told)
        and all(amount_in(cell, mark) is not None for cell in told)
        and any(mark in cell for cell in told)
    )


def _is_day(cell: str) -> bool:
    return any(day_in(cell, order) for order in DAYS)


def _cell(cells: Sequence[str], at: int | None) -> str:
    return "" if at is None else cells[at][:LONGEST]


def is_money_in(entry: Entry) -> bool:
    """Only what came in is a payment."""
    return entry.amount > ZERO
