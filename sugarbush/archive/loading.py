"""Fills an empty install from an archive, in one transaction, and proves that it holds the same afterwards."""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections, transaction
from django.db.models import NOT_PROVIDED, Field
from django.utils.translation import gettext as _

from sugarbush.archive.manifest import CannotRestore, Ledger, migrations_now
from sugarbush.archive.reading import Archive, broken
from sugarbush.archive.rows import Summed, last_number, line, lines, set_last_number, summed
from sugarbush.archive.tables import FILLED_BY_MIGRATIONS, LEFT_OUT, Table, in_order
from sugarbush.archive.values import NotThis, Read, reader, writer

AT_ONCE = 1_000
_COMING = ".coming-"
Say = Callable[[str], object]


@dataclass
class Restored:
    """What was taken in, and proved."""

    tables: int
    rows: int
    uploads: int
    filled_in: list[str]
    ledger: Ledger


def restore(archive: Archive, *, say: Say = lambda _words: None) -> Restored:
    """Take an archive into this install. Raises CannotRestore with a sentence; the install is then as empty as before.

    The archive is verified first. Rows, files and the proof are one transaction.
    """
    shape = Shape(archive)
    _must_be_empty(shape.tables)
    _room_for(archive)
    say(_("Looking whether the archive is whole …"))
    archive.verify()
    # The files are outside: where the rows cannot be kept at the very end, the files go again too.
    with _files(archive) as put_in_place, transaction.atomic():
        _must_be_empty(shape.tables)
        sums = {}
        for table in shape.tables:
            if table.name in FILLED_BY_MIGRATIONS and table.name in shape.said:
                _empty(table)
            if table.name in shape.said:
                sums[table.name] = _load(archive, shape, table)
                if rows := sums[table.name].rows:
                    say(f"  {table.name}: {rows}")
        say(_("Comparing what is here now with the archive …"))
        _look_at_links()
        restored = _prove(archive, shape, sums)
        put_in_place()
    return restored


class Shape:
    """The tables of the archive beside the tables here: the same, or older in a way that is understood."""

    def __init__(self, archive: Archive) -> None:
        manifest = archive.manifest
        self.tables = in_order()
        self.said: dict[str, dict[str, Any]] = {table["name"]: table for table in manifest["tables"]}
        self.filled_in: list[str] = []
        here, there = migrations_now(), manifest["migrations"]
        newer = [f"{app}.{name}" for app, names in there.items() for name in names if name not in here.get(app, ())]
        if newer:
            raise CannotRestore(
                _(
                    "This archive was made by a newer version (%(version)s): %(step)s is not known here. Update the "
                    "program, run manage.py migrate, then restore again."
                )
                % {"version": manifest.get("app_version", "?"), "step": newer[0]}
            )
        self.older = {app for app, names in here.items() if set(names) - set(there.get(app, ()))}
        known = {table.name for table in self.tables}
        for name in self.said:
            if name in LEFT_OUT or name not in known:
                raise CannotRestore(
                    _("The archive holds a table “%(name)s” that this program does not take in. Nothing was taken in.")
                    % {"name": ascii(name)}
                )
        for table in self.tables:
            if table.name in self.said:
                self._columns(table)
            elif table.app not in self.older:
                raise broken(_("the table %(name)s is missing") % {"name": table.name})

    def _columns(self, table: Table) -> None:
        there = self.said[table.name]["columns"]
        here = table.columns
        if unknown := [name for name in there if name not in here]:
            raise CannotRestore(
                _("The archive’s table %(table)s has a column “%(name)s” that is not known here. Nothing was taken in.")
                % {"table": table.name, "name": ascii(unknown[0])}
            )
        for name, field in here.items():
            if name in there:
                continue
            if table.app not in self.older or not _begins(field):
                raise broken(_("the column %(name)s of %(table)s is missing") % {"name": name, "table": table.name})
            self.filled_in.append(f"{table.name}.{name}")


def _begins(field: Field[Any, Any]) -> bool:
    """Whether a column that came later has a value for older rows: the one a migration gave them."""
    return field.null or field.default is not NOT_PROVIDED or field.empty_strings_allowed


