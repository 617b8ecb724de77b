"""Files for these tests, and the ways they are taken in."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sugarbush.demo import town
from sugarbush.trees.files import ImportRun
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking.run import take_in
from tests import make

HEADING = ["Tree No", "Botanical", "DBH in", "Longitude", "Latitude", "Address", "Status", "Note"]


def row(number: str = "0412", **changes: str) -> list[str]:
    """A sound sugar maple of 18 in."""
    cells = {
        "number": number,
        "botanical": "Acer saccharum",
        "size": "18",
        "longitude": f"{-87.35 + int(number) % 1000 * 1e-5:.6f}" if number.isdigit() else "-87.35",
        "latitude": "47.05",
        "address": "33 Larkspur Street",
        "status": "",
        "note": "",
        **changes,
    }
    return list(cells.values())


def rows(count: int, first: int = 1) -> list[list[str]]:
    return [row(f"{number:04d}") for number in range(first, first + count)]


def write_csv(folder: Path, rows: Iterable[list[str]], name: str = "trees.csv") -> Path:
    path = folder / name
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([HEADING, *rows])
    return path


def write_town(folder: Path) -> Path:
    path = folder / "town.csv"
    town.write_inventory_csv(path)
    return path


def write_streets(folder: Path, lines: dict[str, list[list[float]]]) -> Path:
    path = folder / "streets.geojson"
    features = [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {"type": "LineString", "coordinates": points},
        }
        for name, points in lines.items()
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def brought(path: Path, *, kind: str = ImportRun.Kind.TREES, **fields: Any) -> ImportRun:
    """A file of Alice's, kept and with its columns guessed."""
    make.programme()
    run = acts.bring(by=make.alice(), kind=kind, kept=stored.keep_copy(path), file_name=path.name)
    for name, value in fields.items():
        setattr(run, name, value)
    run.save()
    return run


def taken(path: Path, **fields: Any) -> ImportRun:
    """The file, taken in to its end."""
    run = acts.start(by=make.alice(), run=brought(path, **fields), in_background=False)
    take_in(run.pk)
    run.refresh_from_db()
    return run


def counts(run: ImportRun) -> tuple[int, int, int, int]:
    """Taken, changed, same, not taken."""
    return run.taken, run.changed, run.same, run.refused
