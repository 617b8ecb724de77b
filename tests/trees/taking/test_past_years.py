"""Sheets of past years: what is taken, what is refused and why, and where it is seen afterwards."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.review import totals
from sugarbush.sap.models import Movement
from sugarbush.trees.files import ImportRun
from sugarbush.trees.merging import merge
from sugarbush.trees.models import Tree
from sugarbush.trees.past import PastYield
from sugarbush.trees.taking import acts, past, stored
from sugarbush.trees.taking import run as engine
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
HEAD = "Season;Tree No;Address;Nth;Taps;Sap (gal);Sugar Brix;Remark"


@pytest.fixture(autouse=True)
def own_uploads(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def brought(tmp_path: Path, *lines: str, head: str = HEAD) -> ImportRun:
    path = tmp_path / "older.csv"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return acts.bring(by=make.alice(), kind="past", kept=stored.keep_copy(path), file_name="older.csv")


def taken(run: ImportRun) -> ImportRun:
    acts.start(by=make.alice(), run=run, in_background=False)
    done = engine.take_in(run.pk)
    assert done is not None
    assert done.state == ImportRun.State.DONE
    return done


def counts(run: ImportRun) -> tuple[int, int, int]:
    return run.taken, run.same, run.refused


def reasons(run: ImportRun) -> list[tuple[int, str]]:
    return list(run.problems.values_list("row_number", "reason"))


def test_every_bad_row_is_named_and_the_rest_is_taken_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    season = make.season()
    tree = make.tree(inventory_source="town", inventory_number="77")
    make.tree(inventory_source="town", inventory_number="9", address="4 Alder Row", nth=1)
    second = make.tree(inventory_source="other", inventory_number="9", address="4 Alder Row", nth=2)
    lines = (
        f"2019;{tree.code.lower()};;;2;10,5;2.1;by the gate",
        "2018;77;;;1;20 L;;",
        "2019;;4 Alder Row;2;1;8;;",
        "2019;;;;1;8;;",
        "2019;XX-9999;;;1;8;;",
        "2019;9;;;1;8;;",
        "last;77;;;1;8;;",
        f"{make.today().year + 1};77;;;1;8;;",
        "2017;77;;;0;8;;",
        "2017;77;;;1;1,234;;",
        "2017;77;;;1;900;;",
        "2017;77;;;1;8;40;",
        "2017;;4 Alder Row;two;1;8;;",
        "2018;77;;;1;20 L;;",
        "2017;;4 Alder Row;;1;8;;",
    )
    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 4)  # the row said twice lies in another piece
    run = taken(brought(tmp_path, *lines))
    assert run.mapping["unit"] == "gal"
    codes = ["no_name", "no_tree", "two_trees", "year", "not_past", "taps", "volume", "too_much", "brix", "nth"]
    assert reasons(run) == [
        *((row, f"past_{code}") for row, code in enumerate(codes, 4)),
        (14, "past_twice"),
        (15, "past_two_trees"),
    ]
    assert counts(run) == (3, 0, 12)
    kept = list(PastYield.objects.order_by("tree", "year").values_list("tree", "year", "taps", "volume_ml", "note"))
    assert kept == [
        (tree.pk, 2018, 1, 20_000, ""),
        (tree.pk, 2019, 2, 39_747, "by the gate"),
        (second.pk, 2019, 1, 30_283, ""),
    ]
    assert AuditEvent.objects.filter(act="take in past").count() == 1
    page = client_of(make.alice()).get(reverse("file", args=[run.pk])).content.decode()
    assert "No tree here has the code, number or address “XX-9999”" in page

    again = taken(brought(tmp_path, *lines[:3]))
    assert counts(again) == (0, 3, 0)
    other = taken(brought(tmp_path, "2018;77;;;1;21 L;;", "2016;77;;;1;21 L;;"))
    assert (counts(other), reasons(other)) == ((1, 0, 1), [(1, "past_conflict")])
    said = client_of(make.alice()).get(reverse("file", args=[other.pk])).content.decode()
    assert "a list taken before says 1 tap, 20" in said.replace("\xa0", " ")
    assert PastYield.objects.get(tree=tree, year=2018).volume_ml == 20_000
    type(season).objects.filter(pk=season.pk).update(year=2015)
    own = taken(brought(tmp_path, "2015;77;;;1;21 L;;"))
    assert reasons(own) == [(1, "past_own_season")]


def test_the_pages_show_it_in_the_readers_units_and_no_total_moves(tmp_path: Path) -> None:
    entry = make.collection()
    tree: Tree = entry.tap.tree
    elsewhere = make.tree(group=make.group("South Hill"))
    before = totals.totals_of(entry.season)[0].sums.out_ml, Movement.objects.count()
    alice, bob = client_of(make.alice()), client_of(make.bob())
    sheet = f"year,tree,taps,litres\n2019,{tree.code},2,40\n2019,{elsewhere.code},1,9\n"
    assert bob.post(reverse("past-new"), {"file": SimpleUploadedFile("o.csv", sheet.encode())}).status_code == 403
    answer = alice.post(reverse("past-new"), {"file": SimpleUploadedFile("o.csv", sheet.encode())})
    run = ImportRun.objects.get()
    page = alice.get(answer["Location"])
    assert (page.context["new"], page.context["ready"]) == (2, True)
    assert PastYield.objects.count() == 0
    wrong = {**run.mapping, "taps": ""}
    alice.post(answer["Location"], {**wrong, "act": "take"})
    assert "Choose the column that says the taps." in alice.get(answer["Location"]).content.decode()
    alice.post(answer["Location"], {**run.mapping, "act": "look"})
    alice.post(answer["Location"], {**run.mapping, "act": "take"})
    engine.take_in(run.pk)
    assert PastYield.objects.count() == 2
    assert (totals.totals_of(entry.season)[0].sums.out_ml, Movement.objects.count()) == before
    for units, said in (("metric", "40.0"), ("us", "10.57")):
        Person.objects.filter(pk=make.alice().pk).update(units=units)
        shown = alice.get(reverse("tree", args=[tree.code]))
        assert "Taken from an older list" in shown.content.decode()
        assert said in shown.content.decode(), units
    assert [row[:4] for row in alice.get(reverse("season-review")).context["earlier"]] == [(2019, 2, 3, 49_000)]
    assert [row[:4] for row in client_of(make.lena()).get(reverse("season-review")).context["earlier"]] == [
        (2019, 1, 2, 40_000)
    ]
    file = b"".join(alice.get(reverse("season-csv", args=["earlier"])).streaming_content)  # type: ignore[attr-defined]
    assert tree.code.encode() in file
    assert b"40000" in file


def test_a_merge_carries_it_along_and_many_rows_ask_little(tmp_path: Path) -> None:
    make.season()
    kept, gone = make.tree(), make.tree()
    trees = [make.tree() for _ in range(30)]
    lines = [f"{year},{tree.code},1,20" for tree in (*trees, gone) for year in (2016, 2017)]
    run = brought(tmp_path, *lines, head="year,tree,taps,litres")
    table = past.open_past(run.path)
    read = list(map(past.Reader(table.columns, run.mapping).read, table.rows()))
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert len(past.judge(run, read).new) == 62
    assert len(asked) <= 4
    assert counts(taken(run)) == (62, 0, 0)
    merge(by=make.alice(), kept=kept, loser=gone)
    assert set(PastYield.objects.filter(tree=kept).values_list("year", flat=True)) == {2016, 2017}
    again = taken(brought(tmp_path, *lines[-2:], head="year,tree,taps,litres"))
    assert counts(again) == (0, 2, 0)
