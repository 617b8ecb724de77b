"""The database itself holds the history: an act written there is never changed, deleted, or written over.

So no row may hold a person's name: it holds their number, and a name that has to go goes from one place, the person.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from sugarbush.parts import append_only as parts
from sugarbush.parts.append_only import Guard

SAYS = "The history is only ever added to."
ROWS = (
    Guard("audit_auditevent", "history_stays", "BEFORE UPDATE", SAYS),
    Guard("audit_auditevent", "history_is_kept", "BEFORE DELETE", SAYS),
)
OVER = (
    Guard(
        "audit_auditevent",
        "history_not_over",
        "BEFORE INSERT",
        SAYS,
        "EXISTS (SELECT 1 FROM audit_auditevent WHERE id = NEW.id)",
    ),
)


def put_up(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        for statement in parts.statements(connection.vendor, rows=ROWS, over=OVER):
            cursor.execute(statement)


def take_down(connection: BaseDatabaseWrapper) -> None:
    parts.take_down(connection, rows=ROWS, over=OVER)
