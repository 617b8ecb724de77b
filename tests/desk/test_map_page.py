"""The map page without its script: the list does all the map does, and walls hold in every answer."""

from __future__ import annotations

import gzip
import json
import re
from typing import Any

import pytest
from django.test import Client

from sugarbush.desk.map import rows, views
from sugarbush.seasons.models import Programme
from sugarbush.taps.gate import gate
from sugarbush.trees.models import Shown, StreetLine, Tree
from sugarbush.trees.tiles import ZOOM, tile_of
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
BOX = {"west": "-87.36", "south": "47.04", "east": "-80", "north": "47.06"}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def tile_with(tree: Tree, zoom: int = 10) -> dict[str, str]:
    column, row = tile_of(longitude_deg=tree.longitude, latitude_deg=tree.latitude)
    return {"z": str(zoom), "x": str(column >> ZOOM - zoom), "y": str(row >> ZOOM - zoom)}


def ids_in(client: Client, tree: Tree, **more: Any) -> set[int]:
    answer = client.get("/map/trees.json", {**tile_with(tree), **more})
    assert answer.status_code == 200
    return {row[0] for row in json.loads(answer.content)["trees"]}


def codes_ticked_or_not(html: str) -> list[str]:
    return re.findall(r'name="codes" value="([^"]+)"', html)


def test_a_stranger_sees_no_map_and_no_tree() -> None:
    tree = make.tree()
    assert Client().get("/map/").status_code == 302
    assert Client().get("/map/trees.json", tile_with(tree)).status_code == 302
    charlie = signed_in(make.charlie())
    for address in ("/map/", "/map/trees.json", f"/map/tree/{tree.code}/", "/map/find/"):
        assert charlie.get(address, tile_with(tree)).status_code == 403


def test_each_group_sees_its_own_trees_and_those_without_a_group() -> None:
    ours, theirs, nobodys = make.tree(), make.tree(group=make.group("Mill Race")), make.tree(group=None)
    bob, alice = signed_in(make.bob()), signed_in(make.alice())
    assert ids_in(bob, ours) == {ours.pk, nobodys.pk}
    assert ids_in(alice, ours) == {ours.pk, theirs.pk, nobodys.pk}
    assert sorted(codes_ticked_or_not(bob.get("/map/", BOX).content.decode())) == sorted([ours.code, nobodys.code])
    assert bob.get(f"/map/tree/{theirs.code}/").status_code == 404
    assert bob.get(f"/map/tree/{theirs.pk}/").status_code == 404
    assert b"data-hit" not in bob.get("/map/find/", {"q": theirs.code}).content
    sent = bob.post("/map/codes.json", json.dumps([ours.pk, theirs.pk]), content_type="application/json")
    assert json.loads(sent.content) == [[ours.pk, ours.code]]


def test_merged_and_felled_trees_are_not_drawn() -> None:
    kept, merged, felled = make.tree(), make.tree(), make.tree()
    Tree.objects.filter(pk=merged.pk).update(merged_into=kept)
    Tree.objects.filter(pk=felled.pk).update(shown_state=Shown.FELLED)
    alice = signed_in(make.alice())
    assert ids_in(alice, kept) == {kept.pk}
    assert codes_ticked_or_not(alice.get("/map/", BOX).content.decode()) == [kept.code]


