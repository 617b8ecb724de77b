"""Metres on the ground of the invented town, and the plane geometry the town is drawn with.

The town is laid out in metres east (x) and north (y) of its green. It stands where no town is: in the
open water of a northern lake, so that nobody's real tree can be meant.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence

Point = tuple[float, float]
"""Metres east and metres north of the middle of the town."""

CENTRE_LONGITUDE_DEG = -87.35
CENTRE_LATITUDE_DEG = 47.05
# One degree of latitude on a sphere of the Earth's mean radius, 6,371,008.8 m. Good to a few centimetres here.
METRES_PER_DEGREE = 6_371_008.8 * math.pi / 180
_METRES_PER_DEGREE_EAST = METRES_PER_DEGREE * math.cos(math.radians(CENTRE_LATITUDE_DEG))


def to_degrees(point: Point) -> tuple[float, float]:
    """Longitude and latitude of a point, in degrees to 7 decimals (about a centimetre)."""
    x_m, y_m = point
    return (
        round(CENTRE_LONGITUDE_DEG + x_m / _METRES_PER_DEGREE_EAST, 7),
        round(CENTRE_LATITUDE_DEG + y_m / METRES_PER_DEGREE, 7),
    )


def to_metres(longitude_deg: float, latitude_deg: float) -> Point:
    """The reverse of ``to_degrees``."""
    return (
        (longitude_deg - CENTRE_LONGITUDE_DEG) * _METRES_PER_DEGREE_EAST,
        (latitude_deg - CENTRE_LATITUDE_DEG) * METRES_PER_DEGREE,
    )


def length_m(line: Sequence[Point]) -> float:
    """Length of a line of two or more points."""
    return sum(math.dist(a, b) for a, b in itertools.pairwise(line))


def along(line: Sequence[Point], distance_m: float) -> tuple[Point, Point]:
    """The point so far along a line, and the direction of travel there as a unit vector."""
    left_m = distance_m
    for a, b in itertools.pairwise(line):
        step_m = math.dist(a, b)
        if left_m <= step_m and step_m > 0:
            share = left_m / step_m
            heading = ((b[0] - a[0]) / step_m, (b[1] - a[1]) / step_m)
            return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])), heading
        left_m -= step_m
    a, b = line[-2], line[-1]
    step_m = math.dist(a, b)
    return b, ((b[0] - a[0]) / step_m, (b[1] - a[1]) / step_m)


def distance_to_segment_m(point: Point, a: Point, b: Point) -> float:
    """Shortest distance from a point to the straight piece between a and b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    squared = dx * dx + dy * dy
    share = 0.0 if squared == 0 else ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / squared
    share = min(1.0, max(0.0, share))
    return math.hypot(point[0] - a[0] - share * dx, point[1] - a[1] - share * dy)


def inside(point: Point, ring: Sequence[Point]) -> bool:
    """Whether a point lies inside a ring of corners (first corner not repeated), by counting crossings."""
    x, y = point
    odd = False
    for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            odd = not odd
    return odd


def middle(points: Sequence[Point]) -> Point:
    """The mean of some points."""
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


class NearLines:
    """Answers how near a point is to any of many lines, by looking only at the squares around it."""

    def __init__(self, lines: Iterable[Sequence[Point]], *, square_m: float = 40.0) -> None:
        self._square_m = square_m
        self._squares: dict[tuple[int, int], list[tuple[Point, Point]]] = defaultdict(list)
        for line in lines:
            for a, b in itertools.pairwise(line):
                steps = int(math.dist(a, b) / (square_m / 2)) + 1
                cells = {
                    self._square((a[0] + (b[0] - a[0]) * i / steps, a[1] + (b[1] - a[1]) * i / steps))
                    for i in range(steps + 1)
                }
                for cell in cells:
                    self._squares[cell].append((a, b))

    def _square(self, point: Point) -> tuple[int, int]:
        return math.floor(point[0] / self._square_m), math.floor(point[1] / self._square_m)

    def within(self, point: Point, distance_m: float) -> bool:
        """Whether some line passes nearer than distance_m, which must not be above half a square."""
        column, row = self._square(point)
        return any(
            distance_to_segment_m(point, a, b) < distance_m
            for i in (column - 1, column, column + 1)
            for j in (row - 1, row, row + 1)
            for a, b in self._squares.get((i, j), ())
        )
