"""The way of a round as a line: north up, both directions to one scale, numbers where there is room for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, radians

EARTH_M = 6_371_008.8
LEAST_SPAN_M = 60.0
EDGE_PX = 26.0
FOOT_PX = 34.0
CLEAR_PX = 19.0
LEAST_HIGH_PX, MOST_HIGH_PX = 130.0, 520.0
STEPS = (10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 20_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One tree. number: its place on the way from 1; numbered: whether there is room to write it."""

    number: int
    x_px: float
    y_px: float
    numbered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WayMap:
    """The picture. path: the line through all stops.  scale_px: the length of scale_m metres (or feet)."""

    stops: tuple[Stop, ...]
    path: str
    width_px: int
    height_px: int
    px_per_m: float
    scale_px: float
    scale_length: int


def draw(places: Sequence[tuple[float, float]], *, width_px: int, unit_m: float = 1.0) -> WayMap | None:
    """Place the stops. places: (longitude, latitude) in degrees, in walking order.  unit_m: metres of the scale's unit.

    Flat within the picture: the cosine of the middle's latitude narrows it, which is exact enough for a few kilometres.
    None without a place.
    """
    if not places:
        return None
    degree_m = EARTH_M * pi / 180
    narrow = cos(radians((min(p[1] for p in places) + max(p[1] for p in places)) / 2))
    flat = [(longitude * narrow * degree_m, latitude * degree_m) for longitude, latitude in places]
    west, south = min(p[0] for p in flat), min(p[1] for p in flat)
    wide_m, high_m = max(p[0] for p in flat) - west, max(p[1] for p in flat) - south
    room = width_px - 2 * EDGE_PX
    px = min(room / max(wide_m, LEAST_SPAN_M), (MOST_HIGH_PX - 2 * EDGE_PX) / max(high_m, LEAST_SPAN_M))
    high_px = max(LEAST_HIGH_PX, high_m * px + 2 * EDGE_PX)
    points = [
        (round(width_px / 2 + (x - west - wide_m / 2) * px, 1), round(high_px / 2 - (y - south - high_m / 2) * px, 1))
        for x, y in flat
    ]
    numbered = _with_room(points)
    length = max((step for step in STEPS if step * unit_m * px <= width_px * 0.4), default=STEPS[0])
    return WayMap(
        stops=tuple(
            Stop(number=n, x_px=x, y_px=y, numbered=n - 1 in numbered) for n, (x, y) in enumerate(points, start=1)
        ),
        path="".join(f"{'L' if n else 'M'}{x} {y}" for n, (x, y) in enumerate(points)),
        width_px=width_px,
        height_px=round(high_px + FOOT_PX),
        px_per_m=px,
        scale_px=round(length * unit_m * px, 1),
        scale_length=length,
    )


def _with_room(points: Sequence[tuple[float, float]]) -> set[int]:
    """Which stops can be numbered without two numbers touching: first and last before all others."""
    taken: list[int] = []
    for n in dict.fromkeys([0, len(points) - 1, *range(len(points))]):
        x, y = points[n]
        if all(max(abs(x - points[m][0]), abs(y - points[m][1])) >= CLEAR_PX for m in taken):
            taken.append(n)
    return set(taken)
