"""Street lines on their way into the base map."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from sugarbush.demo import town
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun, StreetLine
from sugarbush.trees.taking import run as engine
from tests import make
from tests.trees.taking.making import brought, counts, taken, write_streets

pytestmark = pytest.mark.django_db
LARKSPUR = [[-87.36, 47.05], [-87.35, 47.051], [-87.34, 47.05]]


def test_the_town_s_streets_come_in_once(tmp_path: Path) -> None:
    path = tmp_path / "streets.geojson"
    lines = town.write_streets_geojson(path)
    run = taken(path, kind=ImportRun.Kind.STREETS)
    assert (run.state, counts(run)) == (ImportRun.State.DONE, (lines, 0, 0, 0))
    assert StreetLine.objects.count() == lines
    again = taken(path, kind=ImportRun.Kind.STREETS)
    assert counts(again) == (0, 0, lines, 0)
    assert StreetLine.objects.count() == lines


def test_a_line_with_its_box_and_the_programme_s_box_from_it(tmp_path: Path) -> None:
    taken(write_streets(tmp_path, {"Larkspur Street": LARKSPUR}), kind=ImportRun.Kind.STREETS)
    line = StreetLine.objects.get()
    assert (line.name, line.kind, line.points) == ("Larkspur Street", "street", LARKSPUR)
    assert (line.west, line.south, line.east, line.north) == (-87.36, 47.05, -87.34, 47.051)
    box = Programme.current().box
    assert box is not None
    west, south, east, north = box
    assert west < -87.36 < -87.34 < east
    assert south < 47.05 < 47.051 < north


def test_what_lies_outside_the_box_is_listed(tmp_path: Path) -> None:
    make.programme(west=-88, south=46, east=-86, north=48)
    far = [[10.0, 50.0], [10.1, 50.1]]
    run = taken(write_streets(tmp_path, {"Larkspur Street": LARKSPUR, "Far Road": far}), kind=ImportRun.Kind.STREETS)
    assert counts(run) == (1, 0, 0, 1)
    page = Client()
    page.force_login(make.alice())
    assert "“Far Road” is outside the programme" in page.get(reverse("file", args=[run.pk])).content.decode()


def test_streets_by_the_page(tmp_path: Path) -> None:
    run = brought(write_streets(tmp_path, {"Larkspur Street": LARKSPUR}), kind=ImportRun.Kind.STREETS)
    alice = Client()
    alice.force_login(make.alice())
    page = alice.get(reverse("file", args=[run.pk]))
    assert page.context["found"].taken == 1
    edges = {name: page.context["form"][name].value() for name in ("west", "south", "east", "north")}
    alice.post(reverse("file", args=[run.pk]), {**edges, "act": "take", "seen": page.context["seen"]})
    engine.take_in(run.pk)
    assert StreetLine.objects.count() == 1


def test_streets_by_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make.programme()
    path = write_streets(tmp_path, {"Larkspur Street": LARKSPUR})
    call_command("import_streets", str(path))
    call_command("import_streets", str(path))
    said = capsys.readouterr().out
    assert "1 rows read: 1 taken" in said
    assert "1 rows read: 0 taken, 0 changed, 1 the same as before" in said
