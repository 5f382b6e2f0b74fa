"""The paper all documents are printed on: our typeface only, page x of y, no complaint of the renderer."""

import base64
import datetime as dt
import io
import logging
import zlib

import page
import pytest
from django.template import engines
from PIL import Image
from pypdf import PdfReader

from boarding.strip import Look, StripDay, lay_out
from boarding.strip_words import summary
from nursery import enclosures, papers_render, xmp
from nursery.models import Paper
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


NOTE = xmp.Schema(
    "Note schema", "urn:heelin:test#", "note", (xmp.Property("File", "note.xml", "name of the note"),)
)
PLAIN = '<html lang="en-IE"><head><title>Plain</title></head><body><p>A word.</p></body></html>'
ISSUED = dt.datetime(2026, 6, 3, 12, tzinfo=dt.UTC)


def carrying(data: bytes) -> bytes:
    note = enclosures.Enclosure("note.xml", data, "A note", "Alternative", NOTE)
    return pdf_of(PLAIN, issued_at=ISSUED, identifier="note", carried=[note])


def test_what_is_attached_is_read_back_with_its_relationship():
    reader = PdfReader(io.BytesIO(carrying(b"<note/>")))
    assert reader.attachments == {"note.xml": [b"<note/>"]}
    (entry,) = reader.trailer["/Root"]["/AF"]
    assert entry.get_object()["/AFRelationship"] == "/Alternative"


def test_the_metadata_are_one_rdf_and_readable_as_they_stand():
    """A reader that knows no PDF finds them: ISO 19005-3 forbids to compress them."""
    made = carrying(b"<note/>")
    assert made.count(b"<rdf:RDF") == made.count(b"</rdf:RDF>") == 1
    for told in (
        b'pdfaid:part="3"',
        b"<pdfuaid:part>1</pdfuaid:part>",
        b"<note:File>note.xml</note:File>",
        b"<pdfaSchema:namespaceURI>urn:heelin:test#</pdfaSchema:namespaceURI>",
        b"<pdfaProperty:description>name of the note</pdfaProperty:description>",
    ):
        assert made.count(told) == 1


def test_the_same_words_and_files_give_the_same_bytes():
    assert carrying(b"<note/>") == carrying(b"<note/>")
    assert carrying(b"<note/>") != carrying(b"<other/>")


def test_no_stream_reads_a_byte_too_short():
    """Compressed data end in a checksum; one that ends in CR would read together with the LF behind it as one mark."""
    # Adler-32 of this note ends in 0x0D, and so does that of the picture's one row: 1 + 0 + 12.
    note = b"<note>}</note>"
    picture = io.BytesIO()
    Image.new("L", (1, 1), 12).save(picture, "PNG")
    assert zlib.compress(note).endswith(b"\r")
    source = f"data:image/png;base64,{base64.b64encode(picture.getvalue()).decode()}"
    made = pdf_of(
        PLAIN.replace("A word.", f'<img src="{source}" alt="A dot" style="image-rendering: crisp-edges">'),
        issued_at=ISSUED,
        identifier="note",
        carried=[enclosures.Enclosure("note.xml", note, "A note", "Alternative", NOTE)],
    )
    assert b"\r\nendstream" not in made
    assert [one.message for one in page.validate_pdf_bytes(made, profile="3a").failures] == []
    reader = PdfReader(io.BytesIO(made))
    assert reader.attachments == {"note.xml": [note]}
    assert reader.pages[0].images[0].image.getpixel((0, 0)) == 12


def test_a_kind_of_paper_carries_what_was_registered_for_it_once(monkeypatch):
    monkeypatch.setattr(enclosures, "_makers", {})
    monkeypatch.setattr(papers_render, "html", lambda paper: PLAIN)

    def maker(words):
        if "note" not in words:
            return None
        return enclosures.Enclosure("note.xml", words["note"].encode(), "A note", "Alternative", NOTE)

    enclosures.enclose("receipt", maker)
    enclosures.enclose("receipt", maker)
    for kind, words, carried in (
        ("receipt", {"note": "<note/>"}, ["note.xml"]),
        ("receipt", {}, []),
        ("handback", {"note": "<note/>"}, []),
    ):
        paper = Paper(kind=kind, number="R-1", issued_at=ISSUED, words=words)
        assert list(PdfReader(io.BytesIO(papers_render.pdf(paper))).attachments) == carried


def test_metadata_that_are_no_rdf_are_a_slip_of_the_programmer():
    with pytest.raises(ValueError, match="do not end as RDF"):
        xmp.extended(b"<rdf:RDF/>", [])
