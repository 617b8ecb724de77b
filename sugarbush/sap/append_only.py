"""The database itself holds the ledger: what was posted is never changed, deleted, or written over.

Triggers refuse it, whoever asks: an action, a shell, another program. Of an act only its standing may change, once,
from "to review". Of a vessel, not its kind, its person or its season. Migration 0003 puts the triggers up. A later
migration that changes one of these tables takes them down before and puts them up after, as 0004 does: SQLite would
lose them with the table it rebuilds. The recount notices where they are gone. How a trigger is made: parts/append_only.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from sugarbush.parts import append_only as parts
from sugarbush.parts.append_only import Guard
from sugarbush.parts.append_only import lifted as lifted

MOVED = "A movement is never changed or deleted; post another that corrects it."
DONE = "An act is never changed or deleted; only one to review is settled, once."
PLACE = "A vessel stays what it is, whose it is, and of its season."

VESSEL_COLUMNS = ("id", "kind", "season_id", "person_id")

# Table, trigger, when it fires, which columns it looks at, what it says.
_ROWS = (
    ("sap_movement", "movement_stays", "BEFORE UPDATE", "", MOVED),
    ("sap_movement", "movement_is_kept", "BEFORE DELETE", "", MOVED),
    ("sap_act", "act_stays", "BEFORE UPDATE", "act", DONE),
    ("sap_act", "act_is_kept", "BEFORE DELETE", "", DONE),
    ("sap_vessel", "vessel_stays", "BEFORE UPDATE", "vessel", PLACE),
)
# SQLite's INSERT OR REPLACE deletes without asking the triggers of DELETE.
_OVER = (
    Guard(
        "sap_movement",
        "movement_not_over",
        "BEFORE INSERT",
        MOVED,
        "EXISTS (SELECT 1 FROM sap_movement WHERE seq = NEW.seq OR uuid = NEW.uuid OR reverses_id = NEW.reverses_id)",
    ),
    Guard("sap_act", "act_not_over", "BEFORE INSERT", DONE, "EXISTS (SELECT 1 FROM sap_act WHERE id = NEW.id)"),
)
NAMES = {name for _table, name, *_rest in _ROWS}


def _condition(of: str, differs: str, act_columns: Sequence[str]) -> str:
    columns = {"act": act_columns, "vessel": VESSEL_COLUMNS}.get(of, ())
    differing = [f"OLD.{name} {differs} NEW.{name}" for name in columns]
    if of == "act":
        differing.append("(OLD.standing <> NEW.standing AND OLD.standing <> 'review')")
    return " OR ".join(differing)


def _guards(vendor: str, act_columns: Sequence[str]) -> list[Guard]:
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    return [
        Guard(table, name, when, says, _condition(of, differs, act_columns)) for table, name, when, of, says in _ROWS
    ]


def put_up(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        columns = [row.name for row in connection.introspection.get_table_description(cursor, "sap_act")]
        guards = _guards(connection.vendor, [name for name in columns if name != "standing"])
        for statement in parts.statements(connection.vendor, rows=guards, over=_OVER):
            cursor.execute(statement)


def take_down(connection: BaseDatabaseWrapper) -> None:
    """For a migration that goes back."""
    parts.take_down(connection, rows=_guards(connection.vendor, ()), over=_OVER)


def missing(connection: BaseDatabaseWrapper | None = None) -> list[str]:
    """Triggers that are not there, or are switched off."""
    return sorted(NAMES - parts.standing(connection or connections[DEFAULT_DB_ALIAS]))
