"""The invented town: drawn the same every time, to the standards its files claim, with its mess counted."""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import subprocess
import sys
import tracemalloc
from collections import Counter, defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

from sugarbush.demo import town

ROOT = Path(__file__).parents[2]
# The species list of a northern maple programme: eight kinds, as botanists write them.
EIGHT_MAPLES = {
    "Acer saccharum", "Acer nigrum", "Acer rubrum", "Acer saccharinum", "Acer negundo", "Acer platanoides",
    "Acer macrophyllum", "Acer grandidentatum",
}  # fmt: skip


def haversine_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Great-circle distance by the haversine formula (textbook spherical trigonometry), not the town's own plane."""
    (lon1, lat1), (lon2, lat2) = (tuple(map(math.radians, p)) for p in (a, b))
    h = math.sin((lat2 - lat1) / 2) ** 2 + math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    return 2 * 6_371_008.8 * math.asin(math.sqrt(h))


@pytest.fixture(scope="module")
def csv_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("town") / "trees.csv"
    assert town.write_inventory_csv(path) == town.TOTAL_ROWS
    return path


@pytest.fixture(scope="module")
def listed(csv_path: Path) -> list[dict[str, str]]:
    with csv_path.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if any(row.values())]


def _fingerprint(hash_seed: str) -> str:
    script = (
        "import hashlib, json, sys; from sugarbush.demo import town;"
        "assert 'django' not in sys.modules;"
        "said = [list(town.inventory_rows()), town.streets_geojson(), town.weather_days(), town.people(),"
        " town.programme_trees(), town.permissions(), town.demo_season()];"
        "print(hashlib.sha256(repr(said).encode()).hexdigest())"
    )
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": str(ROOT)}
    run = subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, text=True, check=True)
    return run.stdout.strip()


def test_the_town_is_the_same_in_every_process_and_needs_no_django() -> None:
    assert _fingerprint("1") == _fingerprint("2")


def test_another_seed_plants_other_trees(tmp_path: Path, csv_path: Path) -> None:
    other = tmp_path / "other.csv"
    town.write_inventory_csv(other, seed=7)
    again = tmp_path / "again.csv"
    town.write_inventory_csv(again)
    assert hashlib.sha256(again.read_bytes()).digest() == hashlib.sha256(csv_path.read_bytes()).digest()
    assert other.read_bytes() != again.read_bytes()


class TestStreets:
    def test_lines_are_geojson_as_rfc_7946_has_it(self) -> None:
        # RFC 7946: 3.3 FeatureCollection, 3.1.4 LineString of two or more positions, 3.1.1 longitude before latitude.
        collection = json.loads(json.dumps(town.streets_geojson()))
        assert collection["type"] == "FeatureCollection"
        for feature in collection["features"]:
            assert feature["type"] == "Feature"
            assert set(feature["properties"]) == {"name", "kind"}
            assert feature["geometry"]["type"] == "LineString"
            assert len(feature["geometry"]["coordinates"]) >= 2
            for longitude, latitude in feature["geometry"]["coordinates"]:
                assert -88 < longitude < -87
                assert 46.9 < latitude < 47.2
                assert round(longitude, 7) == longitude
                assert round(latitude, 7) == latitude

    def test_it_is_a_small_town_with_a_river_and_some_sixty_streets(self) -> None:
        features = town.streets_geojson()["features"]
        kinds = {f["properties"]["kind"] for f in features}
        streets = {f["properties"]["name"] for f in features if f["properties"]["kind"] in ("street", "lane")}
        assert kinds == {"street", "lane", "water", "path"}
        assert 55 <= len(streets) <= 75
        assert {"Larkspur Street", "Foundry Lane", "Heron Row", "Chandler's Walk", "Orchard Bank"} <= streets
        assert any(f["properties"] == {"name": "River Quill", "kind": "water"} for f in features)
        points = [tuple(p) for f in features for p in f["geometry"]["coordinates"]]
        west, south = min(p[0] for p in points), min(p[1] for p in points)
        east, north = max(p[0] for p in points), max(p[1] for p in points)
        assert 3000 < haversine_m((west, south), (east, south)) < 4200
        assert 2500 < haversine_m((west, south), (west, north)) < 3500

    def test_every_street_can_be_walked_to_from_larkspur_street(self) -> None:
        at: dict[tuple[float, ...], list[int]] = defaultdict(list)
        lines = [f for f in town.streets_geojson()["features"] if f["properties"]["kind"] in ("street", "lane")]
        for index, feature in enumerate(lines):
            for position in feature["geometry"]["coordinates"]:
                at[tuple(position)].append(index)
        start = next(i for i, f in enumerate(lines) if f["properties"]["name"] == "Larkspur Street")
        reached, frontier = {start}, [start]
        while frontier:
            here = lines[frontier.pop()]["geometry"]["coordinates"]
            for other in {i for position in here for i in at[tuple(position)]} - reached:
                reached.add(other)
                frontier.append(other)
        assert len(reached) == len(lines)

    def test_group_areas_are_closed_rings_turning_left(self) -> None:
        # RFC 7946, 3.1.6: first and last position the same; the outer ring counterclockwise.
        for group in town.GROUPS:
            ring = town.group_area_geojson(group)["coordinates"][0]
            assert ring[0] == ring[-1]
            assert sum(ax * by - bx * ay for (ax, ay), (bx, by) in pairwise(ring)) > 0


