"""Every kind of document, from real rows: words stand on it and no tags of the template language."""

import re

import pytest
import time_machine
from django.db import transaction
from django.test import override_settings

from nursery import papers_render
from nursery.models import Paper
from tests.small_house import NOW, small_house

TAG = re.compile(r"{[{%#]|[%}]}")


@pytest.fixture(scope="module")
def printed(django_db_setup, django_db_blocker, tmp_path_factory):
    """Kind -> the documents of that kind as HTML."""
    found: dict[str, list[str]] = {}
    with django_db_blocker.unblock(), transaction.atomic(), time_machine.travel(NOW, tick=False):
        with override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("papers")):
            small_house()
            for paper in Paper.objects.all():
                found.setdefault(paper.kind, []).append(papers_render.html(paper))
        transaction.set_rollback(True)
    return found


def test_the_search_finds_a_tag_that_was_printed_as_written():
    assert TAG.search("<address>{{ customer.address|join:</address>")
    assert not TAG.search("<address>Harbour Road 12</address>")


@pytest.mark.parametrize(
    "kind", ["cash_receipt", "certificate", "handback", "invoice", "receipt", "statement"]
)
def test_a_document_prints_words_and_no_tags(printed, kind):
    assert kind in printed
    assert [text for text in printed[kind] if TAG.search(text)] == []
