"""OGC API - Features, Part 1: Core, for one collection: the trees a program's person may see."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.db.models import Max, Min
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from sugarbush import __version__
from sugarbush.api.door import ProgramRequest, after_of, answer, limit_of, link, nothing_here, program
from sugarbush.api.features import COLUMNS, feature, feature_links, in_box, in_time, moment, trees_of
from sugarbush.api.operations import GEOJSON, OPENAPI

CONFORMS_TO = [
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/oas30",
    "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
]
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
COUNTED = 10_000
"""So far matches are counted; of 700,000 trees a count would cost more than the page."""


@program("api")
def landing(request: HttpRequest) -> HttpResponse:
    """Where everything is. Says nothing of the programme, so it needs no token."""
    links = [
        link(request, "self", "api", type="application/json"),
        link(request, "service-desc", "api-openapi", type=OPENAPI),
        link(request, "conformance", "api-conformance", type="application/json"),
        link(request, "data", "api-collections", type="application/json"),
        link(request, "seasons", "api-seasons", type="application/json"),
    ]
    words = "Trees and seasons of a sugarbush programme, for programs with a personal token."
    return answer({"title": "Sugarbush", "description": words, "links": links, "version": __version__})


@program("api-conformance")
def conformance(request: HttpRequest) -> HttpResponse:
    """The standards that are met, and no other."""
    return answer({"conformsTo": CONFORMS_TO})


@program("api-openapi")
def openapi(request: HttpRequest) -> HttpResponse:
    """The description of all this, for programs."""
    from sugarbush.api.document import document

    return answer(document(link(request, "self", "api")["href"].removesuffix("/api/")), media_type=OPENAPI)


def _collection(request: ProgramRequest) -> dict[str, Any]:
    trees = trees_of(request.person).order_by()
    span = trees.aggregate(
        west=Min("longitude"), south=Min("latitude"), east=Max("longitude"), north=Max("latitude"),
        first=Min("added_at"), last=Max("added_at"),
    )  # fmt: skip
    extent: dict[str, Any] = {}
    if span["west"] is not None:
        extent["spatial"] = {"bbox": [[span[side] for side in ("west", "south", "east", "north")]], "crs": CRS84}
        extent["temporal"] = {"interval": [[moment(span["first"]), moment(span["last"])]]}
    return {
        "id": "trees",
        "title": "Trees",
        "description": "The trees on your own list of trees.",
        "itemType": "feature",
        "crs": [CRS84],
        "extent": extent,
        "links": [
            link(request, "self", "api-trees", type="application/json"),
            link(request, "items", "api-tree-items", type=GEOJSON, title="Trees"),
            link(request, "alternate", "trees", type="text/html"),
        ],
    }


@program("api-collections")
def collections(request: ProgramRequest) -> HttpResponse:
    links = [link(request, "self", "api-collections", type="application/json")]
    return answer({"links": links, "collections": [_collection(request)]})


@program("api-trees")
def trees(request: ProgramRequest) -> HttpResponse:
    return answer(_collection(request))


@program("api-tree-items")
def items(request: ProgramRequest) -> HttpResponse:
    """A page of trees, in the order in which they were written down; the next link leads on until there are no more."""
    limit, after = limit_of(request), after_of(request)
    wanted = in_time(in_box(trees_of(request.person), request.GET.get("bbox")), request.GET.get("datetime"))
    found = list(wanted.filter(pk__gt=after).order_by("pk").values_list(*COLUMNS)[: limit + 1])
    more, rows = len(found) > limit, found[:limit]
    links = [link(request, "self", "api-tree-items", query=request.GET.urlencode(), type=GEOJSON)]
    if more:
        query = urlencode({**request.GET.dict(), "after": rows[-1][0]})
        links.append(link(request, "next", "api-tree-items", query=query, type=GEOJSON))
    body = {
        "type": "FeatureCollection",
        "features": [feature(row) for row in rows],
        "links": links,
        "timeStamp": moment(timezone.now()),
        "numberReturned": len(rows),
    }
    matched = wanted.order_by()[: COUNTED + 1].count()
    if matched <= COUNTED:
        body["numberMatched"] = matched
    return answer(body, media_type=GEOJSON)


@program("api-tree-item")
def item(request: ProgramRequest, code: str) -> HttpResponse:
    """One tree. Another group's is not there."""
    row = trees_of(request.person).filter(code=code.upper()).values_list(*COLUMNS).first()
    if row is None:
        raise Http404
    one = feature(row)
    return answer({**one, "links": feature_links(request, one["id"])}, media_type=GEOJSON)


def nothing(request: HttpRequest, rest: str = "") -> HttpResponse:
    """Any other address: in words a program reads too."""
    return nothing_here()
