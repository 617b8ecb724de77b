"""What anybody may see: only what is switched on, the same rows everywhere, and nobody's tree among them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.core.areas import Area, area_of
from sugarbush.core.rounds import Place
from sugarbush.desk.models import PublicFigures
from sugarbush.desk.public import counting
from sugarbush.desk.public.choosing import choose
from sugarbush.owners.models import OwnerContact
from sugarbush.trees.models import StreetLine, Tree
from tests import make

pytestmark = pytest.mark.django_db
ALL: dict[str, Any] = {"is_on": True, "totals": True, "weeks": True, "areas": True}
STEP = 1 / 440
EAST = 0.0034
FILES = [(part, kind) for part in counting.PARTS for kind in ("csv", "json")]


def cluster(count: int, north: int, east: int, **fields: Any) -> list[Tree]:
    """Tapped trees in one cell of the grid, that many cells from the middle of the town."""
    cell = area_of(Place(longitude_deg=make.CENTRE[0] + east * EAST, latitude_deg=make.CENTRE[1] + north * STEP))
    trees = []
    for n in range(count):
        x = cell.west_deg + (cell.east_deg - cell.west_deg) * (0.2 + 0.1 * n)
        y = cell.south_deg + (cell.north_deg - cell.south_deg) * (0.3 + 0.05 * n)
        trees.append(make.tapped_tree(longitude=x, latitude=y, **fields))
    return trees


def url(part: str, kind: str) -> str:
    return reverse("public-file", args=[part, kind])


def test_the_page_is_not_there_until_a_coordinator_switches_it_and_each_part_on(client: Client) -> None:
    make.season()
    every = [reverse("public"), *(url(*file) for file in FILES)]
    assert {client.get(one).status_code for one in every} == {404}
    lena = Client()
    lena.force_login(make.lena())
    assert lena.post(reverse("public-keep"), {"is_on": "on"}).status_code == 403
    alice = Client()
    alice.force_login(make.alice())
    assert alice.post(reverse("public-keep"), {"is_on": "on", "weeks": "on", "words": "<b>Come</b>"}).status_code == 302
    said = {one: client.get(one) for one in every}
    assert {one for one, answer in said.items() if answer.status_code == 200} == {
        reverse("public"), url("weeks", "csv"), url("weeks", "json")
    }  # fmt: skip
    page = said[reverse("public")]
    assert "&lt;b&gt;Come&lt;/b&gt;" in page.content.decode()
    # Anybody's cache may keep it, so it must not depend on who looks; a second look costs a line.
    assert (page["Cache-Control"], "Cookie" in page.get("Vary", "")) == ("public, max-age=300", False)
    assert client.get(reverse("public"), headers={"If-None-Match": page["ETag"]}).status_code == 304
    assert alice.get(reverse("public")).content == page.content
    assert "The season in figures" in client.get(reverse("about")).content.decode()
    choose(by=make.alice(), **{**ALL, "is_on": False})
    assert {client.get(one).status_code for one in every} == {404}
    told = AuditEvent.objects.filter(act="choose public page").order_by("at", "pk").first()
    assert (told.old["is_on"], told.new["is_on"], told.by) == (False, True, make.alice())
    assert client.get("/public/areas.xlsx").status_code == client.get("/public/people.csv").status_code == 404


def test_a_hostile_mix_shows_squares_and_sums_and_nothing_of_a_tree(
    client: Client, django_assert_max_num_queries
) -> None:
    fern = make.owner("Fern Abernathy-Sole", "person")
    OwnerContact.objects.create(owner=fern, phone="555-0142", email="fern@quillhaven.example")
    shown = cluster(4, 0, 0, land="private", address="4 Secret Lane") + cluster(7, 1, 2)
    alone = cluster(2, 3, 0, land="private", address="9 Hidden Court") + cluster(1, 5, 5, code="QH-LONE")
    for tree in (*shown[:4], *alone):
        make.owns(tree, fern)
    make.tree(longitude=make.CENTRE[0] + 0.02, latitude=make.CENTRE[1] + 0.02)  # known, not tapped
    for tree in shown[-2:]:
        make.collection(tree, litres="8.5")
    box = {"west": -87.36, "south": 47.05, "east": -87.34, "north": 47.05}
    StreetLine.objects.create(name="Secret Lane", points=[[-87.36, 47.05], [-87.34, 47.05]], digest="a", **box)
    choose(by=make.alice(), **ALL)
    # The next Monday and the midnight before it have seen all of it.
    now = timezone.now() + dt.timedelta(days=7)
    season = make.season()
    for part in ("counted", "areas"):
        counting.figures(season, part, now)
    with django_assert_max_num_queries(7):
        page = client.get(reverse("public")).content.decode()
    answers = {file: client.get(url(*file)).content.decode() for file in FILES}
    secrets = ["Abernathy", "555-0142", "Secret Lane", "Hidden Court", "QH-", "Bob", "North Bank", "private"]
    secrets += [f"{tree.latitude:.5f}"[:-1] for tree in (*shown, *alone)]
    secrets += [f"{tree.longitude:.5f}"[:-1] for tree in (*shown, *alone)]
    for text in (page, *answers.values()):
        assert [secret for secret in secrets if secret in text] == []
    # Two cells: 4 and 7 trees. The 2 and the 1 are not shown; being three in two cells, they take no other along.
    rows = json.loads(answers["areas", "json"])["rows"]
    assert [(row["trees_from"], row["trees_to"]) for row in rows] == [(3, 5), (6, 10)]
    assert {(row["south_deg"], row["west_deg"]) for row in rows} == {
        (round(c.south_deg, 6), round(c.west_deg, 6)) for c in (cell_of(shown[0]), cell_of(shown[-1]))
    }
    as_csv = list(csv.DictReader(io.StringIO(answers["areas", "csv"])))
    assert as_csv == [{name: str(value) for name, value in row.items()} for row in rows]
    assert all(f"{row['south_deg']}°" in page for row in rows)
    [totals] = json.loads(answers["totals", "json"])["rows"]
    assert totals == {"trees": 14, "taps": 14, "sap_ml": 17_000, "syrup_ml": 0, "people": None}
    assert page.count("<rect") == 2 + len(json.loads(answers["weeks", "json"])["rows"])


def cell_of(tree: Tree) -> Area:
    return area_of(Place(longitude_deg=tree.longitude, latitude_deg=tree.latitude))


def test_figures_stand_for_a_day_and_areas_for_a_week_however_often_they_are_asked_for() -> None:
    cluster(3, 0, 0)
    season = make.season()
    now = timezone.now() + dt.timedelta(days=7)
    first = counting.figures(season, "areas", now)
    assert len(first["areas"]) == 1
    more = cluster(3, 4, 4)
    for tree in more:
        tree.taps.update(placed_at=timezone.now() - dt.timedelta(days=20))
    assert counting.figures(season, "areas", now + dt.timedelta(minutes=5)) == first
    assert len(counting.figures(season, "areas", now + dt.timedelta(days=8))["areas"]) == 2
    # A tap that came out is a tree that was tapped: within a season no cell loses one.
    more[0].taps.update(state="pulled", out_at=timezone.now())
    assert len(counting.figures(season, "areas", now + dt.timedelta(days=16))["areas"]) == 2
    # While one reader counts, the others read what there was.
    later = now + dt.timedelta(days=40)
    PublicFigures.objects.filter(part="areas").update(held_until=later + dt.timedelta(minutes=1))
    assert counting.figures(season, "areas", later)["week"] < later.date().isoformat()
    assert PublicFigures.objects.count() == 1


def test_while_fewer_than_three_trees_are_tapped_nothing_is_told(client: Client) -> None:
    cluster(2, 0, 0)
    choose(by=make.alice(), **ALL)
    page = client.get(reverse("public")).content.decode()
    assert ("once 3 trees are tapped" in page, "No square can be shown yet." in page) == (True, True)
    assert [json.loads(client.get(url(part, "json")).content)["rows"] for part in counting.PARTS] == [[], [], []]