def test_an_answer_is_private_packed_and_not_sent_twice() -> None:
    trees = [make.tree() for _ in range(30)]
    client = signed_in(make.alice())
    answer = client.get("/map/trees.json", tile_with(trees[0]), headers={"Accept-Encoding": "gzip"})
    assert answer["Cache-Control"] == "private, no-cache"
    assert "Cookie" in answer["Vary"]
    assert answer["Content-Encoding"] == "gzip"
    assert len(json.loads(gzip.decompress(answer.content))["trees"]) == 30
    again = client.get("/map/trees.json", tile_with(trees[0]), headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    Tree.objects.filter(pk=trees[3].pk).update(shown_state=Shown.PULL)
    changed = client.get("/map/trees.json", tile_with(trees[0]), headers={"If-None-Match": answer["ETag"]})
    assert changed.status_code == 200
    assert [row[5] for row in json.loads(changed.content)["trees"] if row[0] == trees[3].pk] == [Shown.PULL]


def test_a_row_carries_place_kind_size_state_and_flag() -> None:
    tree = make.tree(diameter_um=406_400)
    Tree.objects.filter(pk=tree.pk).update(needs_look=True, shown_state=Shown.ASKED)
    found = json.loads(signed_in(make.alice()).get("/map/trees.json", tile_with(tree)).content)
    assert found["trees"] == [[tree.pk, tree.longitude, tree.latitude, tree.species_id, 406_400, Shown.ASKED, 1]]


@pytest.mark.parametrize(
    "asked",
    [
        {"z": "15", "x": "99999999", "y": "1"},
        {"z": "18", "x": "1", "y": "1"},
        {"z": "15"},
        {"z": "-1", "x": "a", "y": "²"},
    ],
)
def test_a_tile_that_cannot_be_is_answered_in_words(asked: dict[str, str]) -> None:
    answer = signed_in(make.alice()).get("/map/trees.json", asked)
    assert answer.status_code == 400
    assert json.loads(answer.content)["why"]


@pytest.mark.parametrize(
    "box", [{**BOX, "west": "abc"}, {**BOX, "west": "-1000"}, {"west": "1"}, {**BOX, "north": "nan"}]
)
def test_a_box_that_cannot_be_shows_the_whole_town_and_says_so(box: dict[str, str]) -> None:
    tree = make.tree()
    answer = signed_in(make.alice()).get("/map/", box)
    assert answer.status_code == 422
    assert tree.code in answer.content.decode()


def test_the_list_keeps_the_filter_of_the_key() -> None:
    ready, tapped = make.tree(), make.tree()
    Tree.objects.filter(pk=ready.pk).update(shown_state=Shown.READY)
    Tree.objects.filter(pk=tapped.pk).update(shown_state=Shown.TAPPED)
    client = signed_in(make.alice())
    assert codes_ticked_or_not(client.get("/map/", {**BOX, "key": "1", "state": "ready"}).content.decode()) == [
        ready.code
    ]
    assert codes_ticked_or_not(client.get("/map/", {**BOX, "key": "1"}).content.decode()) == []
    assert len(codes_ticked_or_not(client.get("/map/", BOX).content.decode())) == 2
    assert ids_in(client, ready, key="1", state="tapped") == {tapped.pk}


def test_choosing_all_in_view_ticks_every_row_without_a_script() -> None:
    for _ in range(60):
        make.tree()
    client = signed_in(make.alice())
    first = client.get("/map/", BOX).content.decode()
    assert len(codes_ticked_or_not(first)) == 50
    assert not re.search(r'name="codes"[^>]* checked', first)
    every = client.get("/map/", {**BOX, "choose": "all"}).content.decode()
    assert len(re.findall(r'name="codes"[^>]* checked', every)) == 60


def test_the_list_alone_comes_as_a_fragment() -> None:
    make.tree()
    fragment = signed_in(make.alice()).get("/map/", {**BOX, "fragment": "list"}).content.decode()
    assert "<html" not in fragment
    assert "fragment=" not in fragment
    assert 'data-heading="1 tree in view"' in fragment


def test_a_long_list_asks_the_database_no_more_often_than_a_short_one(django_assert_max_num_queries: Any) -> None:
    client = signed_in(make.alice())
    make.programme(west=-88, south=46, east=-86, north=48)
    for _ in range(3):
        make.tree()
    client.get("/map/", BOX)
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as few:
        client.get("/map/", BOX)
    kind, group = make.species(), make.group()
    sample = make.tree()
    Tree.objects.bulk_create(
        Tree(
            code=f"QH-{n}",
            longitude=sample.longitude,
            latitude=sample.latitude,
            t17=sample.t17,
            species=kind,
            group=group,
            diameter_um=300_000,
        )
        for n in range(50_000, 52_000)
    )
    with django_assert_max_num_queries(len(few)):
        assert "2,004" in client.get("/map/", BOX).content.decode()


def test_very_many_trees_are_listed_with_a_word_about_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rows, "MANY", 3)
    for _ in range(5):
        make.tree()
    page = signed_in(make.alice()).get("/map/", BOX).content.decode()
    assert "shown as counts" in page
    assert "data-choose-all" not in page
    assert len(codes_ticked_or_not(page)) == 5


def test_without_a_tree_the_page_says_what_to_do() -> None:
    make.programme()
    page = signed_in(make.alice()).get("/map/").content.decode()
    assert "No trees yet." in page
    assert "files/new/" in page


def test_the_card_gives_the_gates_own_reasons() -> None:
    make.season()
    tree = make.tree(land="unknown")
    card = signed_in(make.alice()).get(f"/map/tree/{tree.code}/").content.decode()
    reasons = gate(tree, "assign", group=tree.group)
    assert len(reasons) >= 3
    for reason in reasons:
        assert reason.fact in card
    assert f"{len(reasons)} things" in card
    assert signed_in(make.alice()).get(f"/map/tree/{tree.pk}/").content.decode() == card


