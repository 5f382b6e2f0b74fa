"""What a PDF says of itself in XMP: the PDF/UA identification, and the schemas of files attached to it.

PDF/A allows properties it does not know only when their schema is described beside them (ISO 19005-3, 6.6.2.3), and
all of it stands in one rdf:RDF (ISO 16684-1, 7.4), uncompressed. Plain texts in, bytes out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from xml.etree import ElementTree as ET

NAMESPACES = {
    "xmlns:pdfaExtension": "http://www.aiim.org/pdfa/ns/extension/",
    "xmlns:pdfaSchema": "http://www.aiim.org/pdfa/ns/schema#",
    "xmlns:pdfaProperty": "http://www.aiim.org/pdfa/ns/property#",
}
END = b"</rdf:RDF>"


@dataclass(frozen=True)
class Property:
    """One property with its value, and what it means in the words of its schema."""

    name: str
    value: str
    meaning: str
    kind: str = "Text"
    category: str = "external"


@dataclass(frozen=True)
class Schema:
    """Properties of one namespace."""

    name: str
    namespace: str
    prefix: str
    properties: tuple[Property, ...]


UNIVERSAL_ACCESS = Schema(
    "PDF/UA identification schema",
    "http://www.aiim.org/pdfua/ns/id/",
    "pdfuaid",
    (Property("part", "1", "part of ISO 14289 to which the file conforms", "Integer", "internal"),),
)


def extended(rdf: bytes, schemas: Iterable[Schema]) -> bytes:
    """The RDF with the properties of the schemas and the description of each.

    >>> extended(b"<rdf:RDF></rdf:RDF>", [UNIVERSAL_ACCESS]).count(b"<pdfuaid:part>1</pdfuaid:part>")
    1
    """
    told = tuple(schemas)
    if not rdf.endswith(END):
        raise ValueError("The metadata do not end as RDF does.")
    added = [*map(_values, told), _descriptions(told)]
    return rdf.removesuffix(END) + b"".join(ET.tostring(one, encoding="utf-8") for one in added) + END


def _values(schema: Schema) -> ET.Element:
    element = ET.Element("rdf:Description", {"rdf:about": "", f"xmlns:{schema.prefix}": schema.namespace})
    for one in schema.properties:
        ET.SubElement(element, f"{schema.prefix}:{one.name}").text = one.value
    return element


def _descriptions(schemas: Iterable[Schema]) -> ET.Element:
    element = ET.Element("rdf:Description", {"rdf:about": "", **NAMESPACES})
    bag = ET.SubElement(ET.SubElement(element, "pdfaExtension:schemas"), "rdf:Bag")
    for schema in schemas:
        item = _item(
            bag, "pdfaSchema", schema=schema.name, namespaceURI=schema.namespace, prefix=schema.prefix
        )
        properties = ET.SubElement(ET.SubElement(item, "pdfaSchema:property"), "rdf:Seq")
        for one in schema.properties:
            _item(
                properties,
                "pdfaProperty",
                name=one.name,
                valueType=one.kind,
                category=one.category,
                description=one.meaning,
            )
    return element


def _item(parent: ET.Element, space: str, /, **texts: str) -> ET.Element:
    item = ET.SubElement(parent, "rdf:li", {"rdf:parseType": "Resource"})
    for name, text in texts.items():
        ET.SubElement(item, f"{space}:{name}").text = text
    return item
