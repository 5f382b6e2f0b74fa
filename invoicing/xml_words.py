"""How are values written into the XML of an e-invoice? The same texts in both syntaxes.

Amounts with two places, prices with two to four, other numbers without zeros at the end and never with an exponent;
letters that XML 1.0 does not know are left out. Errors: none. Sources: EN 16931-1, BR-DEC-* (two places);
Extensible Markup Language 1.0, production 2 (characters).

>>> amount(Decimal("-5")), price(Decimal("42.0000")), number(Decimal("20.0"))
('-5.00', '42.00', '20')
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from xml.etree import ElementTree as ET

from nursery.money import cents

NOT_IN_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
PLACES = 2


def amount(value: Decimal) -> str:
    """Two places, never a negative zero.

    >>> amount(Decimal("-0.00")), amount(Decimal("1250.5"))
    ('0.00', '1250.50')
    """
    return f"{cents(value):f}"


def number(value: Decimal) -> str:
    """As many places as it needs.

    >>> number(Decimal("13.50")), number(Decimal("1000")), number(Decimal("-20.0"))
    ('13.5', '1000', '-20')
    """
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def price(value: Decimal) -> str:
    """Two places, or as many as it has.

    >>> price(Decimal("0.1250")), price(Decimal("12"))
    ('0.125', '12.00')
    """
    whole, _, decimals = number(value).partition(".")
    return f"{whole}.{decimals.ljust(PLACES, '0')}"


def root(name: str, namespaces: Mapping[str, str]) -> ET.Element:
    """The outermost element; every name below is written with the prefixes declared here."""
    return ET.Element(name, dict(namespaces))


def add(parent: ET.Element, path: str, text: str | None = None, /, **attributes: str) -> ET.Element:
    """An element below, by a path of names; the last one gets text and attributes.

    >>> top = ET.Element("a")
    >>> _ = add(top, "b/c", "Moss & Sons", unit="MIN")
    >>> ET.tostring(top)
    b'<a><b><c unit="MIN">Moss &amp; Sons</c></b></a>'
    """
    element = parent
    for name in path.split("/"):
        element = ET.SubElement(element, name)
    element.attrib.update(attributes)
    if text is not None:
        element.text = legal(text)
    return element


def add_if(parent: ET.Element, path: str, text: str, /, **attributes: str) -> None:
    """The same, and nothing at all for an empty text: the standard allows no empty element."""
    if legal(text):
        add(parent, path, text, **attributes)


def legal(text: str) -> str:
    """The text without letters that XML does not know, and without blanks around it.

    >>> legal(" vertical\\x0btab ")
    'verticaltab'
    """
    return NOT_IN_XML.sub("", text).strip()


def written(element: ET.Element) -> bytes:
    """The whole document as bytes, the same for the same values."""
    ET.indent(element)
    made: bytes = ET.tostring(element, encoding="UTF-8", xml_declaration=True)
    return made + b"\n"
