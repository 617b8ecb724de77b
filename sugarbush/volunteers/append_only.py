"""The database itself holds the house rules: what somebody said yes to is never changed or deleted."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from sugarbush.parts import append_only as parts
from sugarbush.parts.append_only import Guard

SAYS = "House rules that were published stay as they were."
TABLE = "volunteers_houserules"
ROWS = (
    Guard(TABLE, "house_rules_stay", "BEFORE UPDATE", SAYS),
    Guard(TABLE, "house_rules_are_kept", "BEFORE DELETE", SAYS),
)
OVER = (
    Guard(
        TABLE,
        "house_rules_not_over",
        "BEFORE INSERT",
        SAYS,
        "EXISTS (SELECT 1 FROM volunteers_houserules WHERE id = NEW.id OR number = NEW.number)",
    ),
)


def put_up(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        for statement in parts.statements(connection.vendor, rows=ROWS, over=OVER):
            cursor.execute(statement)


def take_down(connection: BaseDatabaseWrapper) -> None:
    parts.take_down(connection, rows=ROWS, over=OVER)
