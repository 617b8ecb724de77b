"""Tables people take home: RFC 4180, harmless in a spreadsheet, and as long as they like."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.parts.csvfile import csv_response, line, lines

pytestmark = pytest.mark.pure


def body(header: list[Any], rows: Any, bom: bool = True) -> bytes:
    return b"".join(csv_response("trees", header, rows, bom=bom).streaming_content)  # type: ignore[arg-type]


@given(st.lists(st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"])), min_size=1))
def test_python_s_own_reader_gives_each_cell_back(cells: list[str]) -> None:
    # Read back by the csv module of the standard library, which follows RFC 4180; the guard in front is taken off.
    (row,) = csv.reader(io.StringIO(line(cells), newline=""))
    assert len(row) == len(cells)
    for back, cell in zip(row, cells, strict=True):
        assert back in {cell, f"'{cell}"}


def test_lines_end_and_quotes_double_as_rfc_4180_says() -> None:
    # RFC 4180, section 2, rules 1 and 7.
    assert line(['say "yes"', "a,b", "two\r\nlines"]) == '"say ""yes""","a,b","two\r\nlines"\r\n'


@pytest.mark.parametrize(
    "cell", ["=1+1", "+1+2", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "=cmd|'/c calc'!A0", "＝1+1", " =1+1", "-"]
)
def test_a_name_that_is_a_formula_is_made_harmless(cell: str) -> None:
    # The list of starts is OWASP's, "CSV Injection" [M]; the blank in front is our own care.
    assert line([cell]).startswith("\"'")


@pytest.mark.parametrize("cell", ["-7.5", "+3", "-7,5", "12"])
def test_a_number_keeps_its_sign(cell: str) -> None:
    assert line([cell]) == f'"{cell}"\r\n'


def test_numbers_stand_bare_and_codes_keep_their_noughts_as_text() -> None:
    row = [6_500, Decimal("1E+3"), Decimal("2.20"), 0.5, "0042", None, True, dt.date(2026, 3, 12)]
    assert line(row) == '6500,1000,2.20,0.5,"0042",,"yes",2026-03-12\r\n'


def test_a_file_says_its_letters_and_its_name() -> None:
    response = csv_response("Trees of Quillhaven’s season", ["Code"], [["QH-1"]])
    assert b"".join(response.streaming_content) == '\ufeff"Code"\r\n"QH-1"\r\n'.encode()  # type: ignore[arg-type]
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith("attachment;")
    assert "\n" not in response["Content-Disposition"]
    assert not body(["Code"], [], bom=False).startswith("\ufeff".encode())


def test_a_long_table_is_sent_while_it_is_read() -> None:
    taken = 0

    def rows() -> Iterator[list[int]]:
        nonlocal taken
        for number in range(1_000_000):
            taken += 1
            yield [number]

    pieces = lines(["Number"], rows())
    next(pieces)
    assert taken < 1_000


def test_letters_that_cannot_be_written_do_not_stop_the_file() -> None:
    assert b"?" in body(["Name"], [["half a letter \ud800"]])
