"""The streets, water and greens of Quillhaven, drawn once and always the same.

The plan starts as rows and columns of crossings at uneven distances, which are then bent by a slow wave, so that the
town turns a little from one quarter to the next as towns do that grew before they were planned. The River Quill
cuts it, three bridges join it, Tannery Brook comes down from the north, and some blocks were never built on.
"""

from __future__ import annotations

import itertools
import math
import random
from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import Any

from sugarbush.demo.ground import Point, length_m, to_degrees
from sugarbush.demo.street_names import (
    CLOSES,
    COLUMNS_NORTH,
    COLUMNS_SOUTH,
    MAIN_STREETS,
    ROWS_EAST,
    ROWS_WEST,
    WAYS_OUT,
)

Node = tuple[int, int]
Edge = tuple[Node, Node]

COLUMNS_M = (-1600, -1410, -1220, -1040, -860, -690, -530, -370, -210, -10, 150, 310, 550, 740, 940, 1140, 1340, 1550)
ROWS_M = (-1350, -1230, -1110, -1000, -890, -790, -690, -430, -320, -210, -100, 10, 120, 230, 340, 460, 590, 720, 860,
          1000, 1140, 1280)  # fmt: skip
_QUAY, _RACE_BANK = 7, 6
_BRIDGES = (4, 9, 14)
_BROOK_AFTER = 11
_BROOK_CROSSED_BY = (7, 10, 13, 15, 18)
# Corners (columns, rows) of what was never built on: between them no street runs.
_GREEN = (8, 9, 11, 13)
_FAIRHOLT = (3, 5, 16, 18)
_CEMETERY = (13, 15, 16, 18)
_SCHOOL = (12, 13, 8, 10)
_WORKS = (6, 7, 7, 9)
_MILL_MEADOW = (10, 12, 2, 4)
_OPEN_GROUND = (_GREEN, _FAIRHOLT, _CEMETERY, _SCHOOL, _WORKS, _MILL_MEADOW)


@dataclass(frozen=True)
class Street:
    """One unbroken line of one name. A street broken by a park is two of these, the second starting further on."""

    name: str
    kind: str
    """street, lane, path or water."""
    line: tuple[Point, ...]
    start_m: float = 0.0
    """How far along the whole street this piece begins, so that house numbers go on growing."""
    has_trees: bool = True
    crossings_m: tuple[float, ...] = ()
    """Where other streets meet it, measured along this piece."""


@dataclass(frozen=True)
class Ground:
    """A green, a park or a yard with trees of its own, as a ring of corners."""

    name: str
    ring: tuple[Point, ...]
    trees: int


@dataclass(frozen=True)
class Plan:
    """The whole town as it lies on the ground, in metres."""

    streets: tuple[Street, ...]
    grounds: tuple[Ground, ...]
    group_areas: dict[str, tuple[Point, ...]]


def _bent(u: float, v: float) -> Point:
    """From the straight plan to the ground: two slow waves, one quick one."""
    x = u + 95 * math.sin(2 * math.pi * v / 2700 + 0.5) + 26 * math.sin(2 * math.pi * (u + v) / 1250)
    y = v + 105 * math.sin(2 * math.pi * u / 3300 + 0.9) + 30 * math.cos(2 * math.pi * u / 1150 + v / 650)
    return x, y


def _river_v(u: float) -> float:
    return -560 + 46 * math.sin(2 * math.pi * u / 1500 + 0.4) + 14 * math.sin(2 * math.pi * u / 520)


def _brook_u(v: float) -> float:
    return 430 + 38 * math.sin(2 * math.pi * v / 880) + 12 * math.sin(2 * math.pi * v / 310)


def _built_on(u: float, v: float) -> bool:
    """Inside the ragged edge of the town."""
    angle = math.atan2(v / 1400, u / 1650)
    reach = 1 + 0.09 * math.sin(3 * angle + 0.8) + 0.06 * math.sin(5 * angle + 2.0)
    return math.pow(abs(u) / 1640, 2.4) + math.pow(abs(v + 20) / 1390, 2.4) <= math.pow(reach, 2.4)


