"""The audit trail as a page and as a file: values as people say them, and the same values whole."""

import re

import pytest
from django.test import Client

from nursery import audit
from nursery.models import AuditRow
from tests.factories import NOON, NurseryFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    NurseryFactory()
    return PersonFactory(proprietor=True)


@pytest.fixture
def browser(owner) -> Client:
    client = Client()
    client.force_login(owner)
    return client


def text(browser: Client, query: str = "") -> str:
    page = browser.get(f"/audit-trail/{query}").content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_a_tree_kept_by_its_number_is_said_by_tag_and_name(owner, browser):
    olive = TreeFactory(described_as="Olive, twisted trunk", tag__code="DN0412")
    fig = TreeFactory(described_as="Fig in a tub", tag=None)
    audit.record(
        by=owner, at=NOON, verb="tried", subject=owner, before={"tree": fig.pk}, after={"tree": olive.pk}
    )
    assert "tree: Fig in a tub → DN-0412 Olive, twisted trunk" in text(browser)
    assert f"tree: {fig.pk} → {olive.pk}" in browser.get("/audit-trail/?csv=1").content.decode()


def test_a_tree_kept_by_its_words_stays_as_it_was_written(owner, browser):
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, after={"tree": "Lemon, broom"})
    assert "tree: Lemon, broom" in text(browser)


def test_a_number_that_names_no_tree_is_not_shown(owner, browser):
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, after={"tree": 987654})
    assert "tree: a tree that is no longer written here" in text(browser)


def test_the_number_of_a_row_is_kept_for_the_file_alone(owner, browser):
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, after={"look": 222, "live": 4})
    assert "live: 4" in text(browser)
    assert "222" not in text(browser)
    assert "look: 222; live: 4" in browser.get("/audit-trail/?csv=1").content.decode()


def test_yes_no_and_sums_set_against_bills_are_said_in_words(owner, browser):
    after = {"bees": "True", "winter_place": False, "set_against": {"I-2026-0031": "221.52"}}
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, before={"hybrid": True}, after=after)
    page = text(browser)
    assert "hybrid: yes → nothing; bees: yes; winter place: no; set against: I-2026-0031 221.52" in page


def test_many_trees_cost_one_query(owner, browser, django_assert_max_num_queries):
    row = {"at": NOON, "by": owner, "by_name": "O", "verb": "v", "subject_type": "x.y", "subject_id": "1"}
    trees = TreeFactory.create_batch(20)
    AuditRow.objects.bulk_create(AuditRow(**row, subject_words="w", after={"tree": one.pk}) for one in trees)
    with django_assert_max_num_queries(9):  # a page that names no tree costs 8
        page = text(browser)
    assert all(f"tree: {one.tags.get().short} {one}" in page for one in trees)
