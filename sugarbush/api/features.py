"""Trees as GeoJSON features (RFC 7946), and what of them a program asks for: OGC API - Features, Part 1: Core."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _

from sugarbush.api.door import NotUnderstood, link
from sugarbush.desk.map import rows
from sugarbush.desk.map.boxes import Box
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.queries import trees_for
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

COLUMNS = (
    "pk", "code", "longitude", "latitude", "shown_state", "needs_look", "address", "side", "nth", "species__common",
    "species__botanical", "species_sure", "diameter_um", "stems", "land", "group__name", "inventory_source",
    "inventory_number", "added_at",
)  # fmt: skip


def trees_of(person: Person) -> QuerySet[Tree]:
    """The trees on the person's own list of trees: the same rows, the same group walls. Raises PermissionDenied."""
    access.require(person, "trees.see", anywhere=True)
    return trees_for(person)


def moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def feature(row: tuple[Any, ...]) -> dict[str, Any]:
    """One tree, from the values of COLUMNS. Heights, depths and sizes name their unit."""
    kept = dict(zip(COLUMNS, row, strict=True))
    return {
        "type": "Feature",
        "id": kept["code"],
        "geometry": {"type": "Point", "coordinates": [kept["longitude"], kept["latitude"]]},
        "properties": {
            "tag": kept["code"],
            "state": Shown(kept["shown_state"]).mark,
            "needs_look": kept["needs_look"],
            "address": kept["address"],
            "side": kept["side"],
            "nth": kept["nth"],
            "species": kept["species__common"],
            "botanical": kept["species__botanical"],
            "species_sure": kept["species_sure"],
            "diameter_um": kept["diameter_um"],
            "stems": kept["stems"],
            "land": kept["land"],
            "group": kept["group__name"],
            "town_list": kept["inventory_source"],
            "town_number": kept["inventory_number"],
            "added": moment(kept["added_at"]),
        },
    }


def feature_links(request: HttpRequest, code: str) -> list[dict[str, str]]:
    return [
        link(request, "self", "api-tree-item", code, type="application/geo+json"),
        link(request, "alternate", "tree", code, type="text/html"),
        link(request, "collection", "api-trees", type="application/json"),
    ]


def in_box(trees: QuerySet[Tree], said: str | None) -> QuerySet[Tree]:
    """Trees in a box of degrees. Raises NotUnderstood."""
    if said is None:
        return trees
    try:
        numbers = [float(one) for one in said.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) not in {4, 6} or not all(math.isfinite(one) for one in numbers):
        raise NotUnderstood(_("“bbox” is west, south, east, north in degrees, with commas between."))
    half = len(numbers) // 2
    west, south, east, north = numbers[0], numbers[1], numbers[half], numbers[half + 1]
    if south > north or not all(-180 <= one <= 180 for one in (west, east)) or not -90 <= south <= north <= 90:
        raise NotUnderstood(_("“bbox” lies outside the globe, or its south above its north."))
    if west <= east:
        return rows.in_box(trees, Box(west=west, south=south, east=east, north=north))
    across = Q(longitude__gte=west) | Q(longitude__lte=east)
    return trees.filter(across, latitude__gte=south, latitude__lte=north)


def in_time(trees: QuerySet[Tree], said: str | None) -> QuerySet[Tree]:
    """Trees written down at a moment or in an interval. Raises NotUnderstood."""
    if said is None:
        return trees
    ends = said.split("/")
    if len(ends) > 2 or not said or said in {"/", "../..", "../", "/.."}:
        raise _no_time()
    begins = _moment(ends[0], at_end=False)
    until = _moment(ends[-1], at_end=True)
    if begins is None and until is None:
        raise _no_time()
    if begins and until and begins > until:
        raise NotUnderstood(_("“datetime” ends before it begins."))
    if begins:
        trees = trees.filter(added_at__gte=begins)
    return trees.filter(added_at__lte=until) if until else trees


def _no_time() -> NotUnderstood:
    return NotUnderstood(_("“datetime” is a moment like 2026-03-01T12:00:00Z, or two of them with a stroke between."))


def _moment(said: str, *, at_end: bool) -> dt.datetime | None:
    """A moment; a day alone is its first moment, or its last. None for an open end."""
    if said in {"", ".."}:
        return None
    try:
        day = parse_date(said)
        at = parse_datetime(said) if day is None else None
    except ValueError:
        raise _no_time() from None
    if day is not None:
        return dt.datetime.combine(day, dt.time.max if at_end else dt.time.min, dt.UTC)
    if at is None or at.tzinfo is None:
        raise _no_time()
    # What a GIS writes has whole seconds: the moment is that whole second.
    try:
        at = at.astimezone(dt.UTC)
    except OverflowError:
        raise _no_time() from None
    return at.replace(microsecond=999_999) if at_end and at.microsecond == 0 else at
