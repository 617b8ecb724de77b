"""Opens an archive somebody brings, and believes nothing of it: every name, size and sum is looked at first.

A zip file can lie. So only members the manifest names are read, none longer than it says, none under a name that
leads elsewhere, and never by unpacking the zip file as a whole.
"""

from __future__ import annotations

import hashlib
import io
import json
import stat
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.archive.manifest import (
    FORMAT,
    MANIFEST,
    README,
    TABLES,
    UPLOADS,
    CannotRestore,
    Upgrade,
    upgrades_from,
)
from sugarbush.archive.writing import GOOD_NAME, PIECE_BYTES

MANIFEST_MOST_BYTES = 200_000_000
LINE_MOST_BYTES = 64_000_000
MEMBERS_MOST = 2_000_000
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, RuntimeError)


def broken(what: str) -> CannotRestore:
    return CannotRestore(
        _("The archive is damaged or was changed: %(what)s. Nothing was taken in; use another copy.") % {"what": what}
    )


class Archive:
    """An archive that is open for reading. Raises CannotRestore, with a sentence, for whatever is wrong with it."""

    manifest: dict[str, Any]
    upgrades: list[Upgrade]

    def __init__(self, path: Path) -> None:
        try:
            self.zip = zipfile.ZipFile(path)
        except FileNotFoundError:
            raise CannotRestore(_("There is no file %(path)s.") % {"path": path}) from None
        except _BROKEN as why:
            raise CannotRestore(_("%(name)s is no archive that can be read.") % {"name": path.name}) from why
        try:
            self.entries = self._entries()
            said = self._manifest()
            self.upgrades = upgrades_from(said["format_version"])
            for step in self.upgrades:
                said = step.manifest(said)
            self.manifest = said
            self._nothing_else()
        except BaseException:
            self.zip.close()
            raise

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, kind: type[BaseException] | None, why: BaseException | None, at: TracebackType | None) -> None:
        self.zip.close()

    def _entries(self) -> dict[str, zipfile.ZipInfo]:
        found: dict[str, zipfile.ZipInfo] = {}
        entries = self.zip.infolist()
        if len(entries) > MEMBERS_MOST:
            raise broken(_("it holds more files than any programme has"))
        for entry in entries:
            name = entry.orig_filename
            kind = stat.S_IFMT(entry.external_attr >> 16)
            if name in found:
                raise broken(_("it holds %(name)s twice") % {"name": ascii(name)})
            if not _good(name) or entry.is_dir() or kind not in {0, stat.S_IFREG}:
                raise broken(_("it holds %(name)s, which no archive of ours does") % {"name": ascii(name)})
            if entry.flag_bits & 1 or entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
                raise broken(_("%(name)s is packed in a way ours never is") % {"name": ascii(name)})
            found[name] = entry
        return found

    def _manifest(self) -> dict[str, Any]:
        if MANIFEST not in self.entries:
            raise CannotRestore(_("This zip file has no manifest, so it is no archive of a programme."))
        if self.entries[MANIFEST].file_size > MANIFEST_MOST_BYTES:
            raise broken(_("its manifest is too large"))
        try:
            said = json.loads(b"".join(self._pieces(MANIFEST, MANIFEST_MOST_BYTES)))
        except (ValueError, RecursionError) as why:
            raise broken(_("its manifest cannot be read")) from why
        if not isinstance(said, dict) or said.get("format") != FORMAT:
            raise CannotRestore(_("This zip file is no archive of a programme."))
        if type(said.get("format_version")) is not int:
            raise broken(_("its manifest names no version"))
        return said

    def _nothing_else(self) -> None:
        """The manifest is of the right kind, each thing it names is there, as large as it says, and nothing else."""
        said, sizes = self.manifest, {MANIFEST: self.entries[MANIFEST].file_size}
        if README in self.entries:
            sizes[README] = self.entries[README].file_size
        try:
            for table in said["tables"]:
                sizes[f"{TABLES}{table['name']}.jsonl"] = table["bytes"]
                if type(table["rows"]) is not int or not isinstance(table["columns"], dict):
                    raise TypeError
                if table["last_number"] is not None and type(table["last_number"]) is not int:
                    raise TypeError
            for upload in said["uploads"]:
                sizes[UPLOADS + upload["name"]] = upload["bytes"]
            sums = [one["sha256"] for one in (*said["tables"], *said["uploads"])]
            if not all(isinstance(one, str) for one in (*sums, *said["uploads_missing"])):
                raise TypeError
            if not all(isinstance(names, list) for names in said["migrations"].values()):
                raise TypeError
            ledger = said["ledger"]
            if not isinstance(ledger, dict):
                raise TypeError
        except (KeyError, TypeError, AttributeError) as why:
            raise broken(_("its manifest is not whole")) from why
        for name in sizes.keys() | self.entries.keys():
            entry = self.entries.get(name)
            if name not in sizes or entry is None:
                raise broken(_("%(name)s and the manifest do not agree") % {"name": ascii(name)})
            if entry.file_size != sizes[name]:
                raise broken(_("%(name)s is not as long as the manifest says") % {"name": ascii(name)})

    def _pieces(self, name: str, most: int) -> Iterator[bytes]:
        """A member, piece by piece, and never more than `most` bytes whatever its head says."""
        got = 0
        try:
            with self.zip.open(self.entries[name]) as member:
                while piece := member.read(PIECE_BYTES):
                    got += len(piece)
                    if got > most:
                        raise broken(_("%(name)s is longer than it says") % {"name": ascii(name)})
                    yield piece
        except _BROKEN as why:
            raise broken(_("%(name)s cannot be unpacked") % {"name": ascii(name)}) from why

    @property
    def unpacked_bytes(self) -> int:
        return sum(entry.file_size for entry in self.entries.values())

    def verify(self) -> None:
        """Every table and every file against its sum. Reads the whole archive once."""
        for table in self.manifest["tables"]:
            self._same(f"{TABLES}{table['name']}.jsonl", table)
        for upload in self.manifest["uploads"]:
            self._same(UPLOADS + upload["name"], upload)

    def _same(self, name: str, said: dict[str, Any]) -> None:
        found, rows = hashlib.sha256(), 0
        for piece in self._pieces(name, said["bytes"]):
            found.update(piece)
            rows += piece.count(b"\n")
        if found.hexdigest() != said["sha256"] or rows != said.get("rows", rows):
            raise broken(_("%(name)s is not what the manifest says") % {"name": ascii(name)})

    def rows(self, table: str) -> Iterator[dict[str, Any]]:
        """The rows of a table, one after the other, brought up to our format version."""
        name = f"{TABLES}{table}.jsonl"
        try:
            with self.zip.open(self.entries[name]) as member, io.BufferedReader(member, PIECE_BYTES) as whole:  # type: ignore[type-var]
                while one := whole.readline(LINE_MOST_BYTES + 1):
                    if len(one) > LINE_MOST_BYTES:
                        raise broken(_("a line of %(name)s has no end") % {"name": name})
                    row = json.loads(one)
                    if not isinstance(row, dict):
                        raise ValueError(name)
                    for step in self.upgrades:
                        row = step.row(table, row)
                    yield row
        except _BROKEN as why:
            raise broken(_("%(name)s cannot be unpacked") % {"name": name}) from why
        except (ValueError, RecursionError) as why:
            raise broken(_("a line of %(name)s is no JSON object") % {"name": name}) from why

    def upload(self, name: str, size_bytes: int) -> Iterator[bytes]:
        yield from self._pieces(UPLOADS + name, size_bytes)


def _good(name: str) -> bool:
    """Only the names an archive of ours has: no way up, no root, no backslash, nothing hidden behind a zero byte."""
    if name in {MANIFEST, README}:
        return True
    if name.startswith(UPLOADS):
        return GOOD_NAME.fullmatch(name.removeprefix(UPLOADS)) is not None
    table = name.removeprefix(TABLES).removesuffix(".jsonl")
    return name == f"{TABLES}{table}.jsonl" and table.isascii() and table.replace("_", "").isalnum()
