"""A list of temperatures as text: which days does it tell, and what is wrong with the others?

A list has a line a day with the lowest and the highest temperature, or one temperature a line, many a day, of which
the lowest and highest of each day are taken. A person says which column is which, how days are written and in which
scale; what can be read in two ways is asked. No line is lost: each is a day, or missing, or refused with its reason.

Units: degrees of the list's own scale as Decimal, to a hundredth; days as dates at the nursery. Errors: NotReadable
for a list without columns. Source of letters and delimiters: `nursery.csv_lists`; the signs for a missing value are by
custom, no source; a day of less than three quarters of the usual number of readings is refused by our own rule.

>>> table = read_table("Day;Low;High\\n2026-06-05;11,0;20,0\\n2026-06-06;22;12\\n")
>>> told = read(table, Layout(day=0, low=1, high=2, order="iso", mark=","), today=date(2026, 6, 30))
>>> told.days[0].high, told.refused[0].line, told.refused[0].why
(Decimal('20.00'), 3, 'The lowest, 22, is above the highest, 12: did you swap them?')
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, tzinfo
from decimal import Decimal
from fractions import Fraction
from statistics import median

from care.readings import HUNDREDTH, NotPossible, check, converted, plain
from nursery import csv_lists, words
from nursery.csv_lists import DAY_FIRST, ISO, MONTH_FIRST, Manner, NotReadable, day_in

MANNER = Manner(
    most_bytes=3_000_000,
    most_lines=60_000,
    too_large="This file is larger than 3 MB. Read it in parts, a year in each.",
    no_text="This is no list as text (CSV). Save it as CSV, not as a PDF or a workbook.",
    no_columns="No columns are found in this file. Save it as CSV, one line a reading.",
    too_long="This file has more than 60 000 lines. Read it in parts, a year in each.",
)
ORDERS = (ISO, DAY_FIRST, MONTH_FIRST)
WALL, UTC_CLOCK = "wall", "utc"
MISSING_WORDS = {"", "-", "--", "---", "na", "n/a", "nan", "null", "none", "missing", "m", "x"}
MISSING_FIGURES = {Decimal(one) for one in ("-99", "-99.9", "-99.99", "-999", "-999.9", "-999.99", "-9999")}
NUMBERS = {",": re.compile(r"[+-]?\d{1,6}(,\d{1,8})?"), ".": re.compile(r"[+-]?\d{1,6}(\.\d{1,8})?")}
UNIT = re.compile(r"\s*°?\s*[CF]?$", re.IGNORECASE)
TIME = re.compile(
    r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::\d{2}(?:[.,]\d+)?)?\s*(?P<half>[AP]M)?\s*(?P<off>Z|[+-]\d{2}:?\d{2})?",
    re.I,
)
HEADS = {
    "low": ("min", "low", "tief", "tn"),
    "high": ("max", "high", "hoch", "hoech", "höch", "tx"),
    "temperature": ("temp", "deg", "value", "wert", "°"),
}
SAMPLE = 60
LONGEST_SHOWN = 60
ENOUGH = Fraction(3, 4)
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Table:
    """The columns of a list by their headings, and its lines, each with its number in the file."""

    header: tuple[str, ...]
    lines: tuple[csv_lists.Line, ...]


@dataclass(frozen=True)
class Layout:
    """Which column says what: lowest and highest, or one temperature; how days, figures and times are written.

    `order` is empty while nobody has said whether 3/6 is in June or in March.
    """

    day: int
    low: int | None = None
    high: int | None = None
    temperature: int | None = None
    time: int | None = None
    order: str = ""
    mark: str = "."
    scale: str = "C"
    clock: str = WALL


@dataclass(frozen=True)
class ListDay:
    """One day as the list tells it; `line` is where it stands, the first one of several."""

    day: date
    low: Decimal
    high: Decimal
    line: int


@dataclass(frozen=True)
class RefusedLine:
    """A line that is not taken: its number, what stands on it, and why."""

    line: int
    text: str
    why: str


@dataclass(frozen=True)
class Told:
    """What a list tells, in order of days; lines refused; lines without a temperature; lines that say a day again."""

    days: tuple[ListDay, ...]
    refused: tuple[RefusedLine, ...] = ()
    missing: int = 0
    repeated: int = 0

    @property
    def gaps(self) -> list[tuple[date, date]]:
        """Stretches of days between its first and its last day that it does not tell."""
        return gaps_in([one.day for one in self.days])


@dataclass
class _Sheet:
    """What is collected line by line."""

    layout: Layout
    last_day: date
    zone: tzinfo
    readings: dict[date, list[tuple[int, Decimal, Decimal]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    refused: list[RefusedLine] = field(default_factory=list)
    missing: int = 0


class _Wrong(ValueError):
    """One line cannot be read; the text says why."""


def decode(data: bytes) -> str:
    """The text of the file."""
    return csv_lists.decode(data, MANNER)


def read_table(text: str) -> Table:
    """Headings and lines; what stands above the headings is passed over, lines of another width are kept."""
    rows = csv_lists.below_the_preface(csv_lists.cut(text, MANNER))
    first = rows[0][1]
    if any(_looks_like_a_day(cell) for cell in first):
        return Table(tuple(f"Column {number}" for number in range(1, len(first) + 1)), tuple(rows))
    if len(rows) == 1:
        raise NotReadable("There is not one day under the headings of this file.")
    return Table(tuple(cell[:LONGEST_SHOWN] for cell in first), tuple(rows[1:]))


def guess(table: Table) -> Layout:
    """What a person is asked to confirm: columns by their headings and by what stands in them."""
    width = len(table.header)
    sample = [cells for _, cells in table.lines[:SAMPLE] if len(cells) == width]
    day = next((at for at in range(width) if sample and all(_looks_like_a_day(row[at]) for row in sample)), 0)
    free = [at for at in range(width) if at != day]
    figures = [at for at in free if sample and all(_looks_like_a_figure(row[at]) for row in sample)]
    low, high, temperature = _columns_of_figures(table.header, figures)
    told = [row[at] for row in sample for at in figures]
    return Layout(
        day=day,
        low=low,
        high=high,
        temperature=temperature,
        time=next((at for at in free if sample and all(TIME.fullmatch(row[at]) for row in sample)), None),
        order=order_of([row[day] for row in sample]),
        mark="," if any("," in cell for cell in told) else ".",
        scale="F"
        if any(re.search(r"°\s*F|\(F\)|fahrenheit", head, re.IGNORECASE) for head in table.header)
        else "C",
    )


def order_of(cells: Iterable[str]) -> str:
    """How days are written, where it can be read in one way only; else empty, and a person is asked.

    With points the day stands first by custom; with strokes it may be the month.

    >>> order_of(["2026-06-03"]), order_of(["3.6.2026"]), order_of(["3/6/2026"]), order_of(["3/6/2026", "13/6/2026"])
    ('iso', 'dmy', '', 'dmy')
    """
    told = [_day_part(cell) for cell in cells]
    if not told:
        return ""
    if all(day_in(cell, ISO) for cell in told):
        return ISO
    if not all(day_in(cell, DAY_FIRST) for cell in told):
        return ""
    either = not any("." in cell for cell in told) and all(day_in(cell, MONTH_FIRST) for cell in told)
    return "" if either else DAY_FIRST


def read(table: Table, layout: Layout, today: date, zone: tzinfo = UTC) -> Told:
    """Every line as a day, or as missing, or refused. Times without a zone are those of the nursery's wall clock,
    or of UTC where the layout says so; `zone` is the nursery's."""
    sheet = _Sheet(layout, today, zone)
    width = len(table.header)
    for line, cells in table.lines:
        try:
            _read_line(sheet, line, cells, width)
        except _Wrong as wrong:
            sheet.refused.append(RefusedLine(line, _shown(cells), str(wrong)))
    return _told_by_days(sheet) if layout.temperature is not None else _told_by_lines(sheet)


