"""A document's file from its frozen words: template documents/<kind>.html, one typeface, fixed dates, no network.

One file is a print for people (PDF/UA-1), for the archive (PDF/A-3a), and carries what an app above encloses in its
kind (`enclosures`). The same words give the same bytes. The fetcher opens only our own static files, kept pictures
and data handed in; nothing else on the disk and nothing on the net.
"""

import datetime as dt
import threading
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from weasyprint import CSS, HTML, Attachment
from weasyprint.document import Document
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from nursery import enclosures, kept_files, xmp
from nursery.enclosures import Enclosure
from nursery.models import KeptFile, Paper

HOUSE = "https://heelin.invalid"
KEPT = "kept:"
TYPES = {
    ".css": "text/css",
    ".woff2": "font/woff2",
    ".woff": "font/woff",
    ".ttf": "font/ttf",
    ".otf": "font/otf",
}
IDENTIFIER_LENGTH = 16
ENDS_IN_CR = b"\r\nendstream"


class Forbidden(FatalURLFetchingError):
    """A document asked for something outside the house."""


class HouseFetcher(URLFetcher):
    """Opens /static/... from our static files, kept:<number> from the file store, and data: URLs."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        """Open an address of the house; Forbidden for any other."""
        if url.startswith("data:"):
            return super().fetch(url, headers)
        if url.startswith(KEPT):
            kept = KeptFile.objects.get(pk=int(url.removeprefix(KEPT)))
            return _answer(url, kept_files.read(kept), kept.media_type)
        static = f"{HOUSE}{settings.STATIC_URL}"
        found = finders.find(url.removeprefix(static)) if url.startswith(static) else None
        if not isinstance(found, str) or Path(found).suffix not in TYPES:
            raise Forbidden(f"A document may not open {url}")
        return _answer(url, Path(found).read_bytes(), TYPES[Path(found).suffix])


def _answer(url: str, data: bytes, media_type: str) -> URLFetcherResponse:
    return URLFetcherResponse(url, BytesIO(data), {"Content-Type": media_type})


def html(paper: Paper) -> str:
    """The document as HTML, from its words alone."""
    words: dict[str, Any] = {**paper.words, "paper_kind": paper.kind}
    return render_to_string(f"documents/{paper.kind}.html", words)


def pdf(paper: Paper) -> bytes:
    """The document as a tagged, archival PDF with what is enclosed in its kind."""
    carried = enclosures.enclosed(paper.kind, paper.words)
    return pdf_of(html(paper), issued_at=paper.issued_at, identifier=paper.number, carried=carried)


def pdf_of(
    text: str,
    *,
    issued_at: dt.datetime,
    identifier: str,
    carried: Iterable[Enclosure] = (),
    plain: bool = False,
) -> bytes:
    """PDF bytes of an HTML text; `identifier` and the instant fix what would otherwise differ between two runs.

    It looks like a document of the house, unless it is `plain` and brings a sheet of its own.
    """
    document = HTML(string=text, base_url=f"{HOUSE}/", url_fetcher=HouseFetcher()).render(
        font_config=_faces(), stylesheets=[] if plain else [_sheet()]
    )
    _describe(document, issued_at.astimezone(dt.UTC), tuple(carried))
    made: bytes = document.write_pdf(
        pdf_variant="pdf/a-3a",
        pdf_tags=True,
        pdf_identifier=identifier.encode().ljust(IDENTIFIER_LENGTH, b"-"),
        finisher=_finish,
    )
    return made


_of_this_thread = threading.local()


def _faces() -> FontConfiguration:
    """The typeface, laid out once a thread: one for each document costs a fifth of a megabyte that never returns."""
    if not hasattr(_of_this_thread, "faces"):
        _of_this_thread.faces = FontConfiguration()
    faces: FontConfiguration = _of_this_thread.faces
    return faces


def _sheet() -> CSS:
    """What every document looks like, read once a thread: reading it takes a tenth of the time of a page."""
    if not hasattr(_of_this_thread, "sheet"):
        url = f"{HOUSE}{settings.STATIC_URL}nursery/document.css"
        _of_this_thread.sheet = CSS(url=url, font_config=_faces(), url_fetcher=HouseFetcher())
    sheet: CSS = _of_this_thread.sheet
    return sheet


def _finish(_: Document, file: Any) -> None:
    """Two slips of the writer that PDF/A minds.

    It lists every associated file twice, as an attachment and as a file specification. And data that happen to end in
    a CR, as one compressed stream in 256 does, read with the LF written behind them as one byte too short
    (ISO 19005-3, 6.1.7.1): such a stream is written as it is, or one that came compressed with a byte more.
    """
    if "AF" in file.catalog:
        file.catalog["AF"][:] = dict.fromkeys(file.catalog["AF"])
    for one in file.objects:
        if hasattr(one, "stream") and one.data.endswith(ENDS_IN_CR):
            one.compress = False
            if one.data.endswith(ENDS_IN_CR):
                one.stream = [*one.stream, b"\0"]


def _describe(document: Document, at: dt.datetime, carried: tuple[Enclosure, ...]) -> None:
    """Dates, attachments, and XMP that claims PDF/UA beside PDF/A; the writer knows one of the two variants only."""
    told = document.metadata
    told.created = told.modified = at.isoformat(timespec="seconds")
    told.attachments = [
        Attachment(
            string=one.data,
            name=one.name,
            description=one.description,
            relationship=one.relationship,
            created=at,
            modified=at,
        )
        for one in carried
    ]
    written, included = told.generate_rdf_metadata, told.include_in_pdf
    schemas = (xmp.UNIVERSAL_ACCESS, *(one.schema for one in carried))
    told.generate_rdf_metadata = lambda *variant: xmp.extended(written(*variant), schemas)
    # ISO 19005-3 has readers that know no PDF find the metadata: they are never compressed.
    told.include_in_pdf = lambda file, variant, version, conformance, compress: included(
        file, variant, version, conformance, compress=False
    )
