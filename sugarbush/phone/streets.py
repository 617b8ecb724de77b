"""The streets a round runs through, small enough to be carried along: the ground of the drawing of the way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import hypot
from typing import Any

from sugarbush.trees.models import StreetLine

MARGIN_DEG = 0.0012  # about 130 m north and south
PARTS = 100_000  # of a degree: steps of about a metre
MOST_LINES, MOST_NUMBERS = 300, 1_600  # design choice: about 4 kB as they travel

Point = tuple[int, int]


def around(places: Iterable[Sequence[float]]) -> list[list[int]]:
    """Street lines near these [longitude, latitude]: each its first point, then steps, in 100,000ths of a degree.

    One query. Where there are too many to carry, the shortest are left at home: lanes and driveways.
    """
    points = list(places)
    if not points:
        return []
    west, east = (pick(p[0] for p in points) for pick in (min, max))
    south, north = (pick(p[1] for p in points) for pick in (min, max))
    # The picture is wider than it is high, so it shows more to both sides.
    aside = max(MARGIN_DEG, north - south)
    box = (west - aside, south - MARGIN_DEG, east + aside, north + MARGIN_DEG)
    near = StreetLine.objects.filter(west__lte=box[2], east__gte=box[0], south__lte=box[3], north__gte=box[1])
    lines = [part for raw in near.values_list("points", flat=True)[:MOST_LINES] for part in _inside(raw, box)]
    lines.sort(key=_length, reverse=True)
    kept: list[list[int]] = []
    room = MOST_NUMBERS
    for line in lines:
        if (room := room - 2 * len(line)) < 0:
            break
        kept.append(_steps(line))
    return kept


def _inside(raw: list[Any], box: tuple[float, float, float, float]) -> list[list[Point]]:
    """The stretches of a line with an end in the box, in whole parts of a degree; points on a straight are left out."""
    west, south, east, north = box
    parts: list[list[Point]] = []
    open_ = False
    for one, other in pairwise(raw):
        if any(west <= x <= east and south <= y <= north for x, y in (one[:2], other[:2])):
            if not open_:
                parts.append([_whole(one)])
            parts[-1].append(_whole(other))
            open_ = True
        else:
            open_ = False
    return [straight for part in parts if len(straight := _straightened(part)) > 1]


def _whole(point: Sequence[float]) -> Point:
    return round(point[0] * PARTS), round(point[1] * PARTS)


def _straightened(line: list[Point]) -> list[Point]:
    kept = line[:1]
    for at, point in enumerate(line[1:], 1):
        ahead = line[at + 1] if at + 1 < len(line) else None
        if point == kept[-1] or (ahead is not None and _off_m(kept[-1], point, ahead) < 2):
            continue
        kept.append(point)
    return kept


def _off_m(start: Point, point: Point, end: Point) -> float:
    """About how far the point lies from the straight between the others, in steps of a metre."""
    (x, y), (dx, dy) = (point[0] - start[0], point[1] - start[1]), (end[0] - start[0], end[1] - start[1])
    reach = hypot(dx, dy)
    return abs(x * dy - y * dx) / reach if reach else abs(x) + abs(y)


def _length(line: list[Point]) -> float:
    return sum(hypot(x2 - x1, y2 - y1) for (x1, y1), (x2, y2) in pairwise(line))


def _steps(line: list[Point]) -> list[int]:
    flat = list(line[0])
    for (x1, y1), (x2, y2) in pairwise(line):
        flat += [x2 - x1, y2 - y1]
    return flat