class TestTreeList:
    def test_the_file_is_csv_as_rfc_4180_has_it(self, csv_path: Path) -> None:
        # RFC 4180, 2: lines end in CRLF, a header line, quotes doubled inside quoted fields.
        raw = csv_path.read_bytes()
        assert raw.startswith(",".join(town.COLUMNS).encode() + b"\r\n")
        assert raw.count(b"\n") == raw.count(b"\r\n")
        assert b'"known as ""the old lady"", keep"' in raw

    def test_each_kind_of_mess_is_there_as_often_as_it_says(self, csv_path: Path, listed: list[dict[str, str]]) -> None:
        west, south, east, north = town.box_deg()

        def lies(row: dict[str, str]) -> str:
            if not (row["LON"] and row["LAT"]):
                return "missing"
            x, y = float(row["LON"]), float(row["LAT"])
            if west <= x <= east and south <= y <= north:
                return "in"
            return "swapped" if west <= y <= east and south <= x <= north else "out"

        where = Counter(lies(row) for row in listed)
        numbers = Counter(row["TREE_NO"] for row in listed)
        sites = Counter(row["SITE"] for row in listed)
        trunks = [row["TRUNK_IN"] for row in listed if row["SITE"] != "Vacant"]
        found = {
            "swapped_coordinates": where["swapped"],
            "missing_coordinates": where["missing"],
            "outside_town": where["out"],
            "zero_diameter": sum(trunk in ("0", "0.0") for trunk in trunks),
            "stump": sites["Stump"],
            "vacant_site": sites["Vacant"],
            "unknown_species": sum(not r["BOTANICAL"] and r["SITE"] != "Vacant" for r in listed),
            "duplicate_number": sum(count - 1 for count in numbers.values()),
            "blank_diameter": trunks.count(""),
            "several_stems": sum("/" in trunk for trunk in trunks),
            "formula": sum(r["COMMON"].startswith("=") for r in listed),
            "html": sum("<" in r["REMARKS"] for r in listed),
            "stray_quotes": sum('"' in r["REMARKS"] or ("'" in r["REMARKS"] and "@" not in r["REMARKS"]
                                and "<" not in r["REMARKS"] and r["REMARKS"].isascii()) for r in listed),
            "accents": sum(not r["REMARKS"].isascii() for r in listed),
        }  # fmt: skip
        assert found == town.MESS
        assert len(listed) == town.TOTAL_ROWS == town.TAKEN_ROWS + town.NOT_TAKEN_ROWS
        lines = csv_path.read_bytes().split(b"\r\n")[:-1]
        assert lines.count(b"") == town.BLANK_LINES
        assert lines.count(b"," * (len(town.COLUMNS) - 1)) == town.COMMA_ONLY_LINES

    def test_no_row_carries_two_kinds_of_mess(self) -> None:
        messy = town.inventory().messy
        numbers = [number for kind in messy.values() for number in kind]
        assert len(numbers) == len(set(numbers)) == sum(town.MESS.values())
        assert len(town.inventory().sound_rows()) == town.TOTAL_ROWS - len(numbers) - town.MESS["duplicate_number"]

    def test_about_four_in_ten_are_maples_of_all_eight_kinds(self, listed: list[dict[str, str]]) -> None:
        maples = Counter(" ".join(r["BOTANICAL"].split()[:2]) for r in listed if r["BOTANICAL"].startswith("Acer"))
        assert set(maples) == EIGHT_MAPLES
        assert 0.34 < maples.total() / len(listed) < 0.42
        assert {"Platanus x acerifolia", "Aesculus hippocastanum", "Liquidambar styraciflua"} <= {
            r["BOTANICAL"] for r in listed
        }

    def test_street_trees_stand_at_the_kerb_of_their_own_street_and_none_in_another(self) -> None:
        lines: dict[str, list[list[tuple[float, float]]]] = defaultdict(list)
        for feature in town.streets_geojson()["features"]:
            line = [town.to_metres(*position) for position in feature["geometry"]["coordinates"]]
            lines[feature["properties"]["name"]].append(line)

        def off_m(x: float, y: float, name: str) -> float:
            best = math.inf
            for line in lines[name]:
                for (ax, ay), (bx, by) in pairwise(line):
                    dx, dy = bx - ax, by - ay
                    t = max(0.0, min(1.0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)))
                    best = min(best, math.hypot(x - ax - t * dx, y - ay - t * dy))
            return best

        kerb = [row for row in town.inventory().sound_rows() if row["SITE"] == "Street"][::9]
        assert len(kerb) > 1000
        for row in kerb:
            x, y = town.to_metres(float(row["LON"]), float(row["LAT"]))
            name = row["ADDRESS"].split(" ", 1)[1]
            assert 3.95 < off_m(x, y, name) < 6.05, row
        for row in kerb[::25]:
            x, y = town.to_metres(float(row["LON"]), float(row["LAT"]))
            assert min(off_m(x, y, name) for name in lines) > 3.95, row

    def test_no_two_trees_stand_within_three_metres(self) -> None:
        cells: dict[tuple[int, int], list[tuple[float, float]]] = defaultdict(list)
        for row in town.inventory().sound_rows():
            x, y = town.to_metres(float(row["LON"]), float(row["LAT"]))
            column, line = math.floor(x / 3), math.floor(y / 3)
            near = [p for i in (-1, 0, 1) for j in (-1, 0, 1) for p in cells[(column + i, line + j)]]
            assert all(math.dist((x, y), p) >= 3 for p in near), row
            cells[(column, line)].append((x, y))

    def test_numbers_grow_along_the_street_odd_on_one_side_even_on_the_other(self) -> None:
        line = next(s.line for s in town.plan().streets if s.name == "Juniper Street")
        start = line[0]
        by_parity: dict[int, list[tuple[int, float]]] = {0: [], 1: []}
        sides: dict[int, set[str]] = {0: set(), 1: set()}
        for row in town.inventory().sound_rows():
            if row["ADDRESS"].endswith(" Juniper Street") and row["SITE"] == "Street":
                number = int(row["ADDRESS"].split()[0])
                point = town.to_metres(float(row["LON"]), float(row["LAT"]))
                by_parity[number % 2].append((number, math.dist(start, point)))
                sides[number % 2].add(row["SIDE"])
        for houses in by_parity.values():
            assert len(houses) > 10
            far = [distance for _, distance in sorted(houses)]
            # Two trees at one address may come in either order; a lot is 14 m wide.
            assert all(b - a > -14 for a, b in pairwise(far))
        assert sides == {0: {"S"}, 1: {"N"}}

    def test_every_tree_at_an_address_has_its_own_place_there(self, listed: list[dict[str, str]]) -> None:
        places = Counter((row["ADDRESS"], row["NTH"]) for row in listed)
        assert max(places.values()) == 1

    def test_the_latin_1_file_reads_back_the_same(self, tmp_path: Path, listed: list[dict[str, str]]) -> None:
        path = tmp_path / "latin.csv"
        town.write_inventory_csv(path, encoding="latin-1", delimiter=";", decimal_comma=True)
        with pytest.raises(UnicodeDecodeError):
            path.read_text(encoding="utf-8")
        with path.open(encoding="latin-1", newline="") as file:
            rows = [row for row in csv.DictReader(file, delimiter=";") if any(row.values())]
        assert [row["REMARKS"] for row in rows] == [row["REMARKS"] for row in listed]
        assert rows[0]["LON"] == listed[0]["LON"].replace(".", ",")

    def test_the_geojson_list_holds_the_same_rows(self, tmp_path: Path, listed: list[dict[str, str]]) -> None:
        path = tmp_path / "trees.geojson"
        assert town.write_inventory_geojson(path) == town.TOTAL_ROWS
        features = json.loads(path.read_text(encoding="utf-8"))["features"]
        assert [f["properties"]["TREE_NO"] for f in features] == [row["TREE_NO"] for row in listed]
        # RFC 7946, 3.2: a feature without a place has a null geometry.
        assert sum(f["geometry"] is None for f in features) == town.MESS["missing_coordinates"]
        assert features[0]["geometry"]["coordinates"] == [float(listed[0]["LON"]), float(listed[0]["LAT"])]


