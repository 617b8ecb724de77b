"""Wrong files: one clear sentence with its next step, and never the whole file in memory."""

import gzip
import io
import json
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from sugarbush.trees.reading.errors import CannotRead, CutShort, EmptyFile, OtherGrid, TooLarge, WrongKind
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.streets import read_streets
from tests.trees.reading.making import HEADING, collection, csv_text, point, read_until_it_stops, tree, write

pytestmark = pytest.mark.pure


def _zip() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    return out.getvalue()


@pytest.mark.parametrize(
    ("content", "kind", "said"),
    [
        (b"", EmptyFile, "empty"),
        (b"\xef\xbb\xbf \n\n", EmptyFile, "empty"),
        (b"Tree No,Botanical,DBH in\n", EmptyFile, "no rows"),
        (b"%PDF-1.7\n%\xe2\xe3", WrongKind, "PDF"),
        (_zip(), WrongKind, "save it as CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), WrongKind, "save it as CSV"),
        (gzip.compress(b"Tree No,Botanical\n"), WrongKind, "Unpack"),
        (b"\x00\x00\x27\x0a" + bytes(96), WrongKind, "shapefile"),
        (b"SQLite format 3\x00" + bytes(80), WrongKind, "database"),
        (b"\x89PNG\r\n\x1a\n" + bytes(80), WrongKind, "picture"),
        (bytes(range(256)) * 40, WrongKind, "not a text file"),
        (b"\n<!DOCTYPE html><html><title>Sign in</title></html>", WrongKind, "web page"),
        (b"<div>Not found</div>", WrongKind, "web page"),
        (b'<?xml version="1.0"?><kml></kml>', WrongKind, "GeoJSON or CSV"),
        (b"Dear town,\nhere are the trees.\nKind regards\n", WrongKind, "No columns"),
        (b'{"type": "Topology", "objects": {}}', WrongKind, "not a GeoJSON"),
        (b'{"message": "not authorised"}', WrongKind, "not a GeoJSON"),
        (b'{"features": [{"attributes": {"id": 1}, "geometry": {"x": 1, "y": 2}}]}', WrongKind, "not a GeoJSON"),
        (b'{"type": "FeatureCollection", "features": []}', EmptyFile, "no rows"),
    ],
)
def test_each_wrong_file_has_its_sentence(tmp_path: Path, content: bytes, kind: type[CannotRead], said: str) -> None:
    with pytest.raises(kind) as refused:
        open_table(write(tmp_path, content))
    assert said in refused.value.sentence
    assert refused.value.sentence.endswith(".")


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(CannotRead, match="no file"):
        open_table(tmp_path / "nothing.csv")


def test_every_reason_has_a_sentence_without_trade_codes() -> None:
    """House wording: no "error", no "submit"."""
    from sugarbush.trees.reading.errors import _sentences
    from sugarbush.trees.reading.refusals import refusal_sentences
    from sugarbush.trees.reading.streets import street_refusal_sentences

    for sentence in [*_sentences().values(), *refusal_sentences().values(), *street_refusal_sentences().values()]:
        assert sentence.endswith(".")
        assert not {"error", "submit", "invalid", "user", "sync"} & set(sentence.lower().replace(".", "").split())


def _peak_mb(path: Path) -> float:
    tracemalloc.start()
    try:
        with pytest.raises(TooLarge):
            list(open_table(path).rows())
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


def test_a_hundred_megabytes_on_one_line_is_refused_without_holding_it(tmp_path: Path) -> None:
    path = tmp_path / "one_line.csv"
    with path.open("wb") as out:
        for _ in range(100):
            out.write(b"x" * 1_000_000)
    assert _peak_mb(path) < 12
    with pytest.raises(TooLarge, match="Line 1 is longer than 1 MB"):
        open_table(path)


def test_a_long_line_further_down_is_refused_where_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "later.csv"
    with path.open("wb") as out:
        out.write(csv_text([HEADING, *(tree(str(number)) for number in range(1, 5_000))]).encode())
        for _ in range(30):
            out.write(b"x" * 1_000_000)
    rows, told = read_until_it_stops(open_table(path))
    assert isinstance(told, TooLarge)
    assert "Line 5001 is longer" in told.sentence
    assert len(rows) == 4_999


def test_a_million_columns_are_refused(tmp_path: Path) -> None:
    path = write(tmp_path, b",".join(b"c%d" % number for number in range(1_000_000)) + b"\n1,2,3\n")
    with pytest.raises(TooLarge, match="more than 500 columns"):
        open_table(path)
    with pytest.raises(TooLarge, match="more than 500 columns"):
        open_table(write(tmp_path, ",".join(f"c{number}" for number in range(501)) + "\n1,2\n"))
    wide = ",".join(f"c{number}" for number in range(500))
    assert len(open_table(write(tmp_path, f"{wide}\n{wide}\n")).columns) == 500


def test_a_json_entry_without_an_end_is_refused_without_holding_it(tmp_path: Path) -> None:
    path = tmp_path / "endless.geojson"
    with path.open("wb") as out:
        out.write(collection([point(-87.35, 47.05, id=1)])[:-2].encode())
        out.write(b',{"type":"Feature","geometry":null,"properties":{"note":"')
        for _ in range(60):
            out.write(b"x" * 1_000_000)
    assert _peak_mb(path) < 60


def test_deeply_nested_json_neither_hangs_nor_crashes_the_reader(tmp_path: Path) -> None:
    deep = "[" * 200_000 + "]" * 200_000
    feature = '{"type":"Feature","geometry":null,"properties":{"a":' + deep + "}}"
    with pytest.raises(CutShort, match="no longer GeoJSON"):
        open_table(write(tmp_path, '{"type":"FeatureCollection","features":[' + feature + "]}"))
    by_line = write(tmp_path, '{"type":"Feature","geometry":null,"properties":{}}\n' + feature + "\n" + feature)
    rows, told = read_until_it_stops(open_table(by_line))
    assert isinstance(told, CutShort)
    assert [row.number for row in rows] == [1]


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.95])
def test_half_a_geojson_gives_the_rows_before_and_then_says_so(tmp_path: Path, cut: float) -> None:
    whole = collection([point(-87.35, 47.05, id=number) for number in range(1, 2_001)])
    table = open_table(write(tmp_path, whole[: int(len(whole) * cut)]))
    rows, told = read_until_it_stops(table)
    assert abs(len(rows) - 2_000 * cut) < 40
    assert told.code == "cut_short"
    assert f"after row {len(rows)}." in told.sentence
    assert table.sample(5)[0].values[2] == "1"


