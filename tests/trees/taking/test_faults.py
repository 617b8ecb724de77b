"""Files that break, grow, vanish or bite: a clear sentence, and what was good before is kept."""

from __future__ import annotations

import errno
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import OperationalError

from sugarbush.parts.reasons import Refused
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking import rows as sql
from sugarbush.trees.taking import run as engine
from sugarbush.trees.taking.words import ended_sentence, may_go_on
from tests import make
from tests.trees.taking.making import HEADING, brought, counts, row, rows, taken, write_csv

pytestmark = pytest.mark.django_db


def geojson(count: int) -> str:
    features = [
        {
            "type": "Feature",
            "properties": {"Tree No": f"{n:04d}", "Botanical": "Acer rubrum", "DBH in": 18},
            "geometry": {"type": "Point", "coordinates": [-87.35 + n * 1e-5, 47.05]},
        }
        for n in range(count)
    ]
    return '{"type": "FeatureCollection", "features": [\n' + ",\n".join(map(json.dumps, features)) + "\n]}"


def test_half_a_file_keeps_the_trees_before_and_says_where_it_ended(tmp_path: Path) -> None:
    path = tmp_path / "half.geojson"
    text = geojson(100)
    path.write_text(text[: len(text) // 2])
    run = taken(path)
    assert run.state == ImportRun.State.STOPPED
    assert run.taken == Tree.objects.count() == run.rows_read
    assert 40 < run.taken < 60
    assert f"after row {run.rows_read}" in ended_sentence(run)
    # Going on would stop at the same place.
    assert not may_go_on(run)
    path.write_text(text)
    whole = taken(path)
    assert counts(whole) == (100 - run.taken, 0, run.taken, 0)


def test_a_line_without_end_stops_there(tmp_path: Path) -> None:
    path = write_csv(tmp_path, rows(5000))
    with path.open("a") as file:
        file.write("9999," + "x" * 2_000_000)
    run = taken(path)
    assert run.state == ImportRun.State.STOPPED
    assert run.taken == Tree.objects.count() == 5000
    assert "longer than 1 MB" in ended_sentence(run)


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 trees", "PDF"),
        (b"PK\x03\x04trees", "workbook"),
        (b"x" * 3_000_000, "longer than 1 MB"),
        (b",".join(b"c%d" % n for n in range(1_000_000)), "500 columns"),
        (",".join(HEADING).encode() + b"\n", "no rows"),
    ],
)
def test_what_is_no_tree_file_is_refused_and_not_kept(tmp_path: Path, settings: Any, content: bytes, word: str) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"
    make.programme()
    path = tmp_path / "file.csv"
    path.write_bytes(content)
    with pytest.raises(CannotRead, match=word):
        acts.bring(by=make.alice(), kind="trees", kept=stored.keep_copy(path), file_name="file.csv")
    assert not list((tmp_path / "uploads" / "imports").iterdir())
    assert not ImportRun.objects.exists()


def test_a_file_larger_than_the_limit_leaves_nothing(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"
    monkeypatch.setattr(stored, "MOST_BYTES", 1_000_000)
    path = write_csv(tmp_path, rows(20_000))
    with pytest.raises(stored.NotKept) as why:
        stored.keep_copy(path)
    assert "larger than 1 MB" in why.value.sentence
    assert not list((tmp_path / "uploads" / "imports").iterdir())


def test_a_full_disk_leaves_nothing_and_says_so(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"
    keeper = stored.Keeper()

    class Full:
        def write(self, _piece: bytes) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        def close(self) -> None:
            pass

    monkeypatch.setattr(keeper, "_file", Full())
    with pytest.raises(stored.NotKept) as why:
        keeper.write(b"trees")
    assert "no room left" in why.value.sentence
    assert not list((tmp_path / "uploads" / "imports").iterdir())


def test_a_database_without_room_stops_the_reading_and_it_can_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 50)
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(120))), in_background=False)
    real = sql.insert_trees

    def full(batch: Any, *args: Any, **kwargs: Any) -> None:
        if batch[0].number == "0051":
            raise OperationalError("database or disk is full")
        real(batch, *args, **kwargs)

    with monkeypatch.context() as short:
        short.setattr("sugarbush.trees.taking.work.insert_trees", full)
        engine.take_in(run.pk)
    run.refresh_from_db()
    assert (run.state, run.rows_read, Tree.objects.count()) == (ImportRun.State.STOPPED, 50, 50)
    assert "Make room" in ended_sentence(run)
    assert may_go_on(run)
    acts.go_on(by=make.alice(), run=run)
    engine.take_in(run.pk)
    run.refresh_from_db()
    assert (run.state, counts(run)) == (ImportRun.State.DONE, (120, 0, 0, 0))


