"""Tables that the database itself holds fast: triggers refuse a change, whoever asks and however.

An app lists its guards, and a migration puts them up. A later migration that changes such a table takes them down
before and puts them up after: SQLite would lose them with the table it rebuilds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper


@dataclass(frozen=True)
class Guard:
    """One trigger. when: "BEFORE UPDATE" and so on; says: the refusal; only_if: on which OLD and NEW, or always."""

    table: str
    name: str
    when: str
    says: str
    only_if: str = ""

    def sql(self, vendor: str) -> str:
        only_if = f"WHEN ({self.only_if}) " if self.only_if else ""
        head = f"CREATE TRIGGER {self.name} {self.when} ON {self.table} FOR EACH ROW {only_if}"
        if vendor == "sqlite":
            return f"{head}BEGIN SELECT RAISE(ABORT, '{self.says}'); END"
        return f"{head}EXECUTE FUNCTION sugarbush_refuse('{self.says}')"


_REFUSE = (
    "CREATE OR REPLACE FUNCTION sugarbush_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
    "RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; END $$"
)


def statements(vendor: str, *, rows: Sequence[Guard], over: Sequence[Guard]) -> list[str]:
    """The statements that put the guards up.

    over: guards of a row being replaced or a table being emptied, which no trigger of DELETE is asked about: on SQLite
    their own condition on INSERT, on PostgreSQL the table's TRUNCATE.
    """
    if vendor == "sqlite":
        return [guard.sql(vendor) for guard in (*rows, *over)]
    if vendor == "postgresql":
        return [_REFUSE, *(guard.sql(vendor) for guard in rows)] + [
            f"CREATE TRIGGER {guard.table}_not_emptied BEFORE TRUNCATE ON {guard.table} FOR EACH STATEMENT "
            f"EXECUTE FUNCTION sugarbush_refuse('{guard.says}')"
            for guard in over
        ]
    raise NotImplementedError(f"These tables are held on SQLite and PostgreSQL only, not on {vendor}.")


def take_down(connection: BaseDatabaseWrapper, *, rows: Sequence[Guard], over: Sequence[Guard]) -> None:
    """For a migration that goes back, or rebuilds the table."""
    names = [(guard.table, guard.name) for guard in rows]
    if connection.vendor == "sqlite":
        names += [(guard.table, guard.name) for guard in over]
    else:
        names += [(guard.table, f"{guard.table}_not_emptied") for guard in over]
    with connection.cursor() as cursor:
        for table, name in names:
            of = "" if connection.vendor == "sqlite" else f" ON {table}"
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{of}")


def standing(connection: BaseDatabaseWrapper) -> set[str]:
    """The names of the triggers that are there and switched on."""
    asked = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    )
    with connection.cursor() as cursor:
        cursor.execute(asked)
        return {name for (name,) in cursor.fetchall()}


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
