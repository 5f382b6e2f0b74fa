"""Lists as ruled ledgers: django-tables2 with a lean template; filters and order stay in the address."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import django_tables2 as tables
from django.core.paginator import EmptyPage
from django.http import HttpRequest, QueryDict
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig
from django_tables2.rows import BoundRow
from django_tables2.utils import signature

from nursery import words
from nursery.templatetags.heelin import day, quantity

ROWS_A_PAGE = 25
FIGURE = {"td": {"class": "figure"}, "th": {"class": "figure"}, "tf": {"class": "figure"}}
NUMBER = {"td": {"class": "nowrap"}, "th": {"class": ""}}
WIDE_ONLY = {"td": {"class": "wide-only"}, "th": {"class": "wide-only"}, "tf": {"class": "wide-only"}}


@dataclass(frozen=True)
class Head:
    """One heading: its word, its class, the address that orders by it, and the order in force."""

    word: str
    css: str
    link: str
    order: str


@dataclass(frozen=True)
class Leaves:
    """Where the page stands in the list, in words, with the addresses of its neighbours."""

    words: str
    earlier: str
    later: str


class LeanRow(BoundRow):
    """A row whose cells are rendered with what their column is known to ask for.

    The library looks up attributes and the signature of `render` once a cell, which is most of what a table costs;
    here both are looked up once a column.
    """

    def html(self, shape: "Shape") -> str:
        """One cell, escaped unless its column made HTML of it."""

        def render(column: Any, value: Any = None) -> Any:
            told = self._optional_cell_arguments(column, value)
            wanted = told if shape.wanted is None else {name: told[name] for name in shape.wanted}
            content = column.render(**wanted)
            return column.link(content, **told) if column.link else content

        return conditional_escape(self._get_and_render_with(shape.column, render, shape.column.default))


@dataclass(frozen=True)
class Shape:
    """What all cells of a column have in common: the tags around them and what their column wants to know."""

    column: Any
    opens: SafeString
    closes: str
    wanted: frozenset[str] | None

    def cell(self, row: LeanRow) -> str:
        """The cell of a row as HTML."""
        return f"{self.opens}{row.html(self)}{self.closes}"


class FigureColumn(tables.Column):
    """A column of figures: right-aligned, tabular, ruled off like a cash column."""

    def __init__(self, *args: Any, unit: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("attrs", FIGURE)
        super().__init__(*args, **kwargs)
        self.unit = unit

    def render(self, value: Any) -> str:
        return quantity(value, self.unit)

    def value(self, value: Any) -> Any:
        return value


class CashColumn(FigureColumn):
    """A column of money, its currency named in the heading; pass `footer=` for the last line."""

    def render(self, value: Any) -> str:
        return words.cash(value)


class DayColumn(tables.Column):
    """A column of days, 'Wed 3 June 2026'."""

    def render(self, value: Any) -> str:
        return day(value)

    def value(self, value: Any) -> Any:
        return value


class RuledTable(tables.Table):
    """Base of every list. Class attributes say how it is shown:

    `caption_words` (what the list is), `row_head` (the first cell heads its row), `has_csv` (the view answers
    `?csv=1` with nursery.csv_answers).
    """

    caption_words = ""
    row_head = True
    has_csv = True

    class Meta:
        template_name = "tables/ruled.html"
        attrs = {"class": "ledger"}  # noqa: RUF012  # django-tables2 reads a plain dict here
        empty_text = "Nothing stands here."

    def ruled_heads(self) -> list[Head]:
        """The headings, each with the address that orders by it."""
        return [self._head(column) for column in self.columns]

    def ruled_rows(self) -> Iterator[tuple[str, SafeString]]:
        """(row class, cells as HTML) for every row of the page."""
        shapes = [
            self._shape(column, heads=self.row_head and at == 0) for at, column in enumerate(self.columns)
        ]
        for row in self.paginated_rows:
            css = row.attrs.get("class", "") if self._meta.row_attrs else ""
            lean = LeanRow(row.record, self)
            yield css, SafeString("".join(shape.cell(lean) for shape in shapes))

    @staticmethod
    def _shape(column: Any, *, heads: bool) -> "Shape":
        css = _css(column, "td")
        names, catch_all = signature(column.render)
        return Shape(
            column,
            format_html("<{}{}>", SafeString('th scope="row"' if heads else "td"), _class(css)),
            "</th>" if heads else "</td>",
            None if catch_all else frozenset(names),
        )

    def ruled_foot(self) -> list[tuple[str, Any]]:
        """(class, total) of the last line; empty when no column has a footer."""
        if not self.has_footer():
            return []
        return [(_css(column, "tf"), column.footer) for column in self.columns]

    def leaves(self) -> Leaves | None:
        """The neighbours of this page, or None when the list has one page."""
        page = getattr(self, "page", None)
        if page is None or not page.has_other_pages():
            return None
        first = (page.number - 1) * self.paginator.per_page + 1
        return Leaves(
            f"Rows {first} to {first + len(page.object_list) - 1}{self._of_how_many()}",
            self._page_link(page.number - 1) if page.has_previous() else "",
            self._page_link(page.number + 1) if page.has_next() else "",
        )

    def csv_link(self) -> str:
        """The address of the same list, as filtered and ordered, as a CSV file."""
        return self._address({"csv": "1", self.prefixed_page_field: None})

    def _of_how_many(self) -> str:
        # A lazy paginator does not count, which is its point; then the words leave the total out.
        if isinstance(self.paginator, tables.LazyPaginator):
            return ""
        return f" of {self.paginator.count}"

    def _page_link(self, number: int) -> str:
        return self._address({self.prefixed_page_field: str(number)})

    def _head(self, column: Any) -> Head:
        if not (self.orderable and column.orderable):
            return Head(column.header, _css(column, "th"), "", "")
        link = self._address(
            {self.prefixed_order_by_field: str(column.order_by_alias.next), self.prefixed_page_field: None}
        )
        order = (
            ("descending" if column.order_by_alias.is_descending else "ascending")
            if column.is_ordered
            else ""
        )
        return Head(column.header, _css(column, "th"), link, order)

    def _address(self, changes: dict[str, str | None]) -> str:
        request = getattr(self, "request", None)
        query = request.GET.copy() if request else QueryDict(mutable=True)
        for name, value in changes.items():
            query.pop(name, None)
            if value is not None:
                query[name] = value
        return f"?{query.urlencode()}"


def ruled(
    request: HttpRequest, table: RuledTable, *, lazy: bool = False, rows: int = ROWS_A_PAGE
) -> RuledTable:
    """Order and page a table as the address asks; `lazy` never counts the whole list."""
    paginate: dict[str, Any] = {"per_page": rows, "page": _page_asked(request, table)}
    if lazy:
        paginate["paginator_class"] = tables.LazyPaginator
    RequestConfig(request, paginate=False).configure(table)  # its pages would be as long as the address asks
    try:
        table.paginate(**paginate)
    except EmptyPage:
        table.page = table.paginator.page(table.paginator.num_pages)
    return table


def _page_asked(request: HttpRequest, table: RuledTable) -> int:
    """The page the address asks for; the first where that is no number of a page."""
    asked = request.GET.get(table.prefixed_page_field, "")
    return int(asked) if re.fullmatch("[0-9]{1,6}", asked) else 1


def _class(css: str) -> SafeString:
    return format_html(' class="{}"', css) if css else SafeString("")


def _css(column: Any, part: str) -> str:
    """The class a column's own `attrs` name for a part, without the library's per-cell additions."""
    return str(column.column.attrs.get(part, {}).get("class", ""))
