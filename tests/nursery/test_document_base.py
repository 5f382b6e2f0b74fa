"""The paper all documents are printed on: our typeface only, page x of y, no complaint of the renderer."""

import datetime as dt
import io
import logging

import pytest
from django.template import engines
from pypdf import PdfReader

from boarding.strip import Look, StripDay, lay_out
from boarding.strip_words import summary
from nursery.papers_render import pdf_of

# The renderer reads the colour profile it ships without closing the file.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.filterwarnings(
        "ignore:Exception ignored in. <_io.FileIO:pytest.PytestUnraisableExceptionWarning"
    ),
]

PAPER = """{% extends "documents/base.html" %}{% load heelin %}
{% block address %}Nuala Brackenridge
3 Fern Row{% endblock %}
{% block body %}<p>{{ runs|botanical }}, <strong>{{ due|money }}</strong> due on {{ issued_on|day }}.</p>
<h2>What happened?</h2><div class="strip">{% include "pieces/stay_strip.svg" %}</div><p>{% mark "clean" %}</p>
{% endblock %}"""


@pytest.fixture
def paper(caplog) -> PdfReader:
    days = [StripDay(dt.date(2026, 6, 3), "isolation", look=Look(4, 1, 60), works=("scrub",))]
    words = {
        "title": "Receipt",
        "number": "R-2026-0001",
        "issued_on": "2026-06-03",
        "nursery": {"name": "Derrynavail Nursery", "street": "Old Mill Lane", "town": "Ashford"},
        "runs": [["Pinus mugo", True], [" 'Mops'", False]],
        "due": "272.57",
        "strip": lay_out(days),
        "summary": summary(days),
    }
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        made = pdf_of(
            engines["django"].from_string(PAPER).render(words),
            issued_at=dt.datetime(2026, 6, 3, 12, tzinfo=dt.UTC),
            identifier="R-2026-0001",
        )
    assert [record.getMessage() for record in caplog.records if record.name == "weasyprint"] == []
    return PdfReader(io.BytesIO(made))


def test_the_paper_reads_back(paper):
    text = paper.pages[0].extract_text()
    for words in (
        "Derrynavail Nursery",
        "Old Mill Lane, Ashford",
        "Pinus mugo",
        "€272.57",
        "Wed 3 June 2026",
    ):
        assert words in text
    assert "page 1 of 1" in text
    assert "Receipt R-2026-0001" in text


def test_only_our_typeface_is_embedded(paper):
    fonts = paper.pages[0]["/Resources"]["/Font"].values()
    names = {str(font.get_object()["/BaseFont"]).split("+")[-1] for font in fonts}
    assert {name.split("-")[0] for name in names} == {"Fira"}
    assert any("Italic" in name for name in names)


def test_language_and_title_are_set(paper):
    assert paper.trailer["/Root"]["/Lang"] == "en-IE"
    assert paper.metadata is not None
    assert paper.metadata.title == "Receipt R-2026-0001"
