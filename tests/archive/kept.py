"""A small programme to be kept, and ways to empty this install and to tamper with what was kept."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.base import ContentFile

from sugarbush.archive.tables import in_order
from sugarbush.archive.writing import write
from sugarbush.audit.models import record
from sugarbush.parts.append_only import lifted
from sugarbush.trees.models import TreeObservation
from tests import make

Members = dict[str, bytes]


def small_programme() -> None:
    """Trees, slips with a scan, sap with a correction, a photo, a share rule: something in the tables that differ."""
    tree = make.tapped_tree(address="4 Żuławska “Row”, =1+1\n")
    make.permission(tree, evidence=ContentFile(b"%PDF-1.4 a scan %%EOF", name="a.pdf"))
    make.collection(tree, litres="2.5", brix="2.1")
    photo = ContentFile(b"\xff\xd8\xff a photo", name="b.jpg")
    day = dt.date(2026, 3, 1)
    record(by=make.bob(), act="change tree", subject=tree, old={"note": "é"}, new={"z": 1, "a": None})
    TreeObservation.objects.create(tree=tree, by=make.bob(), date=day, photo=photo)


def keep(path: Path) -> dict[str, Any]:
    with path.open("w+b") as file:
        return write(file)


def empty() -> None:
    """This install as it was before anybody came, but for what migrations fill; its files gone."""
    with lifted():
        for table in reversed(in_order()):
            if table.about_itself:
                names = [f.name for f in table.fields if f.is_relation and f.related_model is table.model and f.null]
                table.model._base_manager.update(**dict.fromkeys(names))
            rows = table.model._base_manager.all()
            rows._raw_delete(rows.db)
    shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
    make.forget()


def is_empty() -> bool:
    """No row, and no file but folders."""
    rows = {table.name: table.model._base_manager.count() for table in in_order()}
    files = [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]
    return not files and not any(count for name, count in rows.items() if name != "trees_species")


def members_of(path: Path) -> Members:
    with zipfile.ZipFile(path) as kept:
        return {name: kept.read(name) for name in kept.namelist()}


def pack(path: Path, members: Members, also: Callable[[zipfile.ZipFile], None] | None = None) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(name, content)
        if also is not None:
            also(made)
    return path


def said(members: Members) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(members["manifest.json"])
    return found


def say(members: Members, manifest: dict[str, Any]) -> Members:
    return {**members, "manifest.json": json.dumps(manifest).encode()}


def change_table(members: Members, name: str, change: Callable[[list[dict[str, Any]]], object]) -> Members:
    """A table changed by somebody who knows how sums are made: the manifest agrees with it again."""
    member = f"tables/{name}.jsonl"
    rows = [json.loads(line) for line in members[member].splitlines()]
    change(rows)
    content = b"".join(json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode() + b"\n" for row in rows)
    manifest = said(members)
    entry = next(table for table in manifest["tables"] if table["name"] == name)
    entry |= {"rows": len(rows), "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    return say({**members, member: content}, manifest)