def test_a_ready_trees_card_stands_open() -> None:
    tree = make.ready_tree()
    card = signed_in(make.lena()).get(f"/map/tree/{tree.code}/").content.decode()
    assert "gate open" in card
    assert "can be given out" in card


def test_owners_names_do_not_reach_a_volunteer() -> None:
    make.season()
    tree = make.tree(land="private")
    make.owns(tree, make.owner("Wilhelmina Achterberg", "person"))
    assert "Achterberg" in signed_in(make.lena()).get(f"/map/tree/{tree.code}/").content.decode()
    assert "Achterberg" not in signed_in(make.bob()).get(f"/map/tree/{tree.code}/").content.decode()


def test_a_tag_a_street_and_an_address_are_found() -> None:
    make.programme(west=-88, south=46, east=-86, north=48)
    tree = make.tree(address="31 Larkspur Street")
    StreetLine.objects.create(
        name="Heron Row", points=[[-87.35, 47.05], [-87.34, 47.05]], west=-87.35, south=47.05, east=-87.34, north=47.05,
        digest="1",
    )  # fmt: skip
    client = signed_in(make.bob())
    assert f"open={tree.code}" in client.get("/map/find/", {"q": tree.code.lower()}).content.decode()
    assert f"open={tree.code}" in client.get("/map/find/", {"q": "31 larkspur"}).content.decode()
    assert "west=-87.350000" in client.get("/map/find/", {"q": "heron"}).content.decode()
    assert "Nothing is called" in client.get("/map/find/", {"q": "Nowhere Mews"}).content.decode()
    answer = client.get("/map/", {"q": tree.code})
    assert answer.status_code == 302
    assert f"open={tree.code}" in answer["Location"]
    assert "To the tree" in client.get(answer["Location"]).content.decode()


def test_words_with_angle_brackets_stay_words() -> None:
    make.tree(address="<script>alert(1)</script>")
    client = signed_in(make.alice())
    for page in (client.get("/map/", {**BOX, "q": "<b>"}), client.get("/map/find/", {"q": "<script>"})):
        assert "<script>alert" not in page.content.decode()
        assert "<b>”" not in page.content.decode()


def test_streets_come_once_and_are_asked_about_after() -> None:
    line = {"west": -87.35, "south": 47.05, "east": -87.34, "north": 47.05}
    StreetLine.objects.create(name="Heron Row", points=[[-87.35, 47.05], [-87.34, 47.05]], digest="1", **line)
    client = signed_in(make.bob())
    answer = client.get("/map/streets.json")
    assert json.loads(answer.content) == {"lines": [["Heron Row", "street", [[-87.35, 47.05], [-87.34, 47.05]]]]}
    assert client.get("/map/streets.json", headers={"If-None-Match": answer["ETag"]}).status_code == 304
    StreetLine.objects.create(name="", kind="water", points=[[-87.35, 47.05]], digest="2", **line)
    assert client.get("/map/streets.json", headers={"If-None-Match": answer["ETag"]}).status_code == 200


@pytest.mark.parametrize("body", ["", "{}", "[1.5]", '["1"]', "[true]", "[-1]", "[1" + ",1" * 5_000 + "]", "[9e99]"])
def test_a_question_for_tags_that_makes_no_sense_is_answered_in_words(body: str) -> None:
    answer = signed_in(make.alice()).post("/map/codes.json", body, content_type="application/json")
    assert answer.status_code == 400
    assert "at most 5000" in json.loads(answer.content)["why"]


def test_tags_are_asked_for_with_the_forms_own_token() -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(make.alice())
    assert client.post("/map/codes.json", "[1]", content_type="application/json").status_code == 403


def test_whole_town_is_the_programmes_box_or_the_trees_own() -> None:
    assert rows.whole_town() is None
    tree = make.tree()
    own = rows.whole_town()
    assert own is not None
    assert own.west < tree.longitude < own.east
    programme = make.programme(west=-88, south=46, east=-86, north=48)
    assert isinstance(programme, Programme)
    town = rows.whole_town()
    assert town is not None
    assert (town.west, town.north) == (-88, 48)


def test_a_small_map_for_one_place_can_stand_in_a_form() -> None:
    from django import forms
    from django.template.loader import render_to_string

    class PlaceForm(forms.Form):
        longitude = forms.FloatField()
        latitude = forms.FloatField()

    make.programme(west=-88, south=46, east=-86, north=48)
    html = render_to_string("parts/place_field.html", {"form": PlaceForm()})
    assert 'name="longitude"' in html
    assert 'name="latitude"' in html
    assert [html.count(f'data-nudge="{way}"') for way in ("north", "south", "east", "west")] == [1, 1, 1, 1]
    assert "map/streets.json" in html
    assert views.COARSEST < ZOOM
