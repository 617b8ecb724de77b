"""The town's tree list: some 12,000 rows as a town would write them, with the mess such lists have, counted.

Every cell is text, as in a file. ``MESS`` says how many rows carry each kind of mess, ``NOT_TAKEN`` which kinds an
import must leave out; each messy row carries one kind only, so the counts add up.
"""

from __future__ import annotations

import csv
import json
import math
import random
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from sugarbush.demo.ground import NearLines, Point, along, inside, length_m, to_degrees
from sugarbush.demo.species_mix import ALL_KINDS, Kind
from sugarbush.demo.streets import Ground, Street, plan

Row = dict[str, str]

SEED = 2026
COLUMNS = ("TREE_NO", "BOTANICAL", "COMMON", "TRUNK_IN", "ADDRESS", "SIDE", "NTH", "SITE", "CONDITION", "LON", "LAT",
           "SURVEYED", "REMARKS")  # fmt: skip
TOTAL_ROWS = 12_000

MESS: dict[str, int] = {
    # Rows an import cannot take.
    "swapped_coordinates": 9,
    "missing_coordinates": 14,
    "zero_diameter": 11,
    "stump": 23,
    "vacant_site": 37,
    "unknown_species": 8,
    "duplicate_number": 6,
    "outside_town": 5,
    # Rows that are sound underneath.
    "blank_diameter": 240,
    "several_stems": 6,
    "formula": 3,
    "html": 3,
    "stray_quotes": 4,
    "accents": 12,
}
NOT_TAKEN = ("swapped_coordinates", "missing_coordinates", "zero_diameter", "stump", "vacant_site", "unknown_species",
             "duplicate_number", "outside_town")  # fmt: skip
NOT_TAKEN_ROWS = sum(MESS[kind] for kind in NOT_TAKEN)
TAKEN_ROWS = TOTAL_ROWS - NOT_TAKEN_ROWS
# Lines of the CSV file that hold no row at all: wholly blank, and commas only, as spreadsheets leave them.
BLANK_LINES = 7
COMMA_ONLY_LINES = 4

_UNKNOWN = ("unknown", "?", "tree", "not listed")
_FORMULAS = ("=cmd()", "+1+1", "@SUM(A1:A9)")
_HTML = ("<script>alert('tree')</script>", "<b>large</b> old tree", "pruned <img src=x> 2021")
_QUOTES = ('6" stake still in', 'known as "the old lady", keep', "resident's bench, beside", "'keep clear")
_ACCENTS = ("Érable près du café", "planted for Zoë", "niñ@s' tree walk", "façade side", "crown über the wires",
            "½ in shade")  # fmt: skip
_REMARKS = ("wires above", "roots lift the walk", "low limb over road", "bench around trunk", "lost a limb 2022",
            "salt side", "new planting")  # fmt: skip


@dataclass(frozen=True)
class Site:
    """A spot on the ground where a tree stands or stood."""

    point: Point
    address: str
    side: str
    nth: int
    site: str
    street: str


@dataclass(frozen=True)
class Inventory:
    """The whole list, and which town numbers carry which mess."""

    rows: tuple[Row, ...]
    messy: dict[str, tuple[str, ...]]
    """Town numbers of the rows of each kind of mess, in file order. For a duplicate: the number that comes twice."""

    def sound_rows(self) -> list[Row]:
        """The rows with no mess at all."""
        spoilt = {number for numbers in self.messy.values() for number in numbers}
        return [row for row in self.rows if row["TREE_NO"] not in spoilt]


def inventory_rows(seed: int = SEED) -> Iterator[Row]:
    """The rows of the list in file order. The same seed gives the same rows."""
    return (dict(row) for row in inventory(seed).rows)


@lru_cache(maxsize=2)
def inventory(seed: int = SEED) -> Inventory:
    """The list with its mess known by number."""
    rng = random.Random(seed)  # noqa: S311 - an invented town, nothing secret
    rows = [_row(number, site, rng) for number, site in enumerate(_sites(rng), start=1)]
    return Inventory(rows=tuple(rows), messy=_make_mess(rows, rng))


def _sites(rng: random.Random) -> list[Site]:
    town = plan()
    in_grounds = [site for ground in town.grounds for site in _ground_sites(ground, rng)]
    every_line = NearLines(street.line for street in town.streets)
    river = NearLines(street.line for street in town.streets if street.name == "River Quill")
    kerbs: list[Site] = []
    for street in town.streets:
        if street.has_trees:
            fill = rng.uniform(0.66, 1.0)
            kerbs += [s for s in _street_sites(street, rng, every_line, river) if rng.random() < fill]
    kerbs = _apart(in_grounds, kerbs)
    wanted = TOTAL_ROWS - len(in_grounds)
    chosen = [kerbs[i] for i in sorted(rng.sample(range(len(kerbs)), wanted))]
    return _numbered(chosen) + in_grounds


