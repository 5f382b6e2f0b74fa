"""What the main pages cost with 1,000 and with 100,000 stays behind them, and a list and a bill beside the bare thing.

Processor time of this process, the least of several tries: a busy machine changes it little. Ratios are asserted; the
aims are our own.
"""

import gc
import re
import sys
import time
from dataclasses import dataclass

import pytest
import time_machine
from django.conf import settings
from django.db import connection
from django.template import engines
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from weasyprint import CSS, HTML

from boarding.tables.trees import TreeTable
from nursery import papers_render
from nursery.models import Bench, Paper
from nursery.tables import ruled
from tests.benchmarks.history import FIRST, add_past
from tests.small_house import NOW, small_house

pytestmark = pytest.mark.django_db
FEW, MANY = 1_000, 100_000
TRIES = 9
GROWTH_AIM = 1.3
# A part of a word may stand anywhere in a name: every name is read, and that grows with the names there are.
READS_EVERY_NAME = {"Find a word"}
# What an accountant's page says grows with the documents of its period: this one has none of the past.
QUIET_WEEK = "?from_on=2026-06-20&until_on=2026-06-26"
TABLE_AIM = 8.0
PDF_AIM = 1.2


@dataclass
class Cost:
    seconds: float
    queries: int


def told(words):
    sys.stdout.write(words + "\n")


def least(work, tries=TRIES):
    """Processor seconds of the cheapest of several tries, after one that does not count."""
    work()
    seconds = []
    for _ in range(tries):
        gc.collect()
        begun = time.process_time()
        work()
        seconds.append(time.process_time() - begun)
    return min(seconds)


def cost_of(client, address):
    def read():
        answer = client.get(address)
        assert answer.status_code in (200, 302), (
            f"{address}: {answer.status_code}"
        )  # 302: a tag found leads on
        answer.close()

    read()  # the first page of a session writes the session too
    with CaptureQueriesContext(connection) as caught:
        read()
    queries = len(caught)  # before the next request empties the log
    return Cost(least(read), queries)


def pages(house):
    stay = house.stays["in_care"]
    return {
        "Today": reverse("today"),
        "Gate": reverse("gate"),
        "Benches": reverse("benches"),
        "Bench": reverse("bench", args=[Bench.objects.order_by("walk_order").first().pk]),
        "Trees": reverse("trees"),
        "Tree": reverse("tree", args=[stay.tree_id]),
        "Tree of the past": reverse("tree", args=[FIRST + 100]),
        "Stay": reverse("stay", args=[stay.pk]),
        "People": reverse("people"),
        "Customer": reverse("party", args=[stay.payer_id]),
        "Work": reverse("entries"),
        "Clock": reverse("clock"),
        "Money": reverse("money"),
        "Account": reverse("account", args=[stay.payer_id]),
        "Statement": reverse("statement", args=[stay.payer_id]),
        "To remind": reverse("bills_to_remind"),
        "Estimates": reverse("estimates"),
        "Month ends": reverse("month_ends"),
        "Bank lists": reverse("bank_files"),
        "Journal of a week": reverse("journal") + QUIET_WEEK,
        "VAT of a week": reverse("vat_figures") + QUIET_WEEK,
        "Rates": reverse("rates"),
        "Certificates": reverse("certificates"),
        "Audit trail": reverse("audit_trail"),
        "Find a tag": reverse("find") + f"?find={stay.tree.tags.get().short}",
        "Find a word": reverse("find") + "?find=nobody-is-called-this",
    }


@pytest.fixture
def house(db):
    with time_machine.travel(NOW, tick=False):
        yield small_house()


def signed_in(house):
    client = Client()
    client.force_login(house.people["proprietor"], backend="django.contrib.auth.backends.ModelBackend")
    return client


def test_a_page_costs_what_is_open_and_not_what_is_past(house):
    client = signed_in(house)
    add_past(0, FEW - 1)
    few = {name: cost_of(client, address) for name, address in pages(house).items()}
    add_past(1_002, MANY - 1)
    many = {name: cost_of(client, address) for name, address in pages(house).items()}
    told(f"\n{'page':18} {'1,000':>9} {'100,000':>9} {'growth':>7} {'queries':>8}")
    for name, one in many.items():
        growth = one.seconds / few[name].seconds
        told(
            f"{name:18} {few[name].seconds * 1000:6.1f} ms {one.seconds * 1000:6.1f} ms {growth:7.2f}"
            f" {few[name].queries:4}/{one.queries}"
        )
    assert {name: one.queries for name, one in many.items()} == {
        name: one.queries for name, one in few.items()
    }
    dearer = {name: round(many[name].seconds / few[name].seconds, 2) for name in many}
    grown = {name for name, growth in dearer.items() if growth > GROWTH_AIM}
    assert grown - READS_EVERY_NAME == set(), dearer


PLAIN = """<table><thead><tr>{% for head in heads %}<th>{{ head }}</th>{% endfor %}</tr></thead><tbody>
{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</tbody></table>"""


def test_a_ruled_list_beside_a_plain_template_of_the_same_rows(house):
    add_past(0, FEW - 1)
    client = signed_in(house)
    page = client.get(reverse("trees"))
    table = page.context["table"]
    records = list(table.page.object_list.data) if table.page else list(table.data)
    request = RequestFactory().get("/trees/")
    request.user = house.people["proprietor"]

    def as_ruled():
        return ruled(request, TreeTable(records)).as_html(request)

    drawn = as_ruled()
    cells = [
        re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.DOTALL)
        for row in re.findall(r"<tr.*?</tr>", drawn, re.DOTALL)
    ]
    plain = engines["django"].from_string(PLAIN)

    def as_plain():
        return plain.render({"heads": cells[0], "rows": cells[1:]})

    as_plain()
    ratio = least(as_ruled, 30) / least(as_plain, 30)
    told(f"\n{len(cells) - 1} rows of trees: {ratio:.1f} times a plain template (aim {TABLE_AIM})")
    assert len(cells) > 12
    assert ratio <= TABLE_AIM


def test_the_file_of_a_bill_beside_the_print_library_alone(house):
    paper = Paper.objects.filter(kind="invoice").first()
    text = papers_render.html(paper)

    def alone():
        fetcher = papers_render.HouseFetcher()
        sheet = CSS(
            url=f"{papers_render.HOUSE}{settings.STATIC_URL}nursery/document.css", url_fetcher=fetcher
        )
        HTML(string=text, base_url=f"{papers_render.HOUSE}/", url_fetcher=fetcher).write_pdf(
            stylesheets=[sheet], pdf_variant="pdf/a-3a", pdf_tags=True
        )

    ratio = least(lambda: papers_render.pdf(paper), 5) / least(alone, 5)
    told(f"\nfile of a bill: {ratio:.2f} times the print library alone (aim {PDF_AIM})")
    assert ratio <= PDF_AIM