class TestBigTown:
    def test_it_has_the_same_columns_and_as_many_bad_rows_as_asked(self) -> None:
        rows = list(town.iter_inventory(5000, bad_every=250))
        assert len(rows) == 5000
        assert all(tuple(row) == town.COLUMNS for row in rows)
        assert sum(float(row["LAT"]) < 0 for row in rows) == 20
        assert len({(row["LON"], row["LAT"]) for row in rows}) == 5000
        assert len({row["TREE_NO"] for row in rows}) == 5000

    def test_ten_times_the_rows_take_no_more_memory(self) -> None:
        def peak_bytes(rows: int) -> int:
            tracemalloc.start()
            for _row in town.iter_inventory(rows):
                pass
            peak = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            return peak

        peak_bytes(100)
        assert peak_bytes(30_000) < 1.2 * peak_bytes(3000)


class TestSmallTown:
    def test_csv_geojson_and_the_page_that_explains_them_agree(self) -> None:
        data = ROOT / "tests" / "data"
        with (data / "small_town.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        features = json.loads((data / "small_town.geojson").read_text(encoding="utf-8"))["features"]
        explained = [
            [cell.strip() for cell in line.strip("|\n ").split("|")]
            for line in (data / "small_town.md").read_text(encoding="utf-8").splitlines()
            if line.startswith("| ") and line[2].isdigit()
        ]
        assert len(rows) == len(features) == len(explained) == 24
        for row, feature, line in zip(rows, features, explained, strict=True):
            assert feature["geometry"]["coordinates"] == [float(row["LON"]), float(row["LAT"])]
            assert all(feature["properties"][name] == row[name] for name in feature["properties"])
            assert line[1:5] == [row["TREE_NO"], row["COMMON"], row["TRUNK_IN"], row["ADDRESS"]]
            if row["TREE_NO"] <= "0020":
                # Conservative guideline, 12 and 18 inches: one published table, second hand; from memory beyond that.
                assert line[5] == str(sum(float(row["TRUNK_IN"]) >= step for step in (12, 18)))
        assert {row["BOTANICAL"] for row in rows[:20]} == EIGHT_MAPLES
        assert sum(int(line[5]) for line in explained[:20]) == 24