def in_scale(told: Told, scale: str, to: str) -> tuple[ListDay, ...]:
    """The days in the thermometer's own scale."""
    return tuple(
        ListDay(one.day, converted(one.low, scale, to), converted(one.high, scale, to), one.line)
        for one in told.days
    )


def gaps_in(days: Sequence[date]) -> list[tuple[date, date]]:
    """First and last day of each stretch that is missing between days in order of time."""
    return [
        (before + DAY, after - DAY)
        for before, after in zip(days, days[1:], strict=False)
        if after - before > DAY
    ]


def temperature_in(cell: str, mark: str) -> Decimal | None:
    """A temperature to a hundredth; None where the list says that it is missing. ValueError for anything else.

    >>> temperature_in("11,5 °C", ","), temperature_in("-99.9", "."), temperature_in("NA", ".")
    (Decimal('11.50'), None, None)
    """
    if cell.casefold() in MISSING_WORDS:
        return None
    value = number_in(cell, mark)
    if value is None:
        raise ValueError(cell)
    return None if value in MISSING_FIGURES else value


def number_in(cell: str, mark: str) -> Decimal | None:
    """A figure to a hundredth, a unit behind it passed over; None when it is none.

    >>> number_in("-3,25 °C", ","), number_in("3,25", ".")
    (Decimal('-3.25'), None)
    """
    bare = UNIT.sub("", cell.replace("\N{MINUS SIGN}", "-").strip())
    if not NUMBERS[mark].fullmatch(bare):
        return None
    return Decimal(bare.replace(mark, ".")).quantize(HUNDREDTH)


