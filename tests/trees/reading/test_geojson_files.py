"""GeoJSON (RFC 7946) as a table."""

import json
from pathlib import Path
from typing import Any

import pytest

from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.refusals import Refused
from sugarbush.trees.reading.verdicts import TreeRow
from tests.trees.reading.making import collection, point, read_all, write

pytestmark = pytest.mark.pure


def _shaped(shape: str | None, coordinates: Any, **properties: Any) -> dict[str, Any]:
    geometry = None if shape is None else {"type": shape, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def test_position_and_properties_become_columns(tmp_path: Path) -> None:
    features = [
        point(-87.35, 47.05, TREE_NO="0412", size={"dbh_in": 18.0}),
        point(-87.36, 47.06, TREE_NO="0413", note=None),
    ]
    table = open_table(write(tmp_path, collection(features)))
    assert table.kind == "geojson"
    assert table.columns == ["longitude", "latitude", "TREE_NO", "size.dbh_in", "note"]
    assert [row.values for row in table.rows()] == [
        ["-87.35", "47.05", "0412", "18", ""],
        ["-87.36", "47.06", "0413", "", ""],
    ]


def test_properties_called_longitude_do_not_hide_the_geometry(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, collection([point(-87.35, 47.05, longitude=5, latitude=6)])))
    assert table.columns == ["longitude", "latitude", "longitude (2)", "latitude (2)"]
    assert next(iter(table.rows())).values == ["-87.35", "47.05", "5", "6"]


def test_shapes_other_than_a_point_are_reported_row_by_row(tmp_path: Path) -> None:
    features = [
        _shaped("MultiPoint", [[-87.35, 47.05]], TREE_NO="1", species="Acer rubrum"),
        _shaped("MultiPoint", [[-87.35, 47.05], [-87.36, 47.06]], TREE_NO="2", species="Acer rubrum"),
        _shaped("Polygon", [[[-87.35, 47.05], [-87.36, 47.06], [-87.36, 47.05], [-87.35, 47.05]]], TREE_NO="3"),
        _shaped(None, None, TREE_NO="4", species="Acer rubrum"),
        _shaped("Point", [], TREE_NO="5", species="Acer rubrum"),
        _shaped("Point", [-87.35, 47.05, 210.5], TREE_NO="6", species="Acer rubrum"),
    ]
    verdicts = read_all(open_table(write(tmp_path, collection(features))))
    told = [one.reason_code if isinstance(one, Refused) else "taken" for one in verdicts]
    assert told == ["taken", "several_places", "not_a_point", "coordinates_missing", "coordinates_missing", "taken"]
    assert "Polygon" in verdicts[2].sentence


@pytest.mark.parametrize("start", ["", "\ufeff", "\x1e"])
def test_one_feature_a_line_is_read_too(tmp_path: Path, start: str) -> None:
    """RFC 8142 puts a record separator before each; many writers leave it out."""
    between = "\x1e" if start == "\x1e" else ""
    lines = start + f"\n\n{between}".join(json.dumps(point(-87.35, 47.05, id=number)) for number in range(1, 6))
    rows = list(open_table(write(tmp_path, lines)).rows())
    assert [(row.number, row.values[2]) for row in rows] == [(1, "1"), (2, "2"), (3, "3"), (4, "4"), (5, "5")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_accents_are_right_in_every_encoding(tmp_path: Path, encoding: str) -> None:
    feature = point(-87.35, 47.05, street="Chemin de l'Érablière")
    text = json.dumps({"type": "FeatureCollection", "features": [feature]}, ensure_ascii=False)
    assert next(iter(open_table(write(tmp_path, text.encode(encoding))).rows())).values[2] == "Chemin de l'Érablière"


def test_a_hundred_thousand_trees_on_one_line_are_no_trouble(tmp_path: Path) -> None:
    text = collection([point(-87.35, 47.05, id=number) for number in range(1, 30_001)])
    assert "\n" not in text
    assert len(text) > 3_000_000
    assert sum(1 for _ in open_table(write(tmp_path, text)).rows()) == 30_000


def test_what_no_database_keeps_is_taken_out_of_texts(tmp_path: Path) -> None:
    feature = '{"type":"Feature","properties":{"a":"x\\u0000y \\ud800 é"},"geometry":null}'
    text = '{"type":"FeatureCollection","features":[' + feature + "]}"
    value = next(iter(open_table(write(tmp_path, text)).rows())).values[2]
    assert "\x00" not in value
    assert value.encode("utf-8")


def test_numbers_and_yes_or_no_are_texts_as_a_person_writes_them(tmp_path: Path) -> None:
    feature = point(-87.35, 47.05, a=18.0, b=17.9, c=True, d=12345678901234567890, e=["x", 1], f="007")
    row = next(iter(open_table(write(tmp_path, collection([feature]))).rows()))
    assert row.values[2:] == ["18", "17.9", "true", "12345678901234567890", '["x", 1]', "007"]


def test_the_entrys_own_id_is_a_column(tmp_path: Path) -> None:
    feature = {**point(-87.35, 47.05, species="Acer rubrum"), "id": "QH-7"}
    verdicts = read_all(open_table(write(tmp_path, collection([feature]))))
    assert isinstance(verdicts[0], TreeRow)
    assert verdicts[0].number == "QH-7"
