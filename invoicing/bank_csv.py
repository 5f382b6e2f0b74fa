"""A bank's list of movements as text: which columns does it have, and what does each line say?

Any list with one movement a line is read; which column is which a person says once. Units: amounts in the account's
currency as Decimal, above nothing for money that came in; days as dates. Errors: NotReadable with a sentence that names
the line. Letters, delimiters and days are read by `nursery.csv_lists`. Nothing here knows one bank's list.

>>> table = read_table("Day;Name;In\\n03.06.2026;N Brackenridge;1.300,00\\n")
>>> entries(table, Layout(day=0, amount=2, name=1))[0].amount
Decimal('1300.00')
"""

import datetime as dt
import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nursery import csv_lists
from nursery.csv_lists import DAY_FIRST, ISO, Manner, NotReadable, day_in
from nursery.money import ZERO, cents

MOST_BYTES = 2_000_000
MANNER = Manner(
    most_bytes=MOST_BYTES,
    most_lines=20_000,
    too_large="This file is larger than 2 MB. Take a shorter span of days at the bank.",
    no_text="This is no list as text (CSV). Ask the bank's page for CSV, not for a PDF or a workbook.",
    no_columns="No columns are found in this file. Ask the bank's page for a list as CSV.",
    too_long="This file has more than 20 000 lines. Take a shorter span of days at the bank.",
)
LONGEST = 140  # characters of a name or a reference that are kept
MOST = Decimal("9999999999.99")
ORDERS = (DAY_FIRST, ISO)
AMOUNTS = {
    ",": re.compile(r"[+-]?(\d+|\d{1,3}([. ']\d{3})+)(,\d{1,2})?"),
    ".": re.compile(r"[+-]?(\d+|\d{1,3}([, ']\d{3})+)(\.\d{1,2})?"),
}


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
    """The text of the file."""
    return csv_lists.decode(data, MANNER)


def read_table(text: str) -> Table:
    """Headings and lines; what stands above the headings is passed over."""
    rows = csv_lists.below_the_preface(csv_lists.cut(text, MANNER))
    width = csv_lists.usual_width(rows)
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
        ((at, order) for at in columns for order in ORDERS if all(day_in(row[at], order) for row in sample)),
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


def _are_amounts(cells: Sequence[str], mark: str) -> bool:
    """Amounts, empty where nothing moved, and at least one with cents, as numbers of other things have none."""
    told = [cell for cell in cells if cell]
    return (
        bool(told)
        and all(amount_in(cell, mark) is not None for cell in told)
        and any(mark in cell for cell in told)
    )


def _is_day(cell: str) -> bool:
    return any(day_in(cell, order) for order in ORDERS)


def _cell(cells: Sequence[str], at: int | None) -> str:
    return "" if at is None else cells[at][:LONGEST]


def is_money_in(entry: Entry) -> bool:
    """Only what came in is a payment."""
    return entry.amount > ZERO
