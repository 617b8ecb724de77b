"""The rows of a table as lines of the archive, one after the other; and their sum without keeping any."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections

from sugarbush.archive.tables import REWRITTEN, Table
from sugarbush.archive.values import writer

AT_ONCE = 2_000
_write_json = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


def line(row: dict[str, Any]) -> bytes:
    """One row: a JSON object in UTF-8, its keys in the order of the columns, and a line feed."""
    try:
        return _write_json(row).encode() + b"\n"
    except UnicodeEncodeError:  # half of a pair of signs, which UTF-8 cannot write
        return json.dumps(row, allow_nan=False, separators=(",", ":")).encode() + b"\n"


def lines(table: Table, columns: Sequence[str] | None = None) -> Iterator[bytes]:
    """Every row in the order of its key. columns: only these, in this order; all without."""
    fields = table.columns
    names = list(fields) if columns is None else list(columns)
    change = []
    for place, name in enumerate(names):
        for write in (REWRITTEN.get((table.name, name)), writer(fields[name])):
            if write is not None:
                change.append((place, write))
    rows = table.model._base_manager.order_by("pk").values_list(*(fields[name].attname for name in names))
    for row in rows.iterator(chunk_size=AT_ONCE):
        cells = list(row)
        for place, write in change:
            if cells[place] is not None:
                cells[place] = write(cells[place])
        yield line(dict(zip(names, cells, strict=True)))


@dataclass
class Summed:
    """How many lines, how long, and their SHA-256: what a table is compared by."""

    rows: int = 0
    size_bytes: int = 0

    def __post_init__(self) -> None:
        self._sum = hashlib.sha256()

    def add(self, piece: bytes | bytearray, rows: int = 1) -> None:
        self._sum.update(piece)
        self.rows += rows
        self.size_bytes += len(piece)

    @property
    def sha256(self) -> str:
        return self._sum.hexdigest()


def summed(of: Iterable[bytes]) -> Summed:
    found = Summed()
    for one in of:
        found.add(one)
    return found


def last_number(table: Table) -> int | None:
    """The highest number the database gave out in this table, also to rows that are gone; None where it counts none.

    A number is never given to a second row: the history knows rows by it.
    """
    if not table.numbered:
        return None
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table.name])
            found = cursor.fetchone()
            return int(found[0]) if found else 0
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [f'"{table.name}"', table.key])
        (sequence,) = cursor.fetchone()
        cursor.execute(f"SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {sequence}")  # noqa: S608
        return int(cursor.fetchone()[0])


def set_last_number(table: Table, last: int) -> None:
    """Have the database count on from here."""
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table.name])
            cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table.name, last])
        else:
            cursor.execute(
                "SELECT setval(pg_get_serial_sequence(%s, %s), %s, %s)",
                [f'"{table.name}"', table.key, max(last, 1), last > 0],
            )
