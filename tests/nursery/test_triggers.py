"""Guards: the database itself refuses, on every engine, and keeps refusing after a migration."""

import datetime as dt

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction

from nursery import checks, triggers
from nursery.models import AuditRow

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.engine]


class Paper:
    """Two tables of the test's own and the guards on them."""

    parent, child, stay = "t_paper", "t_line", "t_span"
    guards = (
        triggers.frozen_when(parent, "OLD.issued_at IS NOT NULL", says="issued papers are frozen"),
        triggers.frozen_child(child, "paper_id", parent, "p.issued_at IS NOT NULL"),
        triggers.no_overlap(stay, "tree", "since", "until", where="{row}.cancelled_at IS NULL"),
        triggers.refuse(parent, "one_way", ["UPDATE"], "NEW.words = 'no'", says="not this word"),
    )


def sql(*statements):
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
        return cursor.fetchall() if cursor.description else []


def refused(statement, words):
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        sql(statement)


@pytest.fixture
def tables(transactional_db):
    key = "integer PRIMARY KEY" if connection.vendor == "sqlite" else "bigserial PRIMARY KEY"
    sql(
        f"CREATE TABLE t_paper (id {key}, words text, issued_at timestamp NULL)",
        f"CREATE TABLE t_line (id {key}, paper_id integer, words text)",
        f"CREATE TABLE t_span (id {key}, tree integer, since date, until date NULL, cancelled_at timestamp NULL)",
        "INSERT INTO t_paper (words, issued_at) VALUES ('draft', NULL), ('issued', '2026-06-26 08:00')",
    )
    triggers.install(connection, Paper.guards)
    sql("INSERT INTO t_line (paper_id, words) VALUES (1, 'of the draft')")
    yield
    sql("DROP TABLE t_line", "DROP TABLE t_paper", "DROP TABLE t_span")


def test_a_draft_changes_and_an_issued_row_does_not(tables):
    sql("UPDATE t_paper SET words = 'draft two' WHERE id = 1")
    refused("UPDATE t_paper SET words = 'x' WHERE id = 2", "issued papers are frozen")
    refused("DELETE FROM t_paper WHERE id = 2", "issued papers are frozen")
    sql("DELETE FROM t_paper WHERE id = 1")
    assert sql("SELECT words FROM t_paper") == [("issued",)]


def test_issuing_is_allowed_once_and_undoing_it_is_not(tables):
    sql("UPDATE t_paper SET issued_at = '2026-06-27 08:00' WHERE id = 1")
    refused("UPDATE t_paper SET issued_at = NULL WHERE id = 1", "frozen")


def test_children_of_an_issued_row_neither_come_go_change_nor_move(tables):
    refused("INSERT INTO t_line (paper_id, words) VALUES (2, 'late')", "belongs to a frozen one")
    refused("UPDATE t_line SET paper_id = 2 WHERE paper_id = 1", "belongs to a frozen one")
    sql("UPDATE t_line SET words = 'changed' WHERE paper_id = 1")
    sql("UPDATE t_paper SET issued_at = '2026-06-27 08:00' WHERE id = 1")
    refused("UPDATE t_line SET words = 'x'", "belongs to a frozen one")
    refused("DELETE FROM t_line", "belongs to a frozen one")


@pytest.mark.parametrize(
    ("since", "until", "fits"),
    [
        ("2026-06-01", "2026-06-03", True),  # the day it ends is the day the next begins
        ("2026-06-01", "2026-06-04", False),
        ("2026-06-05", "2026-06-06", False),  # inside
        ("2026-06-01", None, False),  # open, over it
        ("2026-06-10", None, True),
        ("2026-06-09", "2026-06-20", False),
    ],
)
def test_spans_of_one_tree_never_overlap(tables, since, until, fits):
    sql("INSERT INTO t_span (tree, since, until) VALUES (1, '2026-06-03', '2026-06-10')")
    end = f"'{until}'" if until else "NULL"
    statement = f"INSERT INTO t_span (tree, since, until) VALUES (1, '{since}', {end})"
    if fits:
        sql(statement)
    else:
        refused(statement, "spans overlap")
    sql(statement.replace("VALUES (1", "VALUES (2"))


def test_a_span_moved_onto_another_is_refused_and_itself_is_no_hindrance(tables):
    sql(
        "INSERT INTO t_span (tree, since, until) VALUES (1, '2026-06-03', '2026-06-10'), (1, '2026-06-10', NULL)"
    )
    sql("UPDATE t_span SET until = '2026-06-09' WHERE id = 1")
    refused("UPDATE t_span SET until = '2026-06-11' WHERE id = 1", "spans overlap")
    refused("UPDATE t_span SET since = '2026-06-05' WHERE id = 2", "spans overlap")


