"""The public grid: always the same cell, never narrower than 250 m, and no small cell shown or to be worked out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import areas
from sugarbush.core.errors import OutOfRange
from sugarbush.core.rounds import Place

LONGITUDES = st.floats(-180, 180, allow_nan=False)
LATITUDES = st.floats(-88.9, 88.9, allow_nan=False)


def metres(south: float, west: float, north: float, east: float) -> float:
    """A haversine of its own, on the sphere of the Earth's smaller half axis: never more than the true distance."""
    up, over = math.radians(north - south) / 2, math.radians(east - west) / 2
    h = math.sin(up) ** 2 + math.cos(math.radians(south)) * math.cos(math.radians(north)) * math.sin(over) ** 2
    return 2 * 6_356_752.3 * math.asin(math.sqrt(h))


@given(longitude=LONGITUDES, latitude=LATITUDES, right=st.floats(0, 0.999), up=st.floats(0, 0.999))
def test_every_place_of_a_cell_is_in_that_cell_which_is_250_m_or_more_both_ways(
    longitude: float, latitude: float, right: float, up: float
) -> None:
    cell = areas.area_of(Place(longitude_deg=longitude, latitude_deg=latitude))
    assert cell.west_deg - 1e-9 <= longitude <= cell.east_deg + 1e-9
    assert cell.south_deg - 1e-9 <= latitude <= cell.north_deg + 1e-9
    # A hair inside the edges, where rounding decides nothing.
    inside = 1e-6
    other = Place(
        longitude_deg=cell.west_deg + (cell.east_deg - cell.west_deg) * (inside + right * (1 - 2 * inside)),
        latitude_deg=cell.south_deg + (cell.north_deg - cell.south_deg) * (inside + up * (1 - 2 * inside)),
    )
    assert areas.area_of(other) == cell
    assert metres(cell.south_deg, cell.west_deg, cell.north_deg, cell.west_deg) >= 250
    for edge in (cell.south_deg, cell.north_deg):
        # 250 m on the mean sphere; the smaller one is 0.23 % short of it.
        assert metres(edge, cell.west_deg, edge, cell.east_deg) >= 250 * 6_356_752.3 / 6_371_008.8 - 1e-6


def test_the_ends_of_the_earth_have_their_cells() -> None:
    ends = [areas.area_of(Place(longitude_deg=x, latitude_deg=y)) for x in (-180, 180) for y in (-90, 90)]
    assert [(cell.row, cell.column) for cell in ends] == [(0, 0), (79_199, 0), (0, 0), (79_199, 0)]
    assert areas.area_of(Place(longitude_deg=180, latitude_deg=0.5)).column == areas.columns_in(band_deg=0) - 1


@given(st.dictionaries(st.integers(0, 60), st.integers(0, 12)), st.integers(2, 6))
def test_no_small_cell_is_shown_and_what_is_left_out_is_no_single_cell(trees: dict[int, int], least: int) -> None:
    shown = areas.shown_areas(trees, least=least)
    assert all(trees[cell] == count >= least for cell, count in shown.items())
    hidden = [count for cell, count in trees.items() if cell not in shown and count]
    assert not shown or not hidden or (len(hidden) >= 2 and sum(hidden) >= least)
    # No more is left out than that asks for: with the last one back, the rest could be worked out.
    spare = [count for count in hidden if count >= least]
    if spare and shown:
        rest = sorted(hidden)
        rest.remove(max(spare))
        assert len(rest) < 2 or sum(rest) < least


def test_trees_are_told_in_bands_and_never_below_three() -> None:
    assert [areas.band_of(n) for n in (3, 5, 6, 10, 11, 50, 51, 100, 101)] == [
        (3, 5), (3, 5), (6, 10), (6, 10), (11, 20), (21, 50), (51, 100), (51, 100), (101, None),
    ]  # fmt: skip
    with pytest.raises(OutOfRange):
        areas.band_of(2)
    with pytest.raises(OutOfRange):
        areas.shown_areas({}, least=1)