def _street_sites(street: Street, rng: random.Random, every_line: NearLines, river: NearLines) -> Iterator[Site]:
    whole_m = length_m(street.line)
    for left in (True, False):
        at_m = rng.uniform(4, 11)
        while at_m < whole_m - 4:
            if all(abs(at_m - crossing) > 13 for crossing in street.crossings_m):
                (x, y), (east, north) = along(street.line, at_m)
                in_yard = rng.random() < 0.05
                out_m = rng.uniform(9, 12.5) if in_yard else rng.uniform(4.2, 5.8)
                across = (-north, east) if left else (north, -east)
                point = (x + across[0] * out_m, y + across[1] * out_m)
                if not every_line.within(point, 4.0) and not river.within(point, 18):
                    number = 2 * int((street.start_m + at_m) / 14) + (1 if left else 2)
                    site = "Yard" if in_yard else "Street"
                    yield Site(point, f"{number} {street.name}", _side(across), 0, site, street.name)
            at_m += rng.uniform(7, 12)


def _apart(standing: list[Site], more: list[Site]) -> list[Site]:
    """Of the second sites those that stand at least 4 m from every other: no tree grows through its neighbour."""
    cells: dict[tuple[int, int], list[Point]] = defaultdict(list)
    kept: list[Site] = []
    for count, site in enumerate([*standing, *more]):
        x, y = site.point
        column, row = math.floor(x / 4), math.floor(y / 4)
        near = (p for i in (-1, 0, 1) for j in (-1, 0, 1) for p in cells[column + i, row + j])
        if count < len(standing) or all(math.dist(site.point, p) >= 4 for p in near):
            cells[column, row].append(site.point)
            kept.append(site)
    return kept[len(standing) :]


def _side(across: Point) -> str:
    east, north = across
    if abs(east) > abs(north):
        return "E" if east > 0 else "W"
    return "N" if north > 0 else "S"


def _numbered(sites: list[Site]) -> list[Site]:
    """Each site told which tree it is at its address, first, second, and so on."""
    so_far: Counter[str] = Counter()
    numbered = []
    for site in sites:
        so_far[site.address] += 1
        numbered.append(Site(site.point, site.address, site.side, so_far[site.address], site.site, site.street))
    return numbered


def _ground_sites(ground: Ground, rng: random.Random) -> list[Site]:
    """Trees scattered over a green, none within 7 m of another or 2.5 m of a path."""
    paths = NearLines(street.line for street in plan().streets if street.kind == "path")
    xs, ys = [p[0] for p in ground.ring], [p[1] for p in ground.ring]
    points: list[Point] = []
    for _ in range(60 * ground.trees):
        point = (rng.uniform(min(xs), max(xs)), rng.uniform(min(ys), max(ys)))
        clear = not paths.within(point, 2.5) and all(math.dist(point, other) > 7 for other in points)
        if clear and inside(point, ground.ring):
            points.append(point)
        if len(points) == ground.trees:
            break
    points.sort(key=lambda p: (-p[1], p[0]))
    return [Site(point, ground.name, "", nth, "Park", ground.name) for nth, point in enumerate(points, start=1)]


def _row(number: int, site: Site, rng: random.Random) -> Row:
    kind = _kind(site.street, rng)
    longitude_deg, latitude_deg = to_degrees(site.point)
    botanical = kind.botanical
    if kind.cultivars and rng.random() < 0.12:
        botanical += f" '{rng.choice(kind.cultivars)}'"
    return {
        "TREE_NO": f"{number:06d}",
        "BOTANICAL": botanical,
        "COMMON": kind.common,
        "TRUNK_IN": _trunk_in(kind, rng),
        "ADDRESS": site.address,
        "SIDE": site.side,
        "NTH": str(site.nth),
        "SITE": site.site,
        "CONDITION": rng.choices(("Good", "Fair", "Poor", "Dead", ""), (61, 27, 7, 1, 4))[0],
        "LON": f"{longitude_deg:.7f}",
        "LAT": f"{latitude_deg:.7f}",
        "SURVEYED": f"{rng.choice((2019, 2021, 2022, 2024))}-{rng.randint(5, 10):02d}-{rng.randint(1, 28):02d}",
        "REMARKS": rng.choice(_REMARKS) if rng.random() < 0.05 else "",
    }


_WEIGHTS = [kind.weight for kind in ALL_KINDS]


def _kind(street: str, rng: random.Random) -> Kind:
    """Half of a street was planted with its own two or three kinds; the rest is anything."""
    if rng.random() < 0.45:
        planted = random.Random(f"planting of {street}").choices(ALL_KINDS, _WEIGHTS, k=3)  # noqa: S311
        return rng.choice(planted)
    return rng.choices(ALL_KINDS, _WEIGHTS)[0]