def _read_line(sheet: _Sheet, line: int, cells: tuple[str, ...], width: int) -> None:
    if len(cells) != width:
        raise _Wrong(f"It has {len(cells)} columns, the others {width}.")
    day = _day_of(sheet, cells)
    if day > sheet.last_day:
        raise _Wrong(f"{words.day(day)} lies ahead: nobody has read it yet.")
    layout = sheet.layout
    asked = (
        (layout.temperature,) * 2 if layout.temperature is not None else (layout.low or 0, layout.high or 0)
    )
    low, high = (_temperature(cells[at], layout.mark) for at in asked)
    if low is None and high is None:
        sheet.missing += 1
        return
    if low is None or high is None:
        which = "lowest" if low is None else "highest"
        raise _Wrong(f"The {which} is missing: a day needs both.")
    try:
        check(low, high, layout.scale)
    except NotPossible as wrong:
        raise _Wrong(wrong.sentence) from wrong
    sheet.readings[day].append((line, low, high))


def _day_of(sheet: _Sheet, cells: tuple[str, ...]) -> date:
    cell = cells[sheet.layout.day]
    day = day_in(_day_part(cell), sheet.layout.order) if sheet.layout.order else None
    if day is None:
        raise _Wrong(f"“{cell[:30]}” is no day as days are written here.")
    text = cells[sheet.layout.time] if sheet.layout.time is not None else _time_part(cell)
    if not text:
        return day
    time = TIME.fullmatch(text)
    if time is None or int(time["h"]) > 24 or int(time["m"]) > 59:
        raise _Wrong(f"“{text[:30]}” is no time.")
    return _wall_day(sheet, day, time)


def _wall_day(sheet: _Sheet, day: date, time: re.Match[str]) -> date:
    """The nursery's date of a reading; 24:00 is midnight of the day that ends."""
    hours = (
        int(time["h"]) % 12 + (12 if time["half"].upper() == "PM" else 0) if time["half"] else int(time["h"])
    )
    if not time["off"] and sheet.layout.clock == WALL:
        return day
    begun = datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(
        hours=hours, minutes=int(time["m"])
    )
    return (begun - _offset(time["off"])).astimezone(sheet.zone).date()


