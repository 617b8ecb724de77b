"""A very large tree list for timing imports and map views: the same columns, made quickly, nothing kept in memory."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator

from sugarbush.demo.ground import CENTRE_LATITUDE_DEG, CENTRE_LONGITUDE_DEG, METRES_PER_DEGREE
from sugarbush.demo.inventory import SEED, Row
from sugarbush.demo.species_mix import ALL_KINDS

_STREET_APART_M = 90.0
_TREES_APART_M = 9.0
_KERB_M = 5.0


def iter_inventory(rows: int = 700_000, seed: int = SEED, *, bad_every: int = 0) -> Iterator[Row]:
    """Rows of a big town on a plain grid, all sound unless bad_every is given.

    bad_every: where above 0, every so-manieth row has its longitude and latitude changed over, so that
    ``rows // bad_every`` of them cannot be taken.
    """
    rng = random.Random(seed)  # noqa: S311
    stock = [
        (kind.botanical, kind.common, str(max(2, round(kind.usual_in * math.exp(rng.gauss(0, kind.spread))))))
        for kind in rng.choices(ALL_KINDS, [kind.weight for kind in ALL_KINDS], k=8191)
    ]
    # As many streets as make the town about square: a street of n metres holds 2 n / 9 trees.
    streets = max(1, round(math.sqrt(rows * _TREES_APART_M / 2 / _STREET_APART_M)))
    on_a_street = math.ceil(rows / streets / 2) * 2
    east_deg = _TREES_APART_M / (METRES_PER_DEGREE * math.cos(math.radians(CENTRE_LATITUDE_DEG)))
    west_deg = CENTRE_LONGITUDE_DEG - east_deg * on_a_street / 4
    south_deg = CENTRE_LATITUDE_DEG - streets * _STREET_APART_M / 2 / METRES_PER_DEGREE
    for index in range(rows):
        street, place = divmod(index, on_a_street)
        along, side = divmod(place, 2)
        botanical, common, trunk_in = stock[(index * 31 + street) % 8191]
        longitude = f"{west_deg + (along + 0.3 * rng.random()) * east_deg:.7f}"
        north_m = street * _STREET_APART_M + (_KERB_M if side else -_KERB_M)
        latitude = f"{south_deg + north_m / METRES_PER_DEGREE:.7f}"
        if bad_every and (index + 1) % bad_every == 0:
            longitude, latitude = latitude, longitude
        yield {
            "TREE_NO": f"{index + 1:06d}",
            "BOTANICAL": botanical,
            "COMMON": common,
            "TRUNK_IN": trunk_in,
            "ADDRESS": f"{2 * (along * 9 // 14) + 2 - side} Row {street + 1}",
            "SIDE": "N" if side else "S",
            "NTH": str(1 + along % 2),
            "SITE": "Street",
            "CONDITION": "Good",
            "LON": longitude,
            "LAT": latitude,
            "SURVEYED": "2022-07-01",
            "REMARKS": "",
        }