def _trunk_in(kind: Kind, rng: random.Random) -> str:
    """A trunk diameter in inches as a crew writes it: mostly whole, sometimes a half."""
    inches = min(54.0, max(1.5, kind.usual_in * math.exp(rng.gauss(0, kind.spread))))
    if rng.random() < 0.2:
        return f"{round(inches * 2) / 2:.1f}"
    return str(max(2, round(inches)))


def _make_mess(rows: list[Row], rng: random.Random) -> dict[str, tuple[str, ...]]:
    """Spoil a counted number of rows, each in one way, and say which."""
    picked = rng.sample(range(300, len(rows)), sum(MESS.values()))
    messy: dict[str, tuple[str, ...]] = {}
    for kind, count in MESS.items():
        places = sorted(picked[:count])
        del picked[:count]
        for nth, place in enumerate(places):
            # The first 300 rows stay sound, so that a number taken from them stands twice and not three times.
            rows[place].update(_spoilt(kind, nth, rows[place], twin=rows[20 + 31 * nth % 280]))
        messy[kind] = tuple(rows[place]["TREE_NO"] for place in places)
    return messy


def _spoilt(kind: str, nth: int, row: Row, *, twin: Row) -> Row:
    """What one kind of mess changes in a row."""
    far = {"LON": ("-87.9512030", "-86.1100000", "0", "-87.3501234", "87.3498765"),
           "LAT": ("47.6001200", "47.0500000", "0", "46.1021000", "47.0512345")}  # fmt: skip
    changes: dict[str, Row] = {
        "swapped_coordinates": {"LON": row["LAT"], "LAT": row["LON"]},
        "missing_coordinates": {"LON": "", "LAT": ""} if nth % 2 else {"LAT": ""},
        "zero_diameter": {"TRUNK_IN": ("0", "0.0")[nth % 2]},
        "stump": {"SITE": "Stump", "CONDITION": ""},
        "vacant_site": {"SITE": "Vacant", "BOTANICAL": "", "COMMON": "", "TRUNK_IN": "", "CONDITION": ""},
        "unknown_species": {"BOTANICAL": "", "COMMON": _UNKNOWN[nth % len(_UNKNOWN)]},
        "duplicate_number": {"TREE_NO": twin["TREE_NO"]},
        "outside_town": {name: values[nth % 5] for name, values in far.items()},
        "blank_diameter": {"TRUNK_IN": ""},
        "several_stems": {"TRUNK_IN": ("7/6/5", "9/8", "6/6/4/3")[nth % 3]},
        "formula": {"REMARKS": _FORMULAS[nth % 3], "COMMON": "=cmd()"},
        "html": {"REMARKS": _HTML[nth % 3]},
        "stray_quotes": {"REMARKS": _QUOTES[nth % 4]},
        "accents": {"REMARKS": _ACCENTS[nth % 6]},
    }
    return changes[kind]


def write_inventory_csv(
    path: Path, *, seed: int = SEED, encoding: str = "utf-8", delimiter: str = ",", decimal_comma: bool = False
) -> int:
    """Write the list as a file and return how many rows it holds.

    encoding may be latin-1 or utf-8-sig (with a byte order mark); decimal_comma wants another delimiter than a comma.
    """
    count = 0
    with path.open("w", encoding=encoding, newline="") as file:
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\r\n")
        writer.writerow(COLUMNS)
        for count, row in enumerate(inventory(seed).rows, start=1):
            cells = [row[name] for name in COLUMNS]
            if decimal_comma:
                cells = [
                    cell.replace(".", ",") if name in ("TRUNK_IN", "LON", "LAT") else cell
                    for name, cell in zip(COLUMNS, cells, strict=True)
                ]
            writer.writerow(cells)
            if count % 1500 == 0 and count // 1500 <= BLANK_LINES:
                file.write("\r\n")
            if count % 2900 == 0 and count // 2900 <= COMMA_ONLY_LINES:
                file.write(delimiter * (len(COLUMNS) - 1) + "\r\n")
    return count


def inventory_feature(row: Row) -> dict[str, Any]:
    """One row as a GeoJSON feature; without both coordinates its geometry is null."""
    has_place = bool(row["LON"] and row["LAT"])
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [float(row["LON"]), float(row["LAT"])]} if has_place else None,
        "properties": {name: row[name] for name in COLUMNS if name not in ("LON", "LAT")},
    }


def write_inventory_geojson(path: Path, *, seed: int = SEED) -> int:
    """Write the list as a GeoJSON FeatureCollection, one feature a line, and return how many it holds."""
    features = [json.dumps(inventory_feature(row), ensure_ascii=False) for row in inventory(seed).rows]
    path.write_text('{"type": "FeatureCollection", "features": [\n' + ",\n".join(features) + "\n]}\n", encoding="utf-8")
    return len(features)
