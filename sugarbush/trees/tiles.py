"""Where a tree lies, as one number: the zoom-17 web-mercator tile with its bits interleaved.

Trees near each other get numbers near each other, so a view of the map is a handful of numbers in one index.
Source: the spherical web-mercator tile scheme (EPSG:3857); interleaving is Morton order, common practice, no source.
"""

from __future__ import annotations

import math

ZOOM = 17
SIDE = 1 << ZOOM
MAX_LATITUDE_DEG = 85.0511287798066


def tile_of(*, longitude_deg: float, latitude_deg: float) -> tuple[int, int]:
    """Column and row of the zoom-17 tile that holds the position; the map's edge belongs to the last tile.

    >>> tile_of(longitude_deg=0.0, latitude_deg=0.0)
    (65536, 65536)
    """
    latitude_deg = max(-MAX_LATITUDE_DEG, min(MAX_LATITUDE_DEG, latitude_deg))
    column = int((longitude_deg + 180.0) / 360.0 * SIDE)
    row = int((1.0 - math.asinh(math.tan(math.radians(latitude_deg))) / math.pi) / 2.0 * SIDE)
    return max(0, min(SIDE - 1, column)), max(0, min(SIDE - 1, row))


def _spread(value: int) -> int:
    """Put a zero bit between the bits of a 17-bit number."""
    value = (value | value << 16) & 0x0000FFFF0000FFFF
    value = (value | value << 8) & 0x00FF00FF00FF00FF
    value = (value | value << 4) & 0x0F0F0F0F0F0F0F0F
    value = (value | value << 2) & 0x3333333333333333
    return (value | value << 1) & 0x5555555555555555


def interleave(column: int, row: int) -> int:
    """The 34-bit number of a tile.

    >>> interleave(1, 0), interleave(0, 1), interleave(3, 3)
    (1, 2, 15)
    """
    return _spread(column) | _spread(row) << 1


def t17(*, longitude_deg: float, latitude_deg: float) -> int:
    """The tile number kept with every tree."""
    column, row = tile_of(longitude_deg=longitude_deg, latitude_deg=latitude_deg)
    return interleave(column, row)


def tiles_of_box(*, west: float, south: float, east: float, north: float) -> list[int]:
    """Numbers of all zoom-17 tiles that touch the box (degrees)."""
    left, top = tile_of(longitude_deg=west, latitude_deg=north)
    right, bottom = tile_of(longitude_deg=east, latitude_deg=south)
    return [interleave(c, r) for r in range(top, bottom + 1) for c in range(left, right + 1)]


def ranges_of_box(*, west: float, south: float, east: float, north: float, most: int = 64) -> list[tuple[int, int]]:
    """The box as at most `most` closed spans of tile numbers, of coarser tiles when the box is large."""
    for shift in range(ZOOM + 1):
        left, top = (v >> shift for v in tile_of(longitude_deg=west, latitude_deg=north))
        right, bottom = (v >> shift for v in tile_of(longitude_deg=east, latitude_deg=south))
        if (right - left + 1) * (bottom - top + 1) <= most:
            break
    spans: list[tuple[int, int]] = []
    for number in sorted(interleave(c, r) for r in range(top, bottom + 1) for c in range(left, right + 1)):
        first, last = number << 2 * shift, (number + 1 << 2 * shift) - 1
        if spans and spans[-1][1] + 1 == first:
            spans[-1] = (spans[-1][0], last)
        else:
            spans.append((first, last))
    return spans


def metres_between(*, lon1: float, lat1: float, lon2: float, lat2: float) -> float:
    """Distance in metres, good to a per cent over a town (equirectangular, earth radius 6,371,009 m, IUGG mean)."""
    x = math.radians(lon2 - lon1) * math.cos(math.radians((lat1 + lat2) / 2))
    return 6_371_009.0 * math.hypot(x, math.radians(lat2 - lat1))
