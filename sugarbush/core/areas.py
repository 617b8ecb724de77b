"""Areas for the public page: a fixed grid over the whole Earth, and which of its cells may be shown.

The grid has one fixed origin (the South Pole, the date line) and asks nothing but the place: no map, no zoom, no
programme moves it. So two answers about the same tree are the same cell for ever, and laying several over each other
narrows nothing down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, pi, radians
from typing import TypeVar

from sugarbush.core.errors import check_range
from sugarbush.core.rounds import EARTH_M, Place

LEAST_SIDE_M = 250.0
LEAST_TREES = 3
ROWS_A_DEGREE = 440
"""1/440 of a degree of latitude: 251.3 m on WGS 84 at the equator, where a degree is shortest, and more elsewhere."""

BANDS = ((3, 5), (6, 10), (11, 20), (21, 50), (51, 100))
"""How many trees a cell is said to have; above the last, "more than"."""

Key = TypeVar("Key")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Area:
    """One cell of the grid, by its row from the South Pole and its column from the date line; edges in degrees."""

    row: int
    column: int
    south_deg: float
    west_deg: float
    north_deg: float
    east_deg: float


def area_of(place: Place) -> Area:
    """The cell a place lies in.

    Rows are 1/440 of a degree high. Columns are counted anew in each whole degree of latitude: as many as go round the
    Earth with 250 m each at that band's edge nearer the pole, so that no cell is narrower anywhere. The last row
    belongs to the pole, the last column to the date line.
    Source: sphere of 6,371.0088 km, where a degree of longitude is shorter than on WGS 84 [C].

    >>> here = area_of(Place(longitude_deg=-87.35, latitude_deg=47.05))
    >>> here.row, here.column, round(here.north_deg - here.south_deg, 5), round(here.east_deg - here.west_deg, 5)
    (60302, 27573, 0.00227, 0.00336)
    """
    row = min(int((place.latitude_deg + 90) * ROWS_A_DEGREE), 180 * ROWS_A_DEGREE - 1)
    columns = columns_in(band_deg=row // ROWS_A_DEGREE - 90)
    column = min(int((place.longitude_deg + 180) / 360 * columns), columns - 1)
    return Area(
        row=row,
        column=column,
        south_deg=row / ROWS_A_DEGREE - 90,
        west_deg=column / columns * 360 - 180,
        north_deg=(row + 1) / ROWS_A_DEGREE - 90,
        east_deg=(column + 1) / columns * 360 - 180,
    )


def columns_in(*, band_deg: int) -> int:
    """How many cells go round the Earth between this whole degree of latitude and the next.

    band_deg: -90 to 89.  Raises OutOfRange.  Source: as area_of.

    >>> columns_in(band_deg=0), columns_in(band_deg=47), columns_in(band_deg=89)
    (160096, 107141, 1)
    """
    check_range(band_deg, low=-90, high=89, quantity="latitude", unit="°")
    nearer_the_pole = max(abs(band_deg), abs(band_deg + 1))
    around_m = 2 * pi * EARTH_M * cos(radians(nearer_the_pole))
    return max(1, int(around_m / LEAST_SIDE_M))


def shown_areas(trees: Mapping[Key, int], *, least: int = LEAST_TREES) -> dict[Key, int]:
    """Which cells may be shown, with their trees.

    trees: trees by cell.  least: fewer trees than these are never shown, above 1.

    Where the trees left out are fewer than `least`, or all stand in one cell, the smallest cell shown is left out as
    well: a reader who knows the whole would otherwise know what that one cell holds. Of equals the last goes, so the
    same counts give the same answer. Nothing at all is shown where that ends with no cell.
    Raises OutOfRange for a `least` below 2.  Source: primary and complementary suppression, common practice.

    >>> shown_areas({"a": 9, "b": 4, "c": 2})  # c alone would be "the whole less 13"
    {'a': 9}
    >>> shown_areas({"a": 9, "b": 4, "c": 2, "d": 2}), shown_areas({"a": 9, "b": 4}), shown_areas({"a": 3, "c": 1})
    ({'a': 9, 'b': 4}, {'a': 9, 'b': 4}, {})
    """
    check_range(least, low=2, high=1_000, quantity="trees", unit="")
    shown = {key: count for key, count in trees.items() if count >= least}
    hidden = [count for count in trees.values() if 0 < count < least]
    while shown and hidden and (len(hidden) < 2 or sum(hidden) < least):
        smallest = min(reversed(shown), key=lambda key: shown[key])
        hidden.append(shown.pop(smallest))
    return shown


def band_of(trees: int) -> tuple[int, int | None]:
    """Between which two numbers the trees of a shown cell are; the upper is None above the last.

    trees: at least 3.  Raises OutOfRange.  Single trees that come or go then seldom show.

    >>> band_of(3), band_of(20), band_of(400)
    ((3, 5), (11, 20), (101, None))
    """
    check_range(trees, low=LEAST_TREES, high=10_000_000, quantity="trees", unit="")
    for low, high in BANDS:
        if trees <= high:
            return low, high
    return BANDS[-1][1] + 1, None
