"""Guards: rules the database itself holds where a constraint cannot, as triggers on SQLite and PostgreSQL alike.

Each app lists its guards in guards.py (GUARDS = [...]), built by the functions below. They are laid after every
migration (install_after_migrate) and looked for at start-up. A condition is plain SQL that both engines read, over
OLD and NEW: "OLD.issued_at IS NOT NULL". What a guard refuses arrives in Python as IntegrityError.
"""

import hashlib
import importlib
import importlib.util
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.apps import AppConfig, apps
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

PREFIX = "guard_"
LONGEST_NAME = 50  # PostgreSQL cuts names at 63 bytes; "_truncate" comes behind
Table = str | type[Model]


@dataclass(frozen=True)
class Guard:
    """One rule: triggers by name for each engine, and the PostgreSQL functions they call.

    `needs` names every table the triggers mention; a guard is laid once all of them exist.
    """

    name: str
    table: str
    sqlite: dict[str, str]
    postgres: dict[str, str]
    functions: tuple[str, ...] = ()
    needs: frozenset[str] = field(default_factory=frozenset)

    def triggers(self, vendor: str) -> dict[str, str]:
        """Trigger name -> CREATE statement for the engine."""
        return self.sqlite if vendor == "sqlite" else self.postgres


# --- Building guards ----------------------------------------------------------------------------------------------


def append_only(table: Table, *, says: str = "rows are only ever added") -> Guard:
    """Rows may be added, never changed or removed."""
    return _row_guard(table, "append_only", says, [("UPDATE", "1=1", "1=1"), ("DELETE", "1=1", "1=1")])


def frozen_when(
    table: Table, condition: str, *, may_change: Sequence[str] = (), says: str = "this row is frozen"
) -> Guard:
    """Once `condition` holds on OLD, a row neither changes nor goes; the columns in `may_change` stay writable."""
    if not may_change:
        changes = [("UPDATE", condition, condition)]
    else:
        sqlite = f"({condition}) AND ({_differs(_name(table), may_change)})"
        kept = "".join(f" - '{column}'" for column in may_change)
        postgres = f"({condition}) AND (to_jsonb(OLD){kept}) IS DISTINCT FROM (to_jsonb(NEW){kept})"
        changes = [("UPDATE", sqlite, postgres)]
    return _row_guard(table, "frozen", says, [*changes, ("DELETE", condition, condition)])


def frozen_child(
    table: Table,
    fk_column: str,
    parent: Table,
    condition: str,
    *,
    says: str = "this row belongs to a frozen one",
) -> Guard:
    """While `condition` holds on the parent (written as "p.issued_at IS NOT NULL"), its children are frozen:
    none is added, changed, removed or moved to or from it."""
    parent_table = _name(parent)

    def held(row: str) -> str:
        return f"EXISTS (SELECT 1 FROM {parent_table} p WHERE p.id = {row}.{fk_column} AND ({condition}))"

    both = f"{held('OLD')} OR {held('NEW')}"
    refusals = [
        ("INSERT", held("NEW"), held("NEW")),
        ("UPDATE", both, both),
        ("DELETE", held("OLD"), held("OLD")),
    ]
    return _row_guard(table, f"frozen_by_{fk_column}", says, refusals, also=[parent_table])


def no_overlap(
    table: Table, key: str, from_col: str, until_col: str, *, where: str = "", says: str = "spans overlap"
) -> Guard:
    """Spans [from, until) of one key never overlap; an empty until is open. `where` narrows the rows that count,
    written over {row}: "{row}.cancelled_at IS NULL"."""
    name = _name(table)
    counts = [where.format(row=row) for row in ("NEW", "o") if where]
    overlap = " AND ".join(
        [
            f"o.{key} = NEW.{key}",
            "o.id <> NEW.id",
            f"(NEW.{until_col} IS NULL OR o.{from_col} < NEW.{until_col})",
            f"(o.{until_col} IS NULL OR NEW.{from_col} < o.{until_col})",
            *(f"({count})" for count in counts),
        ]
    )
    clash = f"EXISTS (SELECT 1 FROM {name} o WHERE {overlap})"
    # Two transactions do not see each other's new rows: they take turns, key by key, before looking.
    lock = f"PERFORM pg_advisory_xact_lock(hashtext('{name}'), hashtext(NEW.{key}::text));"
    refusals = [("INSERT", clash, clash), ("UPDATE", clash, clash)]
    return _row_guard(
        table, f"no_overlap_{key}", says, refusals, when="AFTER", before_looking=lock, truncate=False
    )


def refuse(table: Table, rule: str, operations: Sequence[str], condition: str, *, says: str) -> Guard:
    """A rule of one's own: the operations ("INSERT", "UPDATE", "DELETE") are refused when `condition` holds."""
    return _row_guard(table, rule, says, [(operation, condition, condition) for operation in operations])


