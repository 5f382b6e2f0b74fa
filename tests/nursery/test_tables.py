import csv
import datetime as dt
import io
from decimal import Decimal

import django_tables2 as tables
import pytest
from django.http import HttpRequest
from django.template import Context, Template
from django.test import RequestFactory

from nursery.csv_answers import csv_answer, csv_wanted, guarded
from nursery.tables import WIDE_ONLY, CashColumn, DayColumn, FigureColumn, RuledTable, ruled


class Bills(RuledTable):
    caption_words = "Bills"
    number = tables.Column(verbose_name="Bill")
    due = DayColumn(attrs=WIDE_ONLY)
    nights = FigureColumn(unit="night")
    net = CashColumn(verbose_name="Net EUR", footer="300.00")


def rows(count: int) -> list[dict[str, object]]:
    return [
        {
            "number": f"B{at:02}",
            "due": dt.date(2026, 6, 1) + dt.timedelta(at),
            "nights": at,
            "net": Decimal(at) / 4,
        }
        for at in range(count)
    ]


def asked(query: str) -> HttpRequest:
    return RequestFactory().get(f"/bills/?{query}")


def shown(request: HttpRequest, table: RuledTable) -> str:
    return Template("{% load django_tables2 %}{% render_table table %}").render(
        Context({"table": table, "request": request})
    )


def test_a_heading_orders_and_keeps_the_filter_but_not_the_leaf():
    table = ruled(asked("of=Tolan&page=2&sort=-net"), Bills(rows(60)))
    heads = {head.word: head for head in table.ruled_heads()}
    assert heads["Bill"].link == "?of=Tolan&sort=number"
    assert heads["Net EUR"].order == "descending"
    assert heads["Net EUR"].link == "?of=Tolan&sort=net"
    assert heads["Bill"].order == ""


def test_the_leaf_is_said_in_words():
    request = asked("of=Tolan&page=2")
    leaves = ruled(request, Bills(rows(60))).leaves()
    assert leaves is not None
    assert (leaves.words, leaves.earlier, leaves.later) == (
        "Rows 26 to 50 of 60", "?of=Tolan&page=1", "?of=Tolan&page=3",
    )  # fmt: skip


def test_a_short_list_has_one_leaf():
    assert ruled(asked(""), Bills(rows(25))).leaves() is None


def test_a_lazy_list_does_not_count():
    leaves = ruled(asked(""), Bills(rows(60)), lazy=True).leaves()
    assert leaves is not None
    assert (leaves.words, leaves.earlier, leaves.later) == ("Rows 1 to 25", "", "?page=2")


def test_a_leaf_beyond_the_end_shows_the_last():
    leaves = ruled(asked("page=99"), Bills(rows(60))).leaves()
    assert leaves is not None
    assert leaves.words == "Rows 51 to 60 of 60"


@pytest.mark.parametrize("query", ["per_page=1000", "per_page=-4", "page=-2", f"page={'9' * 30}", "page=²"])
@pytest.mark.parametrize("lazy", [True, False])
def test_no_address_makes_a_leaf_longer_or_breaks_it(query, lazy):
    leaves = ruled(asked(query), Bills(rows(60)), lazy=lazy).leaves()
    assert leaves is not None
    assert leaves.words.startswith("Rows 1 to 25")


def test_the_list_is_ruled_with_headings_figures_and_a_last_line():
    request = asked("sort=-number")
    html = shown(request, ruled(request, Bills(rows(2))))
    assert "<caption>Bills</caption>" in html
    assert '<th scope="col" aria-sort="descending"><a href="?sort=number">Bill' in html
    assert (
        '<th scope="row">B01</th><td class="wide-only">Tue 2 June 2026</td>'
        '<td class="figure">1\N{NO-BREAK SPACE}night</td><td class="figure">0.25</td>'
    ) in html
    assert html.index("B01") < html.index("B00")
    assert '<th scope="row">Together</th>' in html
    assert '<td class="figure">300.00</td>' in html
    assert 'href="?sort=-number&amp;csv=1"' in html


def test_what_people_typed_is_escaped():
    request = asked("")
    table = ruled(request, Bills([{"number": "<b>x</b>", "due": None, "nights": 1, "net": Decimal(1)}]))
    assert "&lt;b&gt;x&lt;/b&gt;" in shown(request, table)


def test_an_empty_list_says_so():
    request = asked("")
    table = ruled(request, Bills([], empty_text="No bill yet: issue one from the tree."))
    assert "No bill yet: issue one from the tree." in shown(request, table)


def test_an_unordered_column_has_no_link():
    class Plain(RuledTable):
        name = tables.Column(orderable=False)

    assert ruled(asked(""), Plain([])).ruled_heads()[0].link == ""


def test_a_file_holds_the_whole_list_as_ordered():
    request = asked("csv=1&sort=-number&page=2")
    assert csv_wanted(request)
    answer = csv_answer(ruled(request, Bills(rows(30))), "bills")
    assert answer["Content-Disposition"] == 'attachment; filename="bills.csv"'
    # Read back by the standard library's reader of RFC 4180 files.
    read = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert read[0] == ["Bill", "Due", "Nights", "Net EUR"]
    assert read[1] == ["B29", "2026-06-30", "29", "7.25"]
    assert len(read) == 31


# OWASP, "CSV Injection": a cell starting with = + - @, tab, carriage return or line feed may run as a formula.
@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "-cmd|x", "@SUM(A1)", "\t=1", "\r=1", "\n=1"])
def test_a_formula_is_made_harmless(cell):
    assert guarded(cell) == f"'{cell}"


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (Decimal("-5.00"), "-5.00"),
        (Decimal("1E+3"), "1000"),
        (12, "12"),
        (None, ""),
        (dt.date(2026, 6, 3), "2026-06-03"),
        ("Mops, dwarf", "Mops, dwarf"),
    ],
)
def test_figures_and_days_stay_readable_to_programs(cell, text):
    assert guarded(cell) == text
