"""Trees for a GIS: what OGC API - Features asks for, the same rows as the list of trees, and not one more."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from sugarbush.trees.models import Tree
from sugarbush.trees.queries import trees_for
from tests import make
from tests.api.asking import PROBLEM, Program

pytestmark = pytest.mark.django_db
ITEMS = "api-tree-items"


def test_a_gis_finds_its_way_from_the_landing_page():
    make.programme()
    nobody, bob = Program(None), Program(make.bob())
    landing = nobody.read("api")
    ways = {link["rel"]: link["href"] for link in landing["links"]}
    assert {"self", "service-desc", "conformance", "data"} <= ways.keys()
    assert all(href.startswith("http://testserver/api/") for href in ways.values())
    assert nobody.read("api-conformance")["conformsTo"] == [
        f"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/{name}" for name in ("core", "oas30", "geojson")
    ]
    described = nobody.ask("api-openapi")
    assert described["Content-Type"] == "application/vnd.oai.openapi+json;version=3.0"
    assert described.json()["servers"] == [{"url": "http://testserver"}]
    assert nobody.ask("api-collections").status_code == 401
    assert bob.read("api-collections")["collections"][0]["extent"] == {}
    make.tree(group=make.group())
    (one,) = bob.read("api-collections")["collections"]
    assert one == bob.read("api-trees")
    assert (one["id"], one["itemType"], len(one["extent"]["spatial"]["bbox"][0])) == ("trees", "feature", 4)
    assert [link["type"] for link in one["links"] if link["rel"] == "items"] == ["application/geo+json"]


def test_the_same_trees_as_on_the_list_page_by_page():
    north = [make.tree(group=make.group()) for _n in range(5)]
    make.tree(group=make.group("Mill Race"))
    alone = make.tree(group=None)
    make.tree(group=make.group(), merged_into=north[0])
    program = Program(make.bob())
    found = program.pages(ITEMS, rows="features", limit=2)
    assert [one["id"] for one in found] == [tree.code for tree in (*north, alone)]
    assert {one["id"] for one in found} == set(trees_for(make.bob()).values_list("code", flat=True))
    assert len(Program(make.alice()).pages(ITEMS, rows="features")) == 7
    whole = program.ask(ITEMS)
    assert whole["Content-Type"] == "application/geo+json"
    body = whole.json()
    assert (body["numberMatched"], body["numberReturned"], body["type"]) == (6, 6, "FeatureCollection")
    assert [link["rel"] for link in body["links"]] == ["self"]
    feature = body["features"][0]
    assert feature["geometry"] == {"type": "Point", "coordinates": [north[0].longitude, north[0].latitude]}
    assert (feature["properties"]["diameter_um"], feature["properties"]["group"]) == (
        north[0].diameter_um,
        "North Bank",
    )
    item = program.ask("api-tree-item", north[0].code)
    assert item["Content-Type"] == "application/geo+json"
    assert {link["rel"] for link in item.json()["links"]} == {"self", "alternate", "collection"}
    assert item.json()["properties"] == feature["properties"]
    hidden = Tree.objects.get(group__name="Mill Race")
    for code in (hidden.code, "QH-999999", "x"):
        gone = program.ask("api-tree-item", code)
        assert (gone.status_code, gone["Content-Type"], gone.json()["status"]) == (404, PROBLEM, 404)


def test_a_box_and_a_time_narrow_and_what_is_not_understood_is_said():
    day = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
    places = {"a": (-87.35, 47.05), "b": (-87.30, 47.05), "c": (179.9, -16.0), "d": (-179.9, -16.0)}
    codes = {}
    for nth, (name, (longitude, latitude)) in enumerate(places.items()):
        tree = make.tree(group=None, longitude=longitude, latitude=latitude)
        Tree.objects.filter(pk=tree.pk).update(added_at=day + dt.timedelta(days=nth, microseconds=nth))
        codes[tree.code] = name
    program = Program(make.alice())

    def names(**query: str) -> str:
        return "".join(codes[one["id"]] for one in program.pages(ITEMS, rows="features", limit=1, **query))

    assert names(bbox="-180,-90,180,90") == "abcd"
    assert names(bbox="-87.36,47,-87.34,47.1") == "a"
    assert names(bbox="-87.35,47.05,-87.30,47.05") == "ab"  # the edges are inside
    assert names(bbox="-87.36,47,-10,-87.34,47.1,900") == "a"
    assert names(bbox="170,-20,-170,-10") == "cd"
    assert names(bbox="10,10,11,11") == ""
    assert names(datetime="2026-03-01T12:00:00Z") == "a"
    assert names(datetime="2026-03-02") == "b"
    assert names(datetime="2026-03-02T12:00:00Z/2026-03-03T12:00:00Z") == "bc"
    assert names(datetime="../2026-03-02T13:00:00+01:00") == "ab"
    assert names(datetime="2026-03-03/") == "cd"
    assert names(datetime="2026-03-01/..", bbox="-180,0,0,90") == "ab"
    wrong = [
        {"bbox": "1,2,3"}, {"bbox": "a,b,c,d"}, {"bbox": "nan,0,1,1"}, {"bbox": "0,1,1,0"}, {"bbox": "-181,0,1,1"},
        {"bbox": "0,0,1,inf"}, {"bbox": ""}, {"limit": "0"}, {"limit": "-1"}, {"limit": "5001"}, {"limit": "ten"},
        {"limit": "1e3"}, {"limit": "٣"}, {"after": "x"}, {"after": "9" * 30}, {"datetime": "yesterday"},
        {"datetime": ""},
        {"datetime": "../.."}, {"datetime": "2026-02-30"}, {"datetime": "2026-03-02/2026-03-01"}, {"datetime": "1/2/3"},
        {"datetime": "2026-03-01T12:00:00"}, {"datetime": "0001-01-01T00:00:00+14:00"}, {"bbox-crs": "x"},
        {"f": "html"},
    ]  # fmt: skip
    for query in wrong:
        answer = program.ask(ITEMS, **query)
        assert (answer.status_code, answer["Content-Type"]) == (400, PROBLEM), query
        assert answer.json()["detail"], query
    assert program.ask(f"{reverse(ITEMS)}?limit=1&limit=2").status_code == 400