def _edges() -> set[Edge]:
    """The pieces between neighbouring crossings where a street runs."""
    rng = random.Random(4)  # noqa: S311 - a drawing, nothing secret
    edges: set[Edge] = set()
    for i in range(len(COLUMNS_M)):
        for j in range(len(ROWS_M)):
            for other in ((i + 1, j), (i, j + 1)):
                if other[0] < len(COLUMNS_M) and other[1] < len(ROWS_M) and _may_run((i, j), other):
                    edges.add(((i, j), other))
    for edge in sorted(edges):
        (i, j), (k, m) = edge
        far_out = math.hypot((COLUMNS_M[i] + COLUMNS_M[k]) / 3300, (ROWS_M[j] + ROWS_M[m]) / 2800)
        kept_always = (i == k and i in _BRIDGES) or (j == m and j in (_QUAY, _RACE_BANK, 10, 13))
        if not kept_always and rng.random() < 0.05 + 0.36 * far_out and _still_a_crossing(edges, edge):
            edges.discard(edge)
    return _joined_up(edges)


def _may_run(a: Node, b: Node) -> bool:
    (i, j), (k, m) = a, b
    if not (_built_on(COLUMNS_M[i], ROWS_M[j]) and _built_on(COLUMNS_M[k], ROWS_M[m])):
        return False
    if i == k and j == _RACE_BANK:
        return i in _BRIDGES
    if j == m and i == _BROOK_AFTER and j >= _QUAY:
        return j in _BROOK_CROSSED_BY
    middle_i, middle_j = (i + k) / 2, (j + m) / 2
    return not any(w < middle_i < e and s < middle_j < n for w, e, s, n in _OPEN_GROUND)


def _still_a_crossing(edges: set[Edge], gone: Edge) -> bool:
    degree = Counter(node for edge in edges for node in edge)
    return all(degree[node] >= 4 for node in gone)


def _joined_up(edges: set[Edge]) -> set[Edge]:
    """What can be reached from the green, without the odd dead ends the edge of the town leaves."""
    while loose := {edge for edge in edges if any(sum(node in other for other in edges) == 1 for node in edge)}:
        edges = edges - loose
    reached: set[Node] = {(9, 11)}
    frontier = set(reached)
    while frontier:
        frontier = {n for edge in edges if frontier & set(edge) for n in edge} - reached
        reached |= frontier
    return {edge for edge in edges if edge[0] in reached}


def _nudge(node: Node) -> Point:
    rng = random.Random(1000 * node[0] + node[1])  # noqa: S311
    return rng.uniform(-11, 11), rng.uniform(-9, 9)


def _between(a: Node, b: Node, share: float) -> Point:
    """A point on the street from crossing a to crossing b."""
    (ax, ay), (bx, by) = _nudge(a), _nudge(b)
    x, y = _bent(
        COLUMNS_M[a[0]] + share * (COLUMNS_M[b[0]] - COLUMNS_M[a[0]]),
        ROWS_M[a[1]] + share * (ROWS_M[b[1]] - ROWS_M[a[1]]),
    )
    return x + ax + share * (bx - ax), y + ay + share * (by - ay)


def _runs(edges: set[Edge], *, upright: bool) -> list[list[Node]]:
    """Unbroken chains of crossings along each row or column, each list in order."""
    runs: list[list[Node]] = []
    outer, inner = (len(COLUMNS_M), len(ROWS_M)) if upright else (len(ROWS_M), len(COLUMNS_M))
    for line in range(outer):
        run: list[Node] = []
        for place in range(inner):
            a = (line, place) if upright else (place, line)
            b = (line, place + 1) if upright else (place + 1, line)
            if (a, b) in edges:
                run = [*run, b] if run else [a, b]
            elif run:
                runs.append(run)
                run = []
    return runs