def test_a_file_that_vanished_is_said_to_be_gone(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(5))), in_background=False)
    Path(run.path).unlink()
    engine.take_in(run.pk)
    run.refresh_from_db()
    assert run.state == ImportRun.State.STOPPED
    assert "no longer on this machine" in ended_sentence(run)
    assert not may_go_on(run)
    with pytest.raises(Refused):
        acts.again(by=make.alice(), run=run)


def test_columns_that_do_not_fit_the_file_any_more(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(5))), in_background=False)
    path = Path(run.path)
    # Of the same length, so that only the heading has changed.
    path.write_bytes(path.read_bytes().replace(b"Longitude", b"Longitute"))
    engine.take_in(run.pk)
    run.refresh_from_db()
    assert run.state == ImportRun.State.STOPPED
    assert "do not fit" in ended_sentence(run)
    assert not Tree.objects.exists()


def test_something_unforeseen_is_logged_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(5))), in_background=False)

    def broken(*_args: Any, **_kwargs: Any) -> None:
        raise RuntimeError("what nobody thought of")

    monkeypatch.setattr("sugarbush.trees.taking.work.insert_trees", broken)
    engine.take_in(run.pk)
    run.refresh_from_db()
    assert run.state == ImportRun.State.STOPPED
    assert "log" in ended_sentence(run)
    assert "what nobody thought of" in caplog.text


def test_odd_letters_are_kept_or_dropped_but_stop_nothing(tmp_path: Path) -> None:
    # A zero byte is a letter no PostgreSQL text may hold; a lone half of a pair no UTF-8 can.
    path = tmp_path / "odd.geojson"
    text = geojson(3).replace('"DBH in": 18', r'"DBH in": 18, "Note": "a\u0000b \ud800 🌳 é"')
    path.write_text(text, encoding="utf-8")
    run = taken(path)
    assert counts(run) == (3, 0, 0, 0)
    assert "🌳" in Tree.objects.first().inventory_note


def test_values_longer_than_the_columns_are_cut_or_refused(tmp_path: Path) -> None:
    lines = [
        row("0001", address="A" * 500, note="n" * 5000),
        row("n" * 65),
        row("0003", size="10/" * 60 + "10"),
        row("0004", botanical="Acer " + "x" * 400),
    ]
    run = taken(write_csv(tmp_path, lines))
    assert counts(run) == (3, 0, 0, 1)
    tree = Tree.objects.get(inventory_number="0001")
    assert len(tree.address) == 200


def test_a_number_may_be_anything_but_a_formula_in_the_table(tmp_path: Path) -> None:
    from sugarbush.parts.csvfile import line
    from sugarbush.trees.taking.report import csv_rows

    run = taken(write_csv(tmp_path, [row("=cmd()", size="0", address="<b>x</b>"), row("0001")]))
    (cells,) = list(csv_rows(run.pk, "us"))
    assert '"\'=cmd()"' in line(cells)


@pytest.mark.parametrize("missing", ["nowhere.csv"])
def test_the_command_says_in_one_sentence_what_is_wrong(tmp_path: Path, missing: str) -> None:
    make.programme()
    with pytest.raises(CommandError, match="no file at this place"):
        call_command("import_trees", str(tmp_path / missing))
