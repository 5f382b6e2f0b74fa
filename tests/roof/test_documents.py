"""Every kind of document, from real rows: words, no tags of the template language, and the two standards of the file.

PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1) are asked of page-validation 0.11.0, which checks what a machine can
see; whether a text alternative says the right thing, a person reads.
"""

import re
from dataclasses import dataclass

import page
import pytest
import time_machine
from django.db import transaction
from django.test import Client, override_settings

from nursery import papers_render
from nursery.models import Paper
from tests.small_house import NOW, SmallHouse, small_house

TAG = re.compile(r"{[{%#]|[%}]}")
KINDS = [
    "cash_receipt",
    "certificate",
    "credit",
    "deposit",
    "estimate",
    "handback",
    "invoice",
    "receipt",
    "reminder",
    "security",
    "statement",
]
SHEETS = ["tag_labels", "clock_cards", "movements"]

# The PDF library leaves its colour profile open; nothing of ours.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.filterwarnings("ignore:unclosed file.*sRGB2014:ResourceWarning"),
]


@dataclass
class Printed:
    """Documents of each kind as HTML; one of each, and the sheets printed on demand, as files."""

    texts: dict[str, list[str]]
    files: dict[str, bytes]


@pytest.fixture(scope="module")
def printed(django_db_setup, django_db_blocker, tmp_path_factory):
    with django_db_blocker.unblock(), transaction.atomic(), time_machine.travel(NOW, tick=False):
        with override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("papers")):
            house = small_house()
            found = Printed({}, sheets(house))
            for paper in Paper.objects.all():
                found.texts.setdefault(paper.kind, []).append(papers_render.html(paper))
                if paper.kind not in found.files:
                    found.files[paper.kind] = papers_render.pdf(paper)
        transaction.set_rollback(True)
    return found


def sheets(house: SmallHouse) -> dict[str, bytes]:
    tree = house.stays["in_care"].tree.pk
    browser = Client()
    browser.force_login(house.people["proprietor"], backend="django.contrib.auth.backends.ModelBackend")
    addresses = (f"/tags/labels/?tree={tree}", "/clock/cards/", f"/trees/{tree}/notifiable/movements/")
    return {name: browser.get(address).content for name, address in zip(SHEETS, addresses, strict=True)}


def test_the_search_finds_a_tag_that_was_printed_as_written():
    assert TAG.search("<address>{{ customer.address|join:</address>")
    assert not TAG.search("<address>Harbour Road 12</address>")


@pytest.mark.parametrize("kind", KINDS)
def test_a_document_prints_words_and_no_tags(printed, kind):
    assert kind in printed.texts
    assert [text for text in printed.texts[kind] if TAG.search(text)] == []


@pytest.mark.parametrize("profile", ["3a", "ua1"])
@pytest.mark.parametrize("kind", KINDS + SHEETS)
def test_a_printed_file_keeps_to_both_standards(printed, kind, profile):
    report = page.validate_pdf_bytes(printed.files[kind], profile=profile)
    assert [(failure.rule_id, failure.message) for failure in report.failures] == []
    assert report.is_compliant


def test_the_check_sees_a_picture_without_a_text_alternative():
    made = papers_render.pdf_of(
        '<html lang="en-IE"><title>Plain</title><svg width="9" height="9"><path d="M0 0h9v9z"/></svg></html>',
        issued_at=NOW,
        identifier="plain",
    )
    rules = {failure.rule_id for failure in page.validate_pdf_bytes(made, profile="ua1").failures}
    assert rules == {"PDFUA1-FIGURE-ALTERNATIVE-TEXT-001"}
