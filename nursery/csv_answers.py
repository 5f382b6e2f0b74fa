"""A list as a CSV file: exactly the columns and rows of the page's list, as filtered and ordered, all leaves.

The form follows RFC 4180 (comma, CRLF, quotes doubled). A cell that a spreadsheet would run as a formula gets
an apostrophe in front (OWASP, "CSV Injection"); plain numbers stay numbers, negative ones too.
"""

import csv
import datetime as dt
import re
from collections.abc import Iterable
from decimal import Decimal
from itertools import chain
from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse

from nursery.tables import RuledTable

BYTE_ORDER_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def csv_wanted(request: HttpRequest) -> bool:
    """Whether the address asks for the list as a file."""
    return "csv" in request.GET


def csv_answer(table: RuledTable, name: str) -> HttpResponse:
    """The whole list as a download called `<name>.csv`; the first line holds the headings."""
    return rows_answer(table.as_values(), name)


def rows_answer(rows: Iterable[Iterable[Any]], name: str) -> HttpResponse:
    """Any rows as a CSV download."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    answer.write(BYTE_ORDER_MARK)
    writer = csv.writer(answer, lineterminator="\r\n")
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return answer


def rows_streamed(rows: Iterable[Iterable[Any]], name: str) -> StreamingHttpResponse:
    """Rows as a CSV download that is written while they are read, for lists as long as a year."""
    writer = csv.writer(_Through(), lineterminator="\r\n")
    lines = (writer.writerow([guarded(cell) for cell in row]) for row in rows)
    answer = StreamingHttpResponse(chain([BYTE_ORDER_MARK], lines), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


class _Through:
    """A file that hands back what is written into it."""

    def write(self, text: str) -> str:
        return text


def guarded(cell: Any) -> str:
    """A cell as text that no spreadsheet takes for a formula."""
    text = _plain(cell)
    if text.startswith(STARTS_A_FORMULA) and not NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def _plain(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, dt.datetime | dt.date):
        return cell.isoformat()
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return str(cell)
