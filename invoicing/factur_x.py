"""The XML inside the PDF of an invoice, and what the PDF says of it.

Source: Factur-X 1.0, profile EN 16931 (name of the file, relationship, XMP schema), from memory.
"""

from collections.abc import Mapping
from typing import Any

from invoicing import cii
from invoicing.e_invoice import from_words
from nursery.enclosures import Enclosure
from nursery.xmp import Property, Schema

NAME = "factur-x.xml"
SCHEMA = Schema(
    "Factur-X PDFA Extension Schema",
    "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
    "fx",
    (
        Property("DocumentType", "INVOICE", "INVOICE"),
        Property("DocumentFileName", NAME, "name of the embedded XML invoice file"),
        Property("Version", "1.0", "version of the XML data"),
        Property("ConformanceLevel", "EN 16931", "conformance level of the XML data"),
    ),
)


def enclosure(words: Mapping[str, Any]) -> Enclosure | None:
    """The XML of the frozen words; None for an invoice that has no e-invoice, or is older than it."""
    told = words.get("e_invoice")
    if not told:
        return None
    return Enclosure(NAME, cii.xml(from_words(told)), "The same invoice for software", "Alternative", SCHEMA)
