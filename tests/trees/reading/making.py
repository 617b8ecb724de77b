"""Small tree files for these tests, and a reader of them."""

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.reading.files import RawRow, Table, open_table
from sugarbush.trees.reading.guess import guess_columns
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.refusals import Refused
from sugarbush.trees.reading.species import built_in_index
from sugarbush.trees.reading.verdicts import TreeRow, compile_reader

QUILLHAVEN = Box(-87.40, 47.00, -87.30, 47.10)
HEADING = ["Tree No", "Botanical", "DBH in", "Longitude", "Latitude", "Status"]
PLAIN = Mapping(
    number="Tree No",
    botanical="Botanical",
    size="DBH in",
    size_unit="in",
    longitude="Longitude",
    latitude="Latitude",
    status="Status",
)


def tree(number: str = "0412", **changes: str) -> list[str]:
    """The cells of a sound sugar maple, under HEADING."""
    cells = {
        "Tree No": number,
        "Botanical": "Acer saccharum",
        "DBH in": "18",
        "Longitude": "-87.35",
        "Latitude": "47.05",
        "Status": "",
    }
    cells.update({name.replace("_", " "): value for name, value in changes.items()})
    return [cells[name] for name in HEADING]


def csv_text(rows: Sequence[Sequence[str]], delimiter: str = ",") -> str:
    """Rows as CSV text."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue()


def write(folder: Path, content: str | bytes, name: str = "trees.csv") -> Path:
    """A file with this content."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def point(longitude: Any, latitude: Any, /, **properties: Any) -> dict[str, Any]:
    """A GeoJSON feature of a tree."""
    geometry = {"type": "Point", "coordinates": [longitude, latitude]}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def collection(features: list[dict[str, Any]], **members: Any) -> str:
    """GeoJSON text."""
    return json.dumps({"type": "FeatureCollection", **members, "features": features})


def read_all(table: Table, mapping: Mapping | None = None, box: Box | None = QUILLHAVEN) -> list[TreeRow | Refused]:
    """Every verdict on a table, in order."""
    mapping = mapping or guess_columns(table.columns, table.sample(), box=box)
    reader = compile_reader(mapping=mapping, columns=table.columns, known=built_in_index(), box=box)
    return [reader(row) for row in table.rows()]


def verdict(folder: Path, mapping: Mapping = PLAIN, box: Box | None = QUILLHAVEN, **changes: str) -> TreeRow | Refused:
    """The verdict on one tree with these cells changed."""
    path = write(folder, csv_text([HEADING, tree(**changes)]))
    return read_all(open_table(path), mapping, box)[0]


def read_until_it_stops(table: Table) -> tuple[list[RawRow], CannotRead]:
    """The rows before a file breaks off, and what was said then."""
    rows: list[RawRow] = []
    reading = table.rows()
    try:
        while True:
            rows.append(next(reading))
    except CannotRead as told:
        return rows, told
    except StopIteration:
        raise AssertionError("the file was read to its end") from None
