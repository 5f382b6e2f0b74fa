"""Django's SQLite engine, made to live with triggers.

Two things differ. A migration that rebuilds a table silently drops the table's triggers, and fails with a misleading
error when a trigger on another table mentions it: here all triggers step aside for the rebuild and come back in the
same transaction. And flush(), which empties every table between tests, would be refused by frozen tables: here it
lifts the triggers for its own transaction.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import Any

from django.db import transaction
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.sqlite3 import base, operations, schema


@contextmanager
def triggers_aside(cursor: Any) -> Iterator[None]:
    """Drop every trigger for the length of the block; an error leaves putting them back to the rollback."""
    cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND sql IS NOT NULL")
    saved = cursor.fetchall()
    for name, _ in saved:
        cursor.execute(f'DROP TRIGGER "{name}"')
    yield
    for _, sql in saved:
        cursor.execute(sql)


class SchemaEditor(schema.DatabaseSchemaEditor):
    """Carries triggers over a table rebuild."""

    def _remake_table(self, *args: Any, **kwargs: Any) -> None:
        with self.connection.cursor() as cursor, triggers_aside(cursor):
            super()._remake_table(*args, **kwargs)  # type: ignore[misc]

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            super().__exit__(kind, error, trace)
            return
        # Django checks foreign keys here first; on a failed migration that hides the real error and its rollback.
        BaseDatabaseSchemaEditor.__exit__(self, kind, error, trace)
        self.connection.enable_constraint_checking()


class Operations(operations.DatabaseOperations):
    """Lets flush() empty frozen tables."""

    def execute_sql_flush(self, sql_list: Any) -> None:
        atomic = transaction.atomic(using=self.connection.alias)
        with atomic, self.connection.cursor() as cursor, triggers_aside(cursor):
            for sql in sql_list:
                cursor.execute(sql)


class DatabaseWrapper(base.DatabaseWrapper):
    """The engine."""

    SchemaEditorClass = SchemaEditor
    ops_class = Operations
