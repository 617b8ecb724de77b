"""Longitude and latitude out of one cell or two, and whether they can be right."""

import re

from sugarbush.trees.reading.mapping import PositionOrder
from sugarbush.trees.reading.place import NORTHERNMOST_TOWN_DEG, SOUTHERNMOST_TOWN_DEG, Box

LONGEST_CELL = 1_000
_NUMBER = r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?"
_POINT = re.compile(
    rf"(?:SRID=4326;)?\s*(?:MULTI)?POINT\s*(?:ZM|Z|M)?\s*\(+\s*({_NUMBER})\s+({_NUMBER})(?:\s+{_NUMBER})*\s*\)+\Z",
    re.IGNORECASE,
)
_JSON_POINT = re.compile(rf'\{{.*"coordinates"\s*:\s*\[+\s*({_NUMBER})\s*,\s*({_NUMBER})[^\[\]]*\]+.*\}}\Z', re.DOTALL)
# A bare pair must have decimals: "5,5" is a decimal comma, not a place.
_PAIR = re.compile(r"[(\[]?\s*([-+]?\d+\.\d+)\s*[,;\s]\s*([-+]?\d+\.\d+)\s*[)\]]?\Z")
_COMMA_PAIR = re.compile(r"[(\[]?\s*([-+]?\d+,\d+)\s*[;\s]\s*([-+]?\d+,\d+)\s*[)\]]?\Z")


def read_position(text: str, order: PositionOrder) -> tuple[str, str] | None:
    """Longitude and latitude, as texts, of a position cell; None when it is not understood.

    order: of a bare pair. A POINT (and a GeoJSON point) has longitude first by its standard.

    >>> read_position("POINT (-79.38 43.65)", "lon lat"), read_position("(43.65, -79.38)", "lat lon")
    (('-79.38', '43.65'), ('-79.38', '43.65'))
    """
    bare = " ".join(text.split())  # a cell full of blanks would keep the patterns busy for minutes
    if len(bare) > LONGEST_CELL:
        return None
    if match := _POINT.match(bare) or _JSON_POINT.match(bare):
        return match[1], match[2]
    if match := _PAIR.match(bare) or _COMMA_PAIR.match(bare):
        first, second = match[1].replace(",", "."), match[2].replace(",", ".")
        return (first, second) if order == "lon lat" else (second, first)
    return None


def read_degrees(text: str) -> float | None:
    """Degrees with either decimal mark; None for anything that is not a plain number.

    >>> read_degrees("-79,38"), read_degrees("north")
    (-79.38, None)
    """
    bare = text.strip()
    if bare.count(",") == 1 and "." not in bare:
        bare = bare.replace(",", ".")
    if "_" in bare:
        return None
    try:
        value = float(bare)
    except ValueError:
        return None
    return value if abs(value) < float("inf") else None


def wrong_with(longitude_deg: float, latitude_deg: float, box: Box | None) -> str:
    """The reason code for a position that cannot be right, "" for one that can.

    Swapped columns are told, never quietly mended: a swapped row may be wrong in more than its order.
    """
    in_range = abs(longitude_deg) <= 180 and abs(latitude_deg) <= 90
    turned_in_range = abs(latitude_deg) <= 180 and abs(longitude_deg) <= 90
    if longitude_deg == 0 and latitude_deg == 0:
        return "coordinates_missing"
    if box is not None:
        if in_range and box.holds(longitude_deg, latitude_deg):
            return ""
        if turned_in_range and box.holds(latitude_deg, longitude_deg):
            return "coordinates_swapped"
        if not in_range:
            return "coordinates_swapped" if turned_in_range else "coordinates_out_of_range"
        if box.holds(-longitude_deg, latitude_deg) or box.holds(longitude_deg, -latitude_deg):
            return "sign_missing"
        return "outside_box"
    if not in_range:
        return "coordinates_swapped" if turned_in_range else "coordinates_out_of_range"
    if _could_be_a_town(latitude_deg):
        return ""
    return "coordinates_swapped" if turned_in_range and _could_be_a_town(longitude_deg) else ""


def _could_be_a_town(latitude_deg: float) -> bool:
    return SOUTHERNMOST_TOWN_DEG <= latitude_deg <= NORTHERNMOST_TOWN_DEG