def test_geojson_that_breaks_in_the_middle_is_told_as_broken(tmp_path: Path) -> None:
    whole = collection([point(-87.35, 47.05, id=number) for number in range(1, 20_001)])
    table = open_table(write(tmp_path, whole.replace('"id": 15000}', '"id": NaN}')))
    rows, told = read_until_it_stops(table)
    assert "no longer GeoJSON" in told.sentence
    assert told.values["row"] == len(rows)
    assert 14_000 < len(rows) < 15_000


def test_half_a_file_of_one_entry_a_line_is_told(tmp_path: Path) -> None:
    lines = "\n".join(json.dumps(point(-87.35, 47.05, id=number)) for number in range(1, 101))
    rows, told = read_until_it_stops(open_table(write(tmp_path, lines[:-10])))
    assert "after row 99." in told.sentence
    assert len(rows) == 99


@pytest.mark.parametrize("place", ["before", "after"])
@pytest.mark.parametrize("grid", ["urn:ogc:def:crs:EPSG::3857", "EPSG:2958", "urn:ogc:def:crs:EPSG::26916"])
def test_another_grid_is_refused_by_its_name(tmp_path: Path, grid: str, place: str) -> None:
    crs = {"type": "name", "properties": {"name": grid}}
    features = [point(500000.0, 5000000.0, id=1)]
    whole = {"type": "FeatureCollection", "features": features, "crs": crs}
    text = collection(features, crs=crs) if place == "before" else json.dumps(whole)
    with pytest.raises(OtherGrid) as told:
        open_table(write(tmp_path, text))
    assert grid in told.value.sentence
    assert "WGS 84" in told.value.sentence


@pytest.mark.parametrize(
    "grid", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326", "urn:ogc:def:crs:EPSG::4326", "urn:ogc:def:crs:OGC::CRS84"]
)
def test_the_names_of_wgs_84_are_all_read(tmp_path: Path, grid: str) -> None:
    """RFC 7946, section 4, and the names of GeoJSON 2008, section 3."""
    crs = {"type": "name", "properties": {"name": grid}}
    assert len(list(open_table(write(tmp_path, collection([point(-87.35, 47.05, id=1)], crs=crs))).rows())) == 1


def test_streets_refuse_the_same_files_with_the_same_sentences(tmp_path: Path) -> None:
    with pytest.raises(WrongKind, match="PDF"):
        read_streets(write(tmp_path, b"%PDF-1.7"))
    with pytest.raises(WrongKind, match="as GeoJSON"):
        read_streets(write(tmp_path, "name,lon\nLarkspur Street,1\n"))