def _name(run: list[Node], *, upright: bool) -> str:
    i, j = run[0]
    if upright:
        return COLUMNS_SOUTH[i] if run[-1][1] <= _RACE_BANK else COLUMNS_NORTH[i]
    return ROWS_EAST[j] if i > _BROOK_AFTER else ROWS_WEST[j]


def _grid_streets(edges: set[Edge]) -> list[Street]:
    degree = Counter(node for edge in edges for node in edge)
    streets: list[Street] = []
    last_end: dict[str, tuple[Point, float]] = {}
    for upright in (False, True):
        for run in _runs(edges, upright=upright):
            line: list[Point] = [_between(run[0], run[1], 0)]
            crossings: list[float] = [0.0]
            for a, b in itertools.pairwise(run):
                line.extend(_between(a, b, share) for share in (1 / 3, 2 / 3, 1))
                if degree[b] > 2 or b == run[-1]:
                    crossings.append(length_m(line))
            name = _name(run, upright=upright)
            start_m = 0.0
            if name in last_end:
                end, so_far_m = last_end[name]
                start_m = so_far_m + math.dist(end, line[0])
            last_end[name] = (line[-1], start_m + length_m(line))
            kind = "street" if name in MAIN_STREETS or name.endswith(("Street", "Road")) else "lane"
            streets.append(Street(name, kind, tuple(line), start_m, crossings_m=tuple(crossings)))
    return streets


def _closes(edges: set[Edge]) -> list[Street]:
    """Short dead ends into the wide blocks at the edge of the town."""
    made: list[Street] = []
    for name, a, b, depth in CLOSES:
        if (a, b) not in edges:
            continue
        root = _between(a, b, 2 / 3)
        (ax, ay), (bx, by) = _between(a, b, 0), _between(a, b, 1)
        side_m = math.dist((ax, ay), (bx, by))
        east, north = (bx - ax) / side_m, (by - ay) / side_m
        # Out at a right angle, then a bend back along the parent street.
        bend = (root[0] - north * depth * 0.6, root[1] + east * depth * 0.6)
        back = 0.2 * side_m
        turn = (bend[0] - north * depth * 0.3 - east * back, bend[1] + east * depth * 0.3 - north * back)
        end = (turn[0] - east * back, turn[1] - north * back)
        made.append(Street(name, "lane", (root, bend, turn, end), crossings_m=(0.0,)))
    return made


def _ways_out(edges: set[Edge]) -> list[Street]:
    """Roads that leave the town: no trees listed along them."""
    made: list[Street] = []
    nodes = sorted({node for edge in edges for node in edge})
    for name, row, column, end, (du, dv), reach in WAYS_OUT:
        node = [n for n in nodes if row in (None, n[1]) and column in (None, n[0])][end]
        u, v = COLUMNS_M[node[0]], ROWS_M[node[1]]
        jx, jy = _nudge(node)
        line = []
        for step in range(7):
            x, y = _bent(u + du * reach * step / 6, v + dv * reach * step / 6)
            fade = 1 - step / 6
            line.append((x + jx * fade, y + jy * fade))
        made.append(Street(name, "street", tuple(line), has_trees=False))
    return made


def _waters_and_paths() -> list[Street]:
    river = tuple(_bent(u, _river_v(u)) for u in range(-1850, 1851, 50))
    race = tuple(_bent(u, _river_v(u) - 60 * math.sin(math.pi * (u + 950) / 600) ** 0.6) for u in range(-950, -349, 40))
    brook = (*(_bent(_brook_u(v), v) for v in range(1460, -500, -40)), _bent(_brook_u(-560), _river_v(430)))
    brook_path = tuple(_bent(_brook_u(v) - 26, v) for v in range(1040, -421, -40))
    quillside = tuple(_bent(u, _river_v(u) + 36) for u in range(-760, 1181, 40))
    named = [
        ("River Quill", "water", river),
        ("Mill Race", "water", race),
        ("Tannery Brook", "water", brook),
        ("Brook Path", "path", brook_path),
        ("Quillside Path", "path", quillside),
        *((name, "path", line) for name, line in _paths_of_greens()),
    ]
    return [Street(name, kind, line, has_trees=False) for name, kind, line in named]


