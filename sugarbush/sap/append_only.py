"""The database itself holds the ledger: what was posted is never changed, deleted, or written over.

Triggers refuse it, whoever asks: an action, a shell, another program. Of an act only its standing may change, once,
from "to review". Of a vessel, not its kind, its person or its season. Migration 0003 puts the triggers up. A later
migration that changes one of these tables takes them down before and puts them up after, as 0004 does: SQLite would
lose them with the table it rebuilds. The recount notices where they are gone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

MOVED = "A movement is never changed or deleted; post another that corrects it."
DONE = "An act is never changed or deleted; only one to review is settled, once."
PLACE = "A vessel stays what it is, whose it is, and of its season."

VESSEL_COLUMNS = ("id", "kind", "season_id", "person_id")

# Table, trigger, when it fires, on which condition (with the database's own word for "differs"), what it says.
_ROWS = (
    ("sap_movement", "movement_stays", "BEFORE UPDATE", "", MOVED),
    ("sap_movement", "movement_is_kept", "BEFORE DELETE", "", MOVED),
    ("sap_act", "act_stays", "BEFORE UPDATE", "act", DONE),
    ("sap_act", "act_is_kept", "BEFORE DELETE", "", DONE),
    ("sap_vessel", "vessel_stays", "BEFORE UPDATE", "vessel", PLACE),
)
# SQLite's INSERT OR REPLACE deletes without asking the triggers of DELETE.
_OVER = (
    (
        "sap_movement",
        "movement_not_over",
        "EXISTS (SELECT 1 FROM sap_movement WHERE seq = NEW.seq OR uuid = NEW.uuid OR reverses_id = NEW.reverses_id)",
        MOVED,
    ),
    ("sap_act", "act_not_over", "EXISTS (SELECT 1 FROM sap_act WHERE id = NEW.id)", DONE),
)
NAMES = {name for _table, name, *_rest in _ROWS}


def _condition(of: str, differs: str, act_columns: Sequence[str]) -> str:
    columns = {"act": act_columns, "vessel": VESSEL_COLUMNS}.get(of, ())
    parts = [f"OLD.{name} {differs} NEW.{name}" for name in columns]
    if of == "act":
        parts.append("(OLD.standing <> NEW.standing AND OLD.standing <> 'review')")
    return f"WHEN ({' OR '.join(parts)})" if parts else ""


def sql_for(vendor: str, act_columns: Sequence[str]) -> list[str]:
    """The statements that put the triggers up. act_columns: all that an act has but its standing."""
    if vendor == "sqlite":
        made = [
            f"CREATE TRIGGER {name} {when} ON {table} FOR EACH ROW {_condition(of, 'IS NOT', act_columns)} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
            for table, name, when, of, words in _ROWS
        ]
        return made + [
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} FOR EACH ROW WHEN {condition} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
            for table, name, condition, words in _OVER
        ]
    if vendor == "postgresql":
        refuse = (
            "CREATE OR REPLACE FUNCTION sugarbush_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        made = [refuse] + [
            f"CREATE TRIGGER {name} {when} ON {table} FOR EACH ROW {_condition(of, 'IS DISTINCT FROM', act_columns)} "
            f"EXECUTE FUNCTION sugarbush_refuse('{words}')"
            for table, name, when, of, words in _ROWS
        ]
        return made + [
            f"CREATE TRIGGER {table}_not_emptied BEFORE TRUNCATE ON {table} FOR EACH STATEMENT "
            f"EXECUTE FUNCTION sugarbush_refuse('{words}')"
            for table, words in (("sap_movement", MOVED), ("sap_act", DONE))
        ]
    raise NotImplementedError(f"The ledger is held on SQLite and PostgreSQL only, not on {vendor}.")


def put_up(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        columns = [row.name for row in connection.introspection.get_table_description(cursor, "sap_act")]
        for statement in sql_for(connection.vendor, [name for name in columns if name != "standing"]):
            cursor.execute(statement)


def take_down(connection: BaseDatabaseWrapper) -> None:
    """For a migration that goes back."""
    tables = [(table, name) for table, name, *_rest in _ROWS]
    if connection.vendor == "sqlite":
        tables += [(table, name) for table, name, *_rest in _OVER]
    else:
        tables += [(table, f"{table}_not_emptied") for table in ("sap_movement", "sap_act")]
    with connection.cursor() as cursor:
        for table, name in tables:
            of = "" if connection.vendor == "sqlite" else f" ON {table}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{of}")


def missing(connection: BaseDatabaseWrapper | None = None) -> list[str]:
    """Triggers that are not there, or are switched off."""
    connection = connection or connections[DEFAULT_DB_ALIAS]
    asked = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(asked)
        there = {name for (name,) in cursor.fetchall()}
    return sorted(NAMES - there)


@contextmanager
def lifted(using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """Every trigger of this database away until the block ends. Only for emptying it whole, and for tests."""
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            found = cursor.fetchall()
            off = [f'DROP TRIGGER "{name}"' for name, _sql in found]
            on = [sql for _name, sql in found]
        else:
            cursor.execute("SELECT DISTINCT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
            found = cursor.fetchall()
            # What waits for the end of the transaction is looked at now: a table with such checks cannot be altered.
            off = ["SET CONSTRAINTS ALL IMMEDIATE"]
            off += [f"ALTER TABLE {table} DISABLE TRIGGER USER" for (table,) in found]
            on = [f"ALTER TABLE {table} ENABLE TRIGGER USER" for (table,) in found]
            on.append("SET CONSTRAINTS ALL DEFERRED")
        for statement in off:
            cursor.execute(statement)
        yield
        for statement in on:
            cursor.execute(statement)
