"""The same reading on the command line."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from tests import make
from tests.trees.taking.making import row, rows, write_csv

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_uploads(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "uploads"
    make.programme()


def test_trees_are_taken_in_at_once_and_the_refused_written_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_csv(tmp_path, [*rows(40), row("=1+1", size="0")])
    out = tmp_path / "problems.csv"
    call_command("import_trees", str(path), list="parks", problems=str(out))
    said = capsys.readouterr().out
    assert "List: parks" in said
    assert "41 rows read: 40 taken, 0 changed, 0 the same as before, 1 not taken." in said
    assert "not taken, size of nought: 1" in said
    assert "The programme’s box was drawn from this file" in said
    assert set(Tree.objects.values_list("inventory_source", flat=True)) == {"parks"}
    (line,) = csv.DictReader(out.read_text(encoding="utf-8-sig").splitlines())
    assert (line["row"], line["number in the town’s list"]) == ("41", "'=1+1")
    call_command("import_trees", str(path))
    assert "0 taken, 0 changed, 40 the same as before" in capsys.readouterr().out


def test_a_preview_takes_nothing_in_and_leaves_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("import_trees", str(write_csv(tmp_path, rows(30))), preview=True)
    said = capsys.readouterr().out
    assert "Of the whole file: 30 new, 0 listed here before, 0 not taken." in said
    assert "Nothing was taken in" in said
    assert not Tree.objects.exists()
    assert not ImportRun.objects.exists()
    assert not list((tmp_path / "uploads" / "imports").iterdir())


def test_columns_and_units_are_set_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(
        "a,b,c,d,e\n" + "".join(f"{n},red maple,{n % 30 + 20},{-87.35 + n / 1e4:.4f},47.05\n" for n in range(1, 9))
    )
    call_command(
        "import_trees", str(path), "--set", "number=a", "--set", "common=b", "--set", "botanical=", "--set", "size=c",
        "--set", "longitude=d", "--set", "latitude=e", "--unit", "cm", "--girth",
    )  # fmt: skip
    assert Tree.objects.count() == 8
    # 21 cm around is 21 / pi = 6.68 cm across.
    assert Tree.objects.get(inventory_number="1").diameter_um == int(210_000 / math.pi)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (["--set", "nonsense=Tree No"], "write FIELD=COLUMN"),
        (["--set", "size=No such column"], "has no column “No such column”"),
        (["--set", "botanical="], "Choose the column that names the species"),
        (["--set", "decimal=x"], "decimal must be one of"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(tmp_path: Path, given: list[str], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        call_command("import_trees", str(write_csv(tmp_path, rows(3))), *given)
    assert not ImportRun.objects.exists()
    assert not list((tmp_path / "uploads" / "imports").iterdir())


def test_half_a_file_ends_with_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_csv(tmp_path, rows(3000))
    with path.open("a") as file:
        file.write("x" * 2_000_000)
    with pytest.raises(CommandError, match=r"longer than 1 MB.* The 3000 rows before are taken care of"):
        call_command("import_trees", str(path))
    assert Tree.objects.count() == 3000