def _ring(corners: tuple[int, int, int, int], *, inset: float) -> tuple[Point, ...]:
    """The four corners of open ground, drawn in from the streets around it by a share of its size."""
    w, e, s, n = corners
    ring = [_between((w, s), (w, s), 0), _between((e, s), (e, s), 0)]
    ring += [_between((e, n), (e, n), 0), _between((w, n), (w, n), 0)]
    cx, cy = sum(p[0] for p in ring) / 4, sum(p[1] for p in ring) / 4
    return tuple((x + (cx - x) * inset, y + (cy - y) * inset) for x, y in ring)


def _paths_of_greens() -> list[tuple[str, tuple[Point, ...]]]:
    paths: list[tuple[str, tuple[Point, ...]]] = []
    for name, corners in (("Lantern Green", _GREEN), ("Fairholt Park", _FAIRHOLT), ("Larch Hill Cemetery", _CEMETERY)):
        a, b, c, d = _ring(corners, inset=0.0)
        p, q, r, s = _ring(corners, inset=0.38)
        paths.append((f"{name} Walk", (p, q, r, s, p)))
        paths += [(f"{name} Walk", ends) for ends in ((a, p), (q, b), (c, r), (s, d))]
        if corners == _GREEN:
            paths += [(f"{name} Walk", (p, r)), (f"{name} Walk", (q, s))]
    return paths


def _group_areas() -> dict[str, tuple[Point, ...]]:
    """The three neighbourhood groups meet along the river and along Orchard Bank."""
    west, east, split = -1850, 1850, 150

    def river(start: int, end: int) -> list[Point]:
        step = 100 if end > start else -100
        return [_bent(u, _river_v(u)) for u in (*range(start, end, step), end)]

    edge = [_bent(split, v) for v in (-300, 0, 400, 800, 1200, 1480)]
    return {
        "Lantern Green": (*river(west, split), *edge, _bent(west, 1480)),
        "North Bank": (*river(split, east), _bent(east, 1480), *reversed(edge)),
        "Mill Race": (*river(east, west), _bent(west, -1500), _bent(east, -1500)),
    }


@cache
def plan() -> Plan:
    """The town on the ground. Drawn once; every call gives the same."""
    edges = _edges()
    streets = [*_grid_streets(edges), *_closes(edges), *_ways_out(edges), *_waters_and_paths()]
    grounds = (
        Ground("Lantern Green", _ring(_GREEN, inset=0.12), 130),
        Ground("Fairholt Park", _ring(_FAIRHOLT, inset=0.1), 220),
        Ground("Larch Hill Cemetery", _ring(_CEMETERY, inset=0.1), 180),
        Ground("Quill School Yard", _ring(_SCHOOL, inset=0.15), 45),
        Ground("Mill Meadow", _ring(_MILL_MEADOW, inset=0.12), 110),
    )
    return Plan(tuple(streets), grounds, _group_areas())


def _position(point: Point) -> list[float]:
    return list(to_degrees(point))


def streets_geojson() -> dict[str, Any]:
    """The town's street file: a GeoJSON FeatureCollection of lines, each with its name and kind."""
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": street.name, "kind": street.kind},
                "geometry": {"type": "LineString", "coordinates": [_position(point) for point in street.line]},
            }
            for street in plan().streets
        ],
    }


def group_area_geojson(name: str) -> dict[str, Any]:
    """The area of one neighbourhood group as a GeoJSON Polygon, its ring closed."""
    ring = [_position(point) for point in plan().group_areas[name]]
    if sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)) < 0:
        ring.reverse()
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
