"""The audit trail as a page and as a file: values as people say them, and the same values whole."""

import datetime as dt
import re

import pytest
from django.test import Client

from nursery import audit
from nursery.models import AuditRow
from tests.factories import NOON, NurseryFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(owner, signed_in) -> Client:
    NurseryFactory()
    return signed_in(owner)


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


def test_the_audit_trail_narrows_by_person_thing_and_day(owner, office, signed_in):
    signed_in(office).post("/benches/new/", {"name": "A", "zone": "clean", "area_m2": "1", "walk_order": "0"})
    rows = AuditRow.objects.filter(verb="wrote down a bench")
    assert rows.get().by == office
    browser = signed_in(owner)
    day = AuditRow.objects.get().at.astimezone(dt.UTC).date()
    for query, there in (
        (f"person={office.pk}", True), (f"person={owner.pk}", False), ("kind=nursery.bench", True),
        ("kind=nursery.tree", False), ("words=A", True), (f"until_on={day - dt.timedelta(days=2)}", False),
        (f"from_on={day - dt.timedelta(days=1)}", True),
    ):  # fmt: skip
        page = browser.get(f"/audit-trail/?{query}").content.decode()
        assert ("wrote down a bench" in page) is there, query


def test_the_audit_trail_says_values_as_people_do_and_keeps_them_whole_in_the_file(owner, signed_in):
    NurseryFactory()
    after = {
        "stopped_at": "2026-06-25T09:37:00Z",
        "left_on": "2026-06-03",
        "state": "handed_back",
        "sha256": "ab" * 32,
    }
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, before={"state": "in_care"}, after=after)
    page = signed_in(owner).get("/audit-trail/").content.decode()
    assert "state: in care → handed back" in page
    assert "stopped at: Thu 25 June 2026, 10:37" in page  # in Dublin, an hour ahead of UTC in June
    assert "left on: Wed 3 June 2026" in page
    assert "sha256: abababababab…" in page
    file = signed_in(owner).get("/audit-trail/?csv=1").content.decode()
    assert "sha256: " + "ab" * 32 in file
    assert "stopped at: 2026-06-25T09:37:00Z" in file


def test_the_audit_trail_costs_the_same_with_more_rows(owner, signed_in, django_assert_max_num_queries):
    browser = signed_in(owner)
    row = {"at": NOON, "by": owner, "by_name": "O", "verb": "v"}
    row |= {"subject_type": "s", "subject_id": "1", "subject_words": "w"}
    for _ in range(30):
        AuditRow.objects.create(**row)
    with django_assert_max_num_queries(8):
        page = browser.get("/audit-trail/")
    assert page.content.decode().count("<tr") == 26  # 25 rows and the heading
