"""Triggers by which the database itself refuses to change what must stand as written.

Used by migrations. Rows may still be added; SQLite and PostgreSQL raise an IntegrityError alike.
Deleting is not among the refusals: the applications never delete such rows (their foreign keys are
protected), and emptying a test database must stay possible.
"""

from collections.abc import Sequence
from typing import Any

from django.db.migrations.operations import RunPython
from django.db.migrations.operations.base import Operation

_SQLITE = """
CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW WHEN {condition}
BEGIN SELECT RAISE(ABORT, '{message}'); END
"""
_POSTGRESQL = """
CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
  IF {condition} THEN
    RAISE EXCEPTION '{message}' USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END $$;
CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}();
"""


def refuse(*, name: str, event: str, table: str, condition: str, message: str) -> RunPython:
    """Return a migration operation that refuses ``event`` on ``table`` while ``condition`` holds.

    ``event`` is INSERT or UPDATE; ``condition`` is SQL over OLD and NEW that both databases read.
    """
    words = {
        "name": name,
        "event": event,
        "table": table,
        "condition": condition,
        "message": message,
    }

    def add(apps: Any, schema_editor: Any) -> None:
        vendor = schema_editor.connection.vendor
        schema_editor.execute((_SQLITE if vendor == "sqlite" else _POSTGRESQL).format(**words))

    def remove(apps: Any, schema_editor: Any) -> None:
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER {name}")
        else:
            schema_editor.execute(f"DROP TRIGGER {name} ON {table}; DROP FUNCTION {name}();")

    return RunPython(add, remove)


def set_aside(refusals: Sequence[RunPython], *changes: Operation) -> list[Operation]:
    """Return changes of a table as migration operations, its refusals dropped before and put back.

    SQLite remakes a table whose columns change, and its triggers go with the old one.
    """
    dropped = [
        RunPython(each.reverse_code, each.code)  # type: ignore[arg-type]  # refuse gives both
        for each in refusals
    ]
    return [*dropped, *changes, *refusals]
