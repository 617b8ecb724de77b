"""Tables as XLSX and ODS: other programs read the same values back, and the file is sent while it is read."""

from __future__ import annotations

import datetime as dt
import io
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import python_calamine
from hypothesis import given, settings
from hypothesis import strategies as st

from sugarbush.parts.sheets import cells
from sugarbush.parts.sheets import ods as ods_home
from sugarbush.parts.sheets import xlsx as xlsx_home
from sugarbush.parts.sheets.ods import ods
from sugarbush.parts.sheets.xlsx import xlsx

pytestmark = pytest.mark.pure

HEADS = ["Code", "Name", "Sap (mL)", "Sugar (°Brix)", "Day", "When", "Counts"]
DAY, MOMENT = dt.date(2026, 3, 8), dt.datetime(2026, 3, 8, 3, 30, 15)  # noqa: DTZ001  # a spreadsheet knows no zone
ROWS: list[list[Any]] = [
    ["0042", "Zoë Łódź-Ñandú 木の名", 6_500, Decimal("2.20"), DAY, MOMENT, True],
    ["=1+1", 'a "quote", a comma;\nand a line', -7, None, None, None, False],
    ["-", "@SUM(A1) <&> ]]>", 2**53, 0.5, dt.date(1899, 1, 1), None, None],
]
TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)


def by_openpyxl(data: bytes) -> list[list[Any]]:
    sheet = openpyxl.load_workbook(io.BytesIO(data), data_only=False).active
    return [list(row) for row in sheet.iter_rows(values_only=True)]


def by_calamine(data: bytes, sheet: int = 0) -> list[list[Any]]:
    rows: list[list[Any]] = (
        python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_index(sheet).to_python()
    )
    return rows


def test_openpyxl_reads_every_value_back_with_its_kind() -> None:
    heads, first, second, third = by_openpyxl(b"".join(xlsx("Trees: [1]", HEADS, ROWS)))
    assert heads == HEADS
    assert first == ["0042", ROWS[0][1], 6_500, 2.2, dt.datetime(2026, 3, 8), MOMENT, "yes"]  # noqa: DTZ001
    assert second == ["=1+1", ROWS[1][1], -7, None, None, None, "no"]
    assert third[:5] == ["-", "@SUM(A1) <&> ]]>", 2**53, 0.5, "1899-01-01"]
    sheet = openpyxl.load_workbook(io.BytesIO(b"".join(xlsx("Trees: [1]", HEADS, ROWS)))).active
    assert sheet["A3"].data_type == "s"  # text, and no formula ("f")
    assert sheet["A2"].number_format == "@"  # still text once somebody edits it
    assert sheet["C2"].data_type == "n"
    assert sheet["F2"].is_date


@pytest.mark.parametrize("write", [xlsx, ods])
def test_another_reader_finds_the_same_in_both_kinds(write: Any) -> None:
    heads, first, second, third = by_calamine(b"".join(write("Trees", HEADS, ROWS)))
    assert heads == HEADS
    assert first == ["0042", ROWS[0][1], 6_500, 2.2, DAY, MOMENT, "yes"]
    assert second == ["=1+1", ROWS[1][1], -7, "", "", "", "no"]
    assert third[:4] == ["-", "@SUM(A1) <&> ]]>", 2**53, 0.5]


@settings(max_examples=25)
@given(st.lists(TEXT, min_size=1, max_size=6))
def test_any_letters_survive_both_kinds(texts: list[str]) -> None:
    for write in (xlsx, ods):
        (row,) = by_calamine(b"".join(write("Any", [], [[*texts, "end"]])))[-1:]
        assert [str(cell) for cell in row] == [*texts, "end"]


def test_letters_no_document_may_hold_are_left_out_and_a_cell_is_no_longer_than_a_cell() -> None:
    for write in (xlsx, ods):
        (_head, row) = by_calamine(b"".join(write("Any", ["a"], [["\x00a\x0bb\ud800", "x" * 40_000, "one\r\ntwo"]])))
        assert row[0] == "ab"
        assert len(row[1]) == cells.MOST_SIGNS
        assert row[2] == "one\ntwo"


def test_an_ods_file_says_at_its_very_front_what_it_is() -> None:
    # OpenDocument 1.3, part 2, 3.3: "mimetype" is the first file, not compressed, without an extra field.
    data = b"".join(ods("Trees", HEADS, ROWS))
    assert data[30:38] == b"mimetype"
    assert data[38:].startswith(ods_home.MEDIA_TYPE.encode())
    archive = zipfile.ZipFile(io.BytesIO(data))
    assert archive.testzip() is None
    assert archive.namelist()[0] == "mimetype"


def test_rows_past_the_last_of_a_sheet_go_on_in_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    for home in (xlsx_home, ods_home):
        monkeypatch.setattr(home, "MOST_ROWS", 3)
    rows = [[n] for n in range(5)]
    for write in (xlsx, ods):
        data = b"".join(write("Long", ["n"], rows))
        got = [by_calamine(data, sheet) for sheet in range(3)]
        assert [sheet[0] for sheet in got] == [["n"]] * 3
        assert [row[0] for sheet in got for row in sheet[1:]] == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("write", [xlsx, ods])
def test_a_long_table_is_sent_while_it_is_read(write: Any) -> None:
    taken = 0

    def rows() -> Iterator[list[Any]]:
        nonlocal taken
        for number in range(200_000):
            taken += 1
            yield [f"tree {number * 7919 % 100_003}", number]

    pieces = write("Long", ["Tree", "Number"], rows())
    next(pieces)
    assert 0 < taken < 30_000


@pytest.mark.slow
def test_libreoffice_reads_both_kinds(tmp_path: Path) -> None:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice is not here: the files are read by other programs only.")
    for kind, write in (("xlsx", xlsx), ("ods", ods)):
        path = tmp_path / f"trees.{kind}"
        path.write_bytes(b"".join(write("Trees", HEADS, ROWS)))
        how = ["--headless", "--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76", "--outdir", str(tmp_path)]
        subprocess.run([office, *how, str(path)], check=True, capture_output=True, timeout=120)
        lines = (tmp_path / "trees.csv").read_text(encoding="utf-8")
        assert '"0042"' in lines or lines.splitlines()[1].startswith("0042,")
        assert "=1+1" in lines
        assert "Zoë Łódź-Ñandú 木の名" in lines