def test_a_cancelled_span_does_not_count(tables):
    sql(
        "INSERT INTO t_span (tree, since, until, cancelled_at) VALUES (1, '2026-06-03', NULL, '2026-06-04 08:00')"
    )
    sql("INSERT INTO t_span (tree, since, until) VALUES (1, '2026-06-05', NULL)")
    refused("UPDATE t_span SET cancelled_at = NULL WHERE id = 1", "spans overlap")


def test_a_rule_of_ones_own(tables):
    refused("UPDATE t_paper SET words = 'no' WHERE id = 1", "not this word")


def test_guards_can_be_taken_away_and_laid_again(tables):
    triggers.drop(connection, Paper.guards)
    sql("UPDATE t_paper SET words = 'x' WHERE id = 2")
    triggers.install(connection, Paper.guards)
    triggers.install(connection, Paper.guards)
    refused("UPDATE t_paper SET words = 'y' WHERE id = 2", "frozen")


def test_a_changed_rule_replaces_the_one_that_lies(tables):
    stricter = triggers.frozen_when("t_paper", "1=1", says="issued papers are frozen")
    assert stricter.name == Paper.guards[0].name
    triggers.install(connection, [stricter])
    refused("UPDATE t_paper SET words = 'x' WHERE id = 1", "frozen")


# --- On the real tables -------------------------------------------------------------------------------------------


def audit_row():
    at = dt.datetime(2026, 6, 26, 8, 0, tzinfo=dt.UTC)
    return AuditRow.objects.create(
        at=at, by=None, by_name="Heelin", verb="test", subject_type="x", subject_id="1"
    )


def test_every_guard_of_every_app_is_laid_by_migrate():
    assert triggers.expected(connection)
    assert triggers.missing(connection) == set()
    assert checks.guards_are_laid(databases=["default"]) == []


def test_the_audit_trail_is_only_added_to():
    row = audit_row()
    with pytest.raises(IntegrityError, match="only ever added to"):
        AuditRow.objects.filter(pk=row.pk).update(verb="other")
    with pytest.raises(IntegrityError, match="only ever added to"):
        AuditRow.objects.filter(pk=row.pk)._raw_delete("default")
    with pytest.raises(IntegrityError, match="only ever added to"):
        AuditRow(pk=row.pk, at=row.at, by_name="x", verb="y", subject_type="x", subject_id="1").save()


def test_a_missing_guard_is_noticed_and_migrate_lays_it_again():
    guard = triggers.guards()[0]
    triggers.drop(connection, [guard])
    found = checks.guards_are_laid(databases=["default"])
    assert [(message.id, guard.name in message.msg) for message in found] == [("nursery.W001", True)]
    call_command("migrate", verbosity=0)
    assert checks.guards_are_laid(databases=["default"]) == []


def test_a_rebuilt_table_keeps_its_guards():
    """SQLite rebuilds the table for this change; its triggers, and others that mention it, must survive."""
    before = triggers.present(connection)
    field = AuditRow._meta.get_field("verb")
    wider = models.CharField(max_length=field.max_length + 1)
    wider.set_attributes_from_name("verb")
    wider.model = AuditRow
    with connection.schema_editor() as editor:
        editor.alter_field(AuditRow, field, wider, strict=True)
    assert triggers.present(connection) == before
    with connection.schema_editor() as editor:
        editor.alter_field(AuditRow, wider, field, strict=True)
    assert triggers.present(connection) == before


def test_tests_can_empty_frozen_tables():
    audit_row()
    call_command("flush", verbosity=0, interactive=False)
    assert AuditRow.objects.count() == 0
    assert triggers.missing(connection) == set()


@pytest.mark.django_db(False)
def test_names_fit_postgresql_and_stay_distinct():
    long = "boarding_a_table_with_a_name_that_goes_on_and_on"
    names = [
        triggers.frozen_child(long, column, "x", "1=1").name
        for column in ("a_long_column", "a_longer_column")
    ]
    assert len(set(names)) == 2
    assert all(len(f"{name}_truncate") <= 63 for name in names)


@pytest.mark.django_db(False)
def test_two_guards_of_one_name_are_refused(monkeypatch):
    twice = triggers.guards()[0]
    module = __import__("nursery.guards", fromlist=["GUARDS"])
    monkeypatch.setattr(module, "GUARDS", [twice, twice])
    with pytest.raises(ValueError, match="one name"):
        triggers.guards()
