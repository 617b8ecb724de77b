"""Places as maps and handhelds take them: GeoJSON (RFC 7946), GPX 1.1, and `geo:` addresses (RFC 5870)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import orjson

from sugarbush.parts.sheets.cells import escaped, legal

GEOJSON_TYPE, GPX_TYPE = "application/geo+json", "application/gpx+xml"
PLACES = ("geojson", "gpx")
"""The kinds of file, as the address of a list names them."""
DIGITS = 7
"""Digits after the point of a degree: a centimetre, more than any of our places is known to."""
AT_ONCE = 200

_GPX_START = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx version="1.1" creator="Sugarbush" xmlns="http://www.topografix.com/GPX/1/1"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"'
    ' xsi:schemaLocation="http://www.topografix.com/GPX/1/1 http://www.topografix.com/GPX/1/1/gpx.xsd">\n'
)


@dataclass(frozen=True, kw_only=True)
class Spot:
    """One place: degrees in WGS 84, its name, a few words, and what else is known of it."""

    key: int | str
    longitude_deg: float
    latitude_deg: float
    name: str
    words: str = ""
    more: dict[str, Any] = field(default_factory=dict)


def geo_address(longitude_deg: float, latitude_deg: float) -> str:
    """The address that opens a place in the phone's own map: latitude first (RFC 5870, 3.3).

    >>> geo_address(-87.35, 47.05)
    'geo:47.05,-87.35'
    """
    return f"geo:{_degrees(latitude_deg)},{_degrees(longitude_deg)}"


def _degrees(value: float) -> str:
    """A number of degrees without an exponent or needless noughts.

    >>> _degrees(-87.35), _degrees(0.00001), _degrees(12.0)
    ('-87.35', '0.00001', '12')
    """
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def geojson(spots: Iterable[Spot], *, line: bool = False) -> Iterator[bytes]:
    """A collection of points, in pieces. line: a last feature joins them in their order, for a way on foot."""
    yield b'{"type":"FeatureCollection","features":['
    way: list[list[float]] = []
    first, piece = True, bytearray()
    for count, spot in enumerate(spots, start=1):
        place = [round(spot.longitude_deg, DIGITS), round(spot.latitude_deg, DIGITS)]
        piece += _feature(spot.key, "Point", place, {"name": spot.name, **spot.more}, first)
        first = False
        if line:
            way.append(place)
        if count % AT_ONCE == 0:
            yield bytes(piece)
            piece.clear()
    if len(way) > 1:
        piece += _feature("way", "LineString", way, {"straight_lines": True}, first)
    yield bytes(piece) + b"\n]}\n"


def _feature(key: int | str, kind: str, coordinates: Any, properties: dict[str, Any], first: bool) -> bytes:
    feature = {
        "type": "Feature",
        "id": key,
        "geometry": {"type": kind, "coordinates": coordinates},
        "properties": properties,
    }
    return (b"\n" if first else b",\n") + orjson.dumps(feature, default=str)


def gpx(title: str, spots: Iterable[Spot], *, route: bool = False) -> Iterator[bytes]:
    """Waypoints, in pieces. route: the same places once more as a route, in their order (held in memory)."""
    yield (_GPX_START + f"<metadata><name>{_text(title)}</name></metadata>\n").encode()
    kept: list[Spot] = []
    piece: list[str] = []
    for spot in spots:
        piece.append(_point("wpt", spot))
        if route:
            kept.append(spot)
        if len(piece) >= AT_ONCE:
            yield "".join(piece).encode()
            piece = []
    yield "".join(piece).encode()
    if kept:
        points = "".join(_point("rtept", spot) for spot in kept)
        yield f"<rte><name>{_text(title)}</name>\n{points}</rte>\n".encode()
    yield b"</gpx>\n"


def _point(tag: str, spot: Spot) -> str:
    words = f"<desc>{_text(spot.words)}</desc>" if spot.words else ""
    place = f'lat="{_degrees(spot.latitude_deg)}" lon="{_degrees(spot.longitude_deg)}"'
    return f"<{tag} {place}><name>{_text(spot.name)}</name>{words}</{tag}>\n"


def _text(text: str) -> str:
    return escaped(legal(text))
