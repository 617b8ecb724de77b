"""Street lines from GeoJSON."""

import json
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from sugarbush.trees.reading.errors import CutShort
from sugarbush.trees.reading.streets import StreetFile, StreetRefused, StreetRow, read_streets
from tests.trees.reading.making import QUILLHAVEN, collection, point, write

pytestmark = pytest.mark.pure

LINE = [[-87.35, 47.05], [-87.34, 47.05], [-87.34, 47.05], [-87.33, 47.06]]


def _street(shape: str, coordinates: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "geometry": {"type": shape, "coordinates": coordinates}, "properties": properties}


def test_lines_come_with_name_and_kind(tmp_path: Path) -> None:
    features = [
        _street("LineString", LINE, name="Larkspur Street", highway="residential"),
        _street("MultiLineString", [LINE[:2], LINE[2:]], FULL_NAME="Mill Race", ROAD_CLASS="Local"),
        _street("LineString", [[-87.35, 47.05, 210], [-87.34, 47.05, 211]], STREET_NAME=None),
    ]
    rows = list(read_streets(write(tmp_path, collection(features)), box=QUILLHAVEN))
    assert rows == [
        StreetRow(1, "Larkspur Street", "residential", ((-87.35, 47.05), (-87.34, 47.05), (-87.33, 47.06))),
        StreetRow(2, "Mill Race", "Local", ((-87.35, 47.05), (-87.34, 47.05))),
        StreetRow(2, "Mill Race", "Local", ((-87.34, 47.05), (-87.33, 47.06))),
        StreetRow(3, "", "", ((-87.35, 47.05), (-87.34, 47.05))),
    ]


def test_what_is_no_street_line_is_listed(tmp_path: Path) -> None:
    features = [
        point(-87.35, 47.05, name="A tree"),
        _street("LineString", [[500000, 5000000], [500001, 5000001]], name="On a grid"),
        _street("LineString", [[-87.35, 47.05], [-87.35, 47.05]], name="No length"),
        _street("LineString", [["-87.35", "47.05"], ["-87.34", "47.05"]], name="Texts"),
        _street("LineString", [[1.0, 47.05], [1.1, 47.05]], name="Far away"),
        {"type": "Feature", "geometry": None, "properties": {}},
        _street("MultiLineString", [], name="Empty"),
    ]
    rows = list(read_streets(write(tmp_path, collection(features)), box=QUILLHAVEN))
    told = [(row.row, row.reason_code) for row in rows if isinstance(row, StreetRefused)]
    assert told == [
        (1, "not_a_line"), (2, "bad_points"), (3, "no_line"), (4, "bad_points"), (5, "outside_box"), (6, "no_line"),
        (7, "no_line"),
    ]  # fmt: skip
    refused = rows[4]
    assert isinstance(refused, StreetRefused)
    assert "“Far away”" in refused.sentence


def test_a_street_that_only_crosses_the_box_is_kept(tmp_path: Path) -> None:
    across = _street("LineString", [[-88.0, 47.05], [-87.0, 47.05]], name="Long Road")
    rows = list(read_streets(write(tmp_path, collection([across])), box=QUILLHAVEN))
    assert isinstance(rows[0], StreetRow)


def test_half_a_street_file_gives_the_streets_before(tmp_path: Path) -> None:
    whole = collection([_street("LineString", LINE, name=f"Street {number}") for number in range(500)])
    streets = StreetFile(write(tmp_path, whole[: len(whole) // 2]))
    assert len(list(islice(streets.rows(), 200))) == 200
    with pytest.raises(CutShort, match="after row 2"):
        list(streets.rows())
    assert streets.read_bytes == streets.size_bytes


def test_one_street_a_line(tmp_path: Path) -> None:
    lines = "\n".join(json.dumps(_street("LineString", LINE, name=f"Street {number}")) for number in range(3))
    assert [row.name for row in read_streets(write(tmp_path, lines)) if isinstance(row, StreetRow)] == [
        "Street 0", "Street 1", "Street 2",
    ]  # fmt: skip
