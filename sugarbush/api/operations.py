"""Every address programs may ask, written once: the doors check by this table, the OpenAPI document is made of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

JSON, GEOJSON, PROBLEM = "application/json", "application/geo+json", "application/problem+json"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
MOST, USUAL = 5_000, 500
LARGEST_NUMBER = 2**53 - 1

SCOPES: dict[str, StrOrPromise] = {
    "trees": _("trees: place, kind, trunk, state, group, as on the list of trees"),
    "totals": _("totals of each season, by day, group, kind and tree"),
    "entries": _("entries: what was collected, when, where and by whom"),
}
"""What a token may be for. Within it, a program reads what its person may open, group walls included."""


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One address. query and path: the names it takes, with their schemas. scope: empty needs no token."""

    key: str
    path: str
    summary: str
    answer: str
    scope: str = ""
    media_type: str = JSON
    query: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    in_path: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


LIMIT = {
    "description": f"So many at once, {USUAL} without.",
    "schema": {"type": "integer", "minimum": 1, "maximum": MOST, "default": USUAL},
}
AFTER_NUMBER = {
    "description": "Go on after this one; the next link holds it.",
    "schema": {"type": "integer", "minimum": 0, "maximum": LARGEST_NUMBER},
}
AFTER_ENTRY = {
    "description": "Go on after this entry; the next link holds it.",
    "schema": {"type": "string", "format": "uuid"},
}
BBOX = {
    "description": "West, south, east, north in degrees (WGS 84, longitude first), or six numbers with heights, which "
    "are not looked at. Where west is greater than east, the box crosses the 180th meridian.",
    "schema": {"type": "array", "items": {"type": "number"}, "oneOf": [
        {"minItems": 4, "maxItems": 4}, {"minItems": 6, "maxItems": 6}]},
    "style": "form",
    "explode": False,
}  # fmt: skip
DATETIME = {
    "description": "A moment or an interval (RFC 3339; “..” or nothing for an open end): trees written down then.",
    "schema": {"type": "string"},
}
CODE = {"description": "The tag of the tree.", "schema": {"type": "string", "minLength": 1, "maxLength": 16}}
YEAR = {"description": "The year of the season.", "schema": {"type": "integer", "minimum": 1, "maximum": 9999}}
PAGE = {"limit": LIMIT, "after": AFTER_NUMBER}

OPERATIONS: tuple[Operation, ...] = (
    Operation(key="api", path="/api/", summary="Where everything is", answer="LandingPage"),
    Operation(key="api-conformance", path="/api/conformance", summary="Which standards are met", answer="Conformance"),
    Operation(
        key="api-openapi", path="/api/openapi.json", summary="This document", answer="Document", media_type=OPENAPI
    ),
    Operation(
        key="api-collections",
        path="/api/collections",
        summary="What there are features of",
        answer="Collections",
        scope="trees",
    ),
    Operation(
        key="api-trees",
        path="/api/collections/trees",
        summary="The trees as a collection",
        answer="Collection",
        scope="trees",
    ),
    Operation(
        key="api-tree-items",
        path="/api/collections/trees/items",
        summary="Trees you may see, page by page",
        answer="Trees",
        scope="trees",
        media_type=GEOJSON,
        query={"bbox": BBOX, "datetime": DATETIME, **PAGE},
    ),
    Operation(
        key="api-tree-item",
        path="/api/collections/trees/items/{featureId}",
        summary="One tree",
        answer="Tree",
        scope="trees",
        media_type=GEOJSON,
        in_path={"featureId": CODE},
    ),
    Operation(key="api-seasons", path="/api/seasons", summary="The seasons", answer="Seasons", scope="totals"),
    Operation(
        key="api-season-totals",
        path="/api/seasons/{year}/totals",
        summary="What a season gave, in whole millilitres, as its page shows it",
        answer="Totals",
        scope="totals",
        in_path={"year": YEAR},
    ),
    Operation(
        key="api-season-entries",
        path="/api/seasons/{year}/entries",
        summary="The entries of a season you may open, in the order in which they happened",
        answer="Entries",
        scope="entries",
        query={"limit": LIMIT, "after": AFTER_ENTRY},
        in_path={"year": YEAR},
    ),
)
BY_KEY = {operation.key: operation for operation in OPERATIONS}