def _row_guard(
    table: Table,
    rule: str,
    says: str,
    refusals: Sequence[tuple[str, str, str]],
    *,
    when: str = "BEFORE",
    before_looking: str = "",
    truncate: bool = True,
    also: Sequence[str] = (),
) -> Guard:
    """Triggers from (operation, condition on SQLite, condition on PostgreSQL)."""
    on = _name(table)
    name = _short(f"{PREFIX}{on}_{rule}")
    words = f"{on}: {says}".replace("'", "''")
    sqlite = {
        f"{name}_{operation.lower()}": (
            f"CREATE TRIGGER {name}_{operation.lower()} {when} {operation} ON {on} WHEN {condition} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )
        for operation, condition, _ in refusals
    }
    operations = " OR ".join(operation for operation, _, _ in refusals)
    postgres = {
        name: f"CREATE OR REPLACE TRIGGER {name} {when} {operations} ON {on} FOR EACH ROW EXECUTE FUNCTION {name}()"
    }
    if truncate:
        postgres[f"{name}_truncate"] = (
            f"CREATE OR REPLACE TRIGGER {name}_truncate BEFORE TRUNCATE ON {on} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {name}()"
        )
    function = _function(name, words, refusals, before_looking)
    return Guard(name, on, sqlite, postgres, (function,), frozenset({on, *also}))


def _function(name: str, words: str, refusals: Sequence[tuple[str, str, str]], before_looking: str) -> str:
    branches = " ".join(
        f"ELSIF TG_OP = '{operation}' THEN bad := {condition};" for operation, _, condition in refusals
    )
    return f"""
        CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$
        DECLARE bad boolean := false;
        BEGIN
          IF TG_OP = 'TRUNCATE' THEN
            IF current_setting('app.allow_purge', true) = 'on' THEN RETURN NULL; END IF;
            RAISE EXCEPTION '%', '{words}' USING ERRCODE = 'restrict_violation';
          END IF;
          {before_looking}
          IF false THEN NULL; {branches} END IF;
          IF bad THEN RAISE EXCEPTION '%', '{words}' USING ERRCODE = 'restrict_violation'; END IF;
          IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
          RETURN NEW;
        END $$"""


def _name(table: Table) -> str:
    return table if isinstance(table, str) else table._meta.db_table


def _short(name: str) -> str:
    if len(name) <= LONGEST_NAME:
        return name
    return f"{name[: LONGEST_NAME - 9]}_{hashlib.sha256(name.encode()).hexdigest()[:8]}"


def _differs(table: str, may_change: Sequence[str]) -> str:
    """SQL: any column of the table but those named has another value in NEW."""
    model = next(
        model for model in apps.get_models(include_auto_created=True) if model._meta.db_table == table
    )
    columns = [
        column.column for column in model._meta.local_concrete_fields if column.column not in may_change
    ]
    return " OR ".join(f"OLD.{column} IS NOT NEW.{column}" for column in columns)


# --- Laying and looking for them ----------------------------------------------------------------------------------


def guards(app_configs: Iterable[AppConfig] | None = None) -> list[Guard]:
    """The guards that the apps list in their guards.py."""
    found: list[Guard] = []
    for config in app_configs or apps.get_app_configs():
        if importlib.util.find_spec(f"{config.name}.guards"):
            found += importlib.import_module(f"{config.name}.guards").GUARDS
    names = [guard.name for guard in found]
    if len(names) != len(set(names)):
        raise ValueError(
            f"two guards have one name: {sorted(name for name in names if names.count(name) > 1)}"
        )
    return found


def expected(connection: BaseDatabaseWrapper) -> set[str]:
    """Trigger names that must be there, given the tables that are."""
    return {name for guard in _possible(connection, guards()) for name in guard.triggers(connection.vendor)}


def present(connection: BaseDatabaseWrapper) -> set[str]:
    """Trigger names of ours that are there and awake."""
    return set(_present(connection))


def missing(connection: BaseDatabaseWrapper) -> set[str]:
    """Trigger names that should be there and are not."""
    return expected(connection) - present(connection)


def install(connection: BaseDatabaseWrapper, chosen: Sequence[Guard] | None = None) -> None:
    """Lay the guards; safe to run again, and replaces one whose rule has changed."""
    laid = _present(connection) if connection.vendor == "sqlite" else {}
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for guard in _possible(connection, guards() if chosen is None else chosen):
            if connection.vendor != "sqlite":
                for sql in (*guard.functions, *guard.postgres.values()):
                    cursor.execute(sql)
                continue
            for name, sql in guard.sqlite.items():
                if laid.get(name) != sql:
                    cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
                    cursor.execute(sql)


def drop(connection: BaseDatabaseWrapper, chosen: Sequence[Guard] | None = None) -> None:
    """Take the guards away, for a migration that must rewrite guarded rows; post_migrate lays them again."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        for guard in _possible(connection, guards() if chosen is None else chosen):
            for name in guard.triggers(connection.vendor):
                on = "" if connection.vendor == "sqlite" else f" ON {guard.table}"
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def install_after_migrate(sender: AppConfig, using: str, **_: Any) -> None:
    """Receiver of post_migrate: every app lays its own guards, over its own tables and those of lower apps."""
    install(connections[using], guards([sender]))


def _possible(connection: BaseDatabaseWrapper, chosen: Iterable[Guard]) -> list[Guard]:
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
    return [guard for guard in chosen if guard.needs <= tables]


def _present(connection: BaseDatabaseWrapper) -> dict[str, str]:
    if connection.vendor == "sqlite":
        sql = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND sql IS NOT NULL"
    else:
        sql = (
            "SELECT tgname, '' FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace "
            "WHERE NOT tgisinternal AND tgenabled <> 'D' AND n.nspname = ANY (current_schemas(false))"
        )
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return {name: made for name, made in cursor.fetchall() if name.startswith(PREFIX)}