def _offset(told: str | None) -> timedelta:
    if not told or told.upper() == "Z":
        return timedelta(0)
    ahead = timedelta(hours=int(told[1:3]), minutes=int(told[-2:]))
    return ahead if told[0] == "+" else -ahead


def _told_by_lines(sheet: _Sheet) -> Told:
    """A line a day: the same again counts once, two that differ are both refused."""
    days, repeated, refused = [], 0, list(sheet.refused)
    for day in sorted(sheet.readings):
        told = sheet.readings[day]
        if len({(low, high) for _, low, high in told}) > 1:
            refused += _contradict(day, told)
            continue
        line, low, high = told[0]
        days.append(ListDay(day, low, high, line))
        repeated += len(told) - 1
    return _told(days, refused, sheet.missing, repeated)


def _contradict(day: date, told: list[tuple[int, Decimal, Decimal]]) -> Iterator[RefusedLine]:
    for line, low, high in told:
        others = [str(other) for other, *_ in told if other != line]
        named = f"Line {others[0]} tells" if len(others) == 1 else f"Lines {', '.join(others[:5])} tell"
        yield RefusedLine(
            line,
            f"{day.isoformat()} {plain(low)} {plain(high)}",
            f"{named} other temperatures of {words.day(day)}: write the right ones by hand.",
        )


def _told_by_days(sheet: _Sheet) -> Told:
    """Many readings a day: lowest and highest of those days that are there nearly whole."""
    counts = [len(told) for told in sheet.readings.values()]
    usual = median(counts) if counts else 0
    days, refused = [], list(sheet.refused)
    for day in sorted(sheet.readings):
        told = sheet.readings[day]
        line = told[0][0]
        if len(told) < usual * ENOUGH:
            of = f"Only {len(told)} of about {usual:.0f} readings of {words.day(day)}"
            why = f"{of}: its lowest or highest may not be among them."
            refused.append(RefusedLine(line, day.isoformat(), why))
            continue
        days.append(ListDay(day, min(low for _, low, _ in told), max(high for *_, high in told), line))
    return _told(days, refused, sheet.missing, 0)


def _told(days: list[ListDay], refused: list[RefusedLine], missing: int, repeated: int) -> Told:
    return Told(tuple(days), tuple(sorted(refused, key=lambda one: one.line)), missing, repeated)


def _temperature(cell: str, mark: str) -> Decimal | None:
    try:
        return temperature_in(cell, mark)
    except ValueError:
        other = "," if mark == "." else "."
        hint = " Is the decimal mark the other one?" if number_in(cell, other) is not None else ""
        raise _Wrong(f"“{cell[:30]}” is no temperature.{hint}") from None


def _columns_of_figures(
    header: Sequence[str], figures: list[int]
) -> tuple[int | None, int | None, int | None]:
    """Lowest, highest, or one temperature."""
    low, high = (_headed(header, figures, name) for name in ("low", "high"))
    if low is not None and high is not None and low != high:
        return low, high, None
    if len(figures) == 2 and _headed(header, figures, "temperature") is None:
        return figures[0], figures[1], None
    only = _headed(header, figures, "temperature")
    return None, None, figures[0] if only is None and figures else only


def _headed(header: Sequence[str], columns: Sequence[int], name: str) -> int | None:
    named = HEADS[name]
    return next((at for at in columns if any(word in header[at].casefold() for word in named)), None)


def _looks_like_a_day(cell: str) -> bool:
    return any(day_in(_day_part(cell), order) for order in ORDERS)


def _looks_like_a_figure(cell: str) -> bool:
    return cell.casefold() in MISSING_WORDS or any(number_in(cell, mark) is not None for mark in NUMBERS)


def _day_part(cell: str) -> str:
    return re.split(r"[T ]", cell, maxsplit=1)[0]


def _time_part(cell: str) -> str:
    parts = re.split(r"[T ]", cell, maxsplit=1)
    return parts[1] if len(parts) > 1 else ""


def _shown(cells: Sequence[str]) -> str:
    return " · ".join(cells)[:LONGEST_SHOWN]
