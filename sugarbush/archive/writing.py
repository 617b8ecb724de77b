"""Makes an archive: one look at the database as it stands at one moment, row by row into a zip file."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from typing import IO, Any

from django.core.files.storage import default_storage
from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.utils import timezone

from sugarbush import __version__
from sugarbush.archive.manifest import (
    FORMAT,
    MANIFEST,
    README,
    TABLES,
    UPLOADS,
    VERSION,
    Ledger,
    migrations_now,
    moment,
)
from sugarbush.archive.rows import Summed, last_number, lines
from sugarbush.archive.tables import LEFT_OUT, Table, in_order
from sugarbush.archive.values import kind_of

Tell = Callable[[int, int], None]
PIECE_BYTES = 1 << 20
GOOD_NAME = re.compile(r"[a-z]{1,40}(/[A-Za-z0-9_][A-Za-z0-9_.-]{0,120}){1,4}", re.ASCII)
"""A file people sent, below the uploads: a folder, and names without ways up or out."""

_README = """This is a whole sugarbush programme.

manifest.json says what is in it: the version of the format, each table with its rows and its SHA-256, the sums of the
sap ledger. tables/ holds a file a table, one JSON object a line. uploads/ holds photos and scans.

An empty install is filled from it by:  manage.py restore_archive FILE
The format is written down in docs/archive-format.md of the program.

It holds names, addresses and telephone numbers. Keep it where only few can read it.
"""


@contextlib.contextmanager
def one_moment() -> Iterator[None]:
    """What is read inside is the database as it stood when it began, however long that takes; nobody waits for it."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.in_atomic_block:
        raise RuntimeError("An archive begins a transaction of its own.")
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        # A writing transaction, as all others are, would keep every phone waiting until the archive is made.
        usual = connection.transaction_mode  # type: ignore[attr-defined]
        connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
        try:
            with transaction.atomic():
                yield
        finally:
            connection.transaction_mode = usual  # type: ignore[attr-defined]
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


def _quiet(_done: int, _whole: int) -> None:
    """Nobody waits."""


def write(target: IO[bytes], *, tell: Tell = _quiet) -> dict[str, Any]:
    """The archive into an open file; gives its manifest. Memory does not grow with the rows.

    To be called inside `one_moment`.  tell: is told how many rows and files are written, and of how many.
    """
    return _Writing(target, tell).all()


class _Writing:
    def __init__(self, target: IO[bytes], tell: Tell) -> None:
        self.at = timezone.now()
        self.zip = zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6)
        self.tell = tell
        self.tables = in_order()
        self.done = 0
        self.whole = 0

    def all(self) -> dict[str, Any]:
        from sugarbush.seasons.models import Programme

        self.whole = sum(table.model._base_manager.count() for table in self.tables)
        programme = Programme.current()
        with self.zip:
            self.zip.writestr(self._entry(README), _README)
            manifest = {
                "format": FORMAT,
                "format_version": VERSION,
                "app_version": __version__,
                "made_at": moment(self.at),
                "programme": programme.name if programme else "",
                "migrations": migrations_now(),
                "ledger": Ledger.now().as_json(),
                "tables": [self._table(table) for table in self.tables],
                **self._uploads(),
                "left_out": {name: str(why) for name, why in LEFT_OUT.items()},
            }
            self.zip.writestr(self._entry(MANIFEST), json.dumps(manifest, ensure_ascii=False, indent=1))
        self.tell(self.done, self.done)
        return manifest

    def _entry(self, name: str, how: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
        entry = zipfile.ZipInfo(name, self.at.astimezone(dt.UTC).timetuple()[:6])
        entry.compress_type, entry.external_attr = how, 0o100600 << 16
        return entry

    def _count(self, more: int) -> None:
        self.done += more
        self.tell(self.done, max(self.done, self.whole))

    def _table(self, table: Table) -> dict[str, Any]:
        found = Summed()
        with self.zip.open(self._entry(f"{TABLES}{table.name}.jsonl"), "w", force_zip64=True) as member:
            piece, rows = bytearray(), 0
            for one in lines(table):
                piece += one
                rows += 1
                if len(piece) >= PIECE_BYTES:
                    found.add(piece, rows)
                    member.write(piece)
                    self._count(rows)
                    piece, rows = bytearray(), 0
            found.add(piece, rows)
            member.write(piece)
            self._count(rows)
        return {
            "name": table.name,
            "rows": found.rows,
            "bytes": found.size_bytes,
            "sha256": found.sha256,
            "last_number": last_number(table),
            "columns": {name: kind_of(field) for name, field in table.columns.items()},
        }

    def _uploads(self) -> dict[str, Any]:
        """Every file a row names. One that is not there any more is said, and stops nothing."""
        kept: list[dict[str, Any]] = []
        missing: list[str] = []
        names = file_names(self.tables)
        self.whole += len(names)
        for name in names:
            if not GOOD_NAME.fullmatch(name) or not default_storage.exists(name):
                missing.append(name)
                continue
            found = hashlib.sha256()
            size = 0
            # Pictures and scans are packed already.
            entry = self._entry(UPLOADS + name, zipfile.ZIP_STORED)
            with default_storage.open(name) as file, self.zip.open(entry, "w", force_zip64=True) as member:
                while piece := file.read(PIECE_BYTES):
                    found.update(piece)
                    size += len(piece)
                    member.write(piece)
            kept.append({"name": name, "bytes": size, "sha256": found.hexdigest()})
            self._count(1)
        return {"uploads": kept, "uploads_missing": missing}


def file_names(tables: list[Table]) -> list[str]:
    """The names of the files that rows of these tables point to, each once, in order."""
    names: set[str] = set()
    for table in tables:
        for column in table.files:
            rows = table.model._base_manager.exclude(**{column: ""}).values_list(column, flat=True)
            names.update(str(name) for name in rows.iterator() if name)
    return sorted(names)