def _room_for(archive: Archive) -> None:
    """A packed file may hold a thousand times its size: what it would take is looked at before anything is written."""
    free = shutil.disk_usage(settings.DATA).free
    if archive.unpacked_bytes > free:
        raise CannotRestore(
            _(
                "Unpacked, this archive takes %(its)d MB, and %(free)d MB are free. Make room first, or use another "
                "disk."
            )
            % {"its": archive.unpacked_bytes // 1_000_000, "free": free // 1_000_000}
        )


def _must_be_empty(tables: list[Table]) -> None:
    held = []
    for table in tables:
        if table.name not in FILLED_BY_MIGRATIONS and (rows := table.model._base_manager.count()):
            held.append(f"{table.name}: {rows}")
    if held:
        raise CannotRestore(
            _(
                "This install is not empty (%(held)s). An archive goes into an empty one only: give another folder "
                "with SUGARBUSH_DATA, or another database, and run manage.py migrate there."
            )
            % {"held": ", ".join(held[:4])}
        )


def _empty(table: Table) -> None:
    rows = table.model._base_manager.all()
    rows._raw_delete(rows.db)


def _load(archive: Archive, shape: Shape, table: Table) -> Summed:
    """The rows of one table, as they are; the database's own constraints and triggers look at each."""
    connection = connections[DEFAULT_DB_ALIAS]
    said = shape.said[table.name]
    readers = {name: reader(field, connection) for name, field in table.columns.items()}
    writers = {name: writer(field) for name, field in table.columns.items()}
    empty_allowed = {name for name, field in table.columns.items() if field.null}
    columns = list(table.columns)
    later = {name: field for name, field in table.columns.items() if name not in said["columns"]}
    quoted = ", ".join(connection.ops.quote_name(name) for name in columns)
    into = f"INSERT INTO {connection.ops.quote_name(table.name)} ({quoted}) VALUES ({', '.join(['%s'] * len(columns))})"  # noqa: S608
    found = Summed()

    def values() -> Iterator[list[Any]]:
        for nth, row in enumerate(archive.rows(table.name), 1):
            if row.keys() != said["columns"].keys():
                raise _row(table, nth)
            for name, field in later.items():
                row[name] = _first(field, writers[name])
            found.add(line({name: row[name] for name in columns}))
            try:
                yield [_value(readers[name], row[name], name in empty_allowed) for name in columns]
            except NotThis as why:
                raise _row(table, nth) from why

    rows = values()
    try:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":  # rows of other tables are here already: no waiting list of checks
                cursor.execute(f"SET CONSTRAINTS ALL {'DEFERRED' if table.about_itself else 'IMMEDIATE'}")
            while some := list(islice(rows, AT_ONCE)):
                cursor.executemany(into, some)
        if table.numbered:
            set_last_number(table, max(said["last_number"] or 0, last_number(table) or 0, _highest(table)))
    except (DatabaseError, OverflowError, ValueError) as why:
        raise CannotRestore(
            _("The database refuses a row of %(table)s (before row %(row)d): %(why)s. Nothing was taken in.")
            % {"table": table.name, "row": found.rows + 1, "why": str(why).strip().splitlines()[0]}
        ) from why
    return found


def _row(table: Table, nth: int) -> CannotRestore:
    return broken(_("row %(row)d of %(table)s has other columns or values") % {"row": nth, "table": table.name})


def _value(read: Read, value: Any, may_be_empty: bool) -> Any:
    if value is None:
        if not may_be_empty:
            raise NotThis
        return None
    return read(value)


def _first(field: Field[Any, Any], write: Callable[[Any], Any] | None) -> Any:
    value = field.get_default()
    return value if value is None or write is None else write(value)


def _highest(table: Table) -> int:
    from django.db.models import Max

    return int(table.model._base_manager.aggregate(highest=Max("pk"))["highest"] or 0)


def _look_at_links() -> None:
    """Every row that points to another finds it."""
    connection = connections[DEFAULT_DB_ALIAS]
    try:
        connection.check_constraints()
    except DatabaseError as why:
        raise broken(_("a row points to one that is not there (%(why)s)") % {"why": str(why).splitlines()[0]}) from why
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")  # the sums below, and the first pages, ask tables that were empty a moment ago


def _prove(archive: Archive, shape: Shape, sums: dict[str, Summed]) -> Restored:
    """Write each table out again, as an archive would, and compare: rows, sums, and the ledger's millilitres."""
    rows = 0
    for table in shape.tables:
        if table.name not in sums:
            continue
        said, loaded = shape.said[table.name], sums[table.name]
        now = summed(lines(table))
        rows += now.rows
        same = (now.rows, now.sha256) == (loaded.rows, loaded.sha256)
        as_written = archive.upgrades or any(one.startswith(f"{table.name}.") for one in shape.filled_in)
        if not as_written:
            same = same and (now.rows, now.sha256) == (said["rows"], said["sha256"])
        if not same:
            raise CannotRestore(
                _("After loading, %(table)s is not what the archive holds. Nothing was taken in.")
                % {"table": table.name}
            )
    ledger = Ledger.now()
    if ledger.as_json() != archive.manifest["ledger"]:
        raise CannotRestore(_("After loading, the sap ledger has other sums than the archive. Nothing was taken in."))
    return Restored(len(sums), rows, len(archive.manifest["uploads"]), shape.filled_in, ledger)


@contextlib.contextmanager
def _files(archive: Archive) -> Iterator[Callable[[], None]]:
    """Unpack photos and scans beside their place, to be put there when all else is good; gone where it is not."""
    root = Path(settings.MEDIA_ROOT)
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    for left_over in root.glob(f"{_COMING}*"):
        shutil.rmtree(left_over)
    put: list[Path] = []
    with tempfile.TemporaryDirectory(prefix=_COMING, dir=root) as waiting:
        try:
            places = _unpack(archive, Path(waiting), root)

            def put_in_place() -> None:
                for come, place in places:
                    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                    come.rename(place)
                    put.append(place)

            yield put_in_place
        except BaseException:
            for place in put:
                place.unlink(missing_ok=True)
            raise


def _unpack(archive: Archive, waiting: Path, root: Path) -> list[tuple[Path, Path]]:
    places = []
    for nth, upload in enumerate(archive.manifest["uploads"]):
        place = root / upload["name"]
        if place.exists():
            # One that was cut off between its files and its rows left this one.
            if _sha256(place) != upload["sha256"]:
                raise CannotRestore(
                    _("Another file lies at %(place)s. Move it away, then restore again.") % {"place": place}
                )
            continue
        come = waiting / str(nth)
        with os.fdopen(os.open(come, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            for piece in archive.upload(upload["name"], upload["bytes"]):
                file.write(piece)
        if _sha256(come) != upload["sha256"]:
            raise broken(_("%(name)s is not what the manifest says") % {"name": upload["name"]})
        places.append((come, place))
    return places


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
