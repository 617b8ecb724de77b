"""A small map for paper: our own street lines around some places, and a number at each place."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import cos, hypot, radians
from typing import Any

from django.db.models import F
from django.utils.translation import gettext as _

from sugarbush.trees.models import StreetLine

MOST_LINES = 400
LEAST_SPAN_DEG = 0.0015
"""About 170 m: a map of one tree still shows the street it stands in."""
EDGE = 0.08


def map_of(places: Sequence[tuple[float, float]], *, widest: float = 1.0, tallest: float = 0.75) -> dict[str, Any]:
    """The block of a map on which place n (longitude, latitude) carries the number n + 1. One query.

    tallest: height as a share of the width, at most.
    """
    lon, lat = [p[0] for p in places], [p[1] for p in places]
    middle = ((min(lon) + max(lon)) / 2, (min(lat) + max(lat)) / 2)
    squeeze = max(0.05, cos(radians(middle[1])))  # a degree of longitude is that much shorter than one of latitude
    wide = max((max(lon) - min(lon)) * squeeze, LEAST_SPAN_DEG) * (1 + 2 * EDGE)
    tall = max(max(lat) - min(lat), LEAST_SPAN_DEG * 0.5) * (1 + 2 * EDGE)
    if tall > wide * tallest:
        wide = tall / tallest
    tall = max(tall, wide * 0.4)
    west, north = middle[0] - wide / squeeze / 2, middle[1] + tall / 2

    def at(point: Sequence[float]) -> list[float]:
        return [round((point[0] - west) * squeeze / wide, 4), round((north - point[1]) / tall, 4)]

    box = {"west__lte": west + wide / squeeze, "east__gte": west, "south__lte": north, "north__gte": north - tall}
    near = StreetLine.objects.filter(**box).annotate(span=F("east") - F("west") + F("north") - F("south"))
    lines, names = [], dict[str, dict[str, Any]]()
    for name, raw in near.order_by("-span").values_list("name", "points")[:MOST_LINES]:
        points = [at(point) for point in raw if len(point) >= 2]
        for part in _inside(points):
            lines.append({"points": part})
            if name and name not in names and (spot := _spot(part)):
                names[name] = {"x": spot[0], "y": spot[1], "text": name}
    return {
        "kind": "map",
        "tall": round(tall / wide, 4),
        "lines": lines,
        "names": list(names.values())[:14],
        "marks": [{"x": x, "y": y, "text": str(n)} for n, (x, y) in enumerate(map(at, places), start=1)],
        "north": _("N"),
    }


def _inside(points: list[list[float]]) -> list[list[list[float]]]:
    """The stretches that touch the picture; the frame cuts them."""
    parts: list[list[list[float]]] = []
    open_ = False
    for one, other in pairwise(points):
        reach = [(min(a, b), max(a, b)) for a, b in zip(one, other, strict=True)]
        if all(low <= 1 and high >= 0 for low, high in reach):
            if not open_:
                parts.append([one])
            parts[-1].append(other)
            open_ = True
        else:
            open_ = False
    return parts


def _spot(part: list[list[float]]) -> tuple[float, float] | None:
    """Where the street's name can stand: the middle of its longest stretch, away from the edge."""
    one, other = max(pairwise(part), key=lambda pair: hypot(pair[0][0] - pair[1][0], pair[0][1] - pair[1][1]))
    x, y = (one[0] + other[0]) / 2, (one[1] + other[1]) / 2
    return (x, y) if 0.02 < x < 0.8 and 0.05 < y < 0.97 else None
