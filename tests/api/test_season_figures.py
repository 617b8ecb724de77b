"""The figures of the season's page, to the millilitre, and the rows behind them within the reader's walls (I22)."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.review import reach, totals
from tests import make
from tests.api.asking import PROBLEM, Program
from tests.review.small_season import SmallSeason

pytestmark = pytest.mark.django_db


def test_page_and_api_say_the_same_to_the_millilitre():
    season = SmallSeason().season
    alice = make.alice()
    program = Program(alice)
    assert program.read("api-seasons")["seasons"][0]["year"] == season.year
    body = program.read("api-season-totals", season.year)
    kept, counted = totals.totals_of(season)
    rows = reach.tree_rows(counted.cells, counted.trees, reach.of(alice))
    whole = body["whole"]
    assert (whole["volume_ml"], whole["kept_ml"]) == (kept.sums.out_ml, kept.sums.kept_ml)
    assert whole["volume_ml"] > 0
    for table in ("days", "groups", "species", "trees"):
        assert sum(row["volume_ml"] for row in body[table]) == whole["volume_ml"], table
    assert [row["tree"] for row in body["trees"]] == [row.name for row in rows]
    assert sum(row["volume_ml"] for row in body["chain"] if row["cause"] == "out_of_tree") == whole["volume_ml"]
    entries = program.pages("api-season-entries", season.year, rows="entries", limit=3)
    assert sum(one["counts_volume_ml"] for one in entries) == whole["volume_ml"]
    page = Client()
    page.force_login(alice)
    taken = page.get(reverse("season-csv", args=["collections"]), {"year": season.year})
    assert taken.status_code == 200
    file_rows = b"".join(taken).decode().strip().splitlines()[1:]
    assert len(file_rows) == len(entries) > 3


def test_another_groups_entries_and_trees_stay_behind_the_walls():
    make.collection(make.tapped_tree(), litres="2", by=make.bob())
    make.collection(make.tapped_tree(), litres="3", by=make.lena())
    far = make.tapped_tree(group=make.group("Mill Race"))
    make.collection(far, litres="5", by=make.mira())
    year = make.season().year
    bob = Program(make.bob())
    body = bob.read("api-season-totals", year)
    assert body["whole"]["volume_ml"] == 10_000
    assert far.code not in str(body["trees"])
    assert body["all_trees"] is False
    assert [one["person"] for one in bob.pages("api-season-entries", year, rows="entries")] == ["Bob"]
    assert len(Program(make.rhea()).pages("api-season-entries", year, rows="entries")) == 3
    theirs = Program(make.mira()).pages("api-season-entries", year, rows="entries")[0]["entry"]
    for name, args, query, status in (
        ("api-season-entries", [year], {"after": theirs}, 404),
        ("api-season-entries", [year], {"after": str(uuid.uuid4())}, 404),
        ("api-season-entries", [year], {"after": "x"}, 400),
        ("api-season-totals", [1999], {}, 404),
        ("api-season-totals", [year], {"limit": "1"}, 400),
    ):
        answer = bob.ask(name, *args, **query)
        assert (answer.status_code, answer["Content-Type"]) == (status, PROBLEM), (name, query)
