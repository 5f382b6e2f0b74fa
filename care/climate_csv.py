"""A climate table as text: what are the twelve months usually like?

Units: degrees of the table's own scale, to a hundredth. Errors: NotReadable with a sentence that names the line. Source
of letters and delimiters: `nursery.csv_lists`; the figures are the table's own.

>>> climate_in("1;2,5;8\\n")
Traceback (most recent call last):
nursery.csv_lists.NotReadable: A climate table has twelve lines, one for each month.
"""

import re
from decimal import Decimal

from care.weather_csv import MANNER, number_in
from nursery import csv_lists, words
from nursery.csv_lists import NotReadable


def climate_in(text: str) -> dict[int, tuple[Decimal, Decimal]]:
    """Twelve lines of month, lowest, highest. The month is a number or an English name.

    >>> lines = "".join(f"{month},{month},{month + 8}.5\\n" for month in range(1, 13))
    >>> climate_in("month,min,max\\n" + lines)[12]
    (Decimal('12.00'), Decimal('20.50'))
    """
    found: dict[int, tuple[Decimal, Decimal]] = {}
    for line, cells in csv_lists.cut(text, MANNER):
        month = _month(cells[0])
        if month is None and not found:
            continue  # headings
        if month is None or len(cells) < 3:
            raise NotReadable(f"Line {line} is not month, lowest, highest.")
        mark = "," if any("," in cell for cell in cells[1:3]) else "."
        low, high = (number_in(cell, mark) for cell in cells[1:3])
        if low is None or high is None:
            raise NotReadable(f"Line {line}: “{cells[1]}” and “{cells[2]}” are not two temperatures.")
        if month in found:
            raise NotReadable(f"Line {line}: {words.MONTHS[month - 1]} stands there twice.")
        found[month] = low, high
    if set(found) != set(range(1, 13)):
        raise NotReadable("A climate table has twelve lines, one for each month.")
    return found


def _month(cell: str) -> int | None:
    if re.fullmatch(r"\d{1,2}", cell):
        return int(cell) if 1 <= int(cell) <= 12 else None
    word = cell.casefold().rstrip(".")
    found = [
        number
        for number, name in enumerate(words.MONTHS, 1)
        if len(word) >= 3 and name.casefold().startswith(word)
    ]
    return found[0] if found else None
