"""CSV as towns write it (RFC 4180 and what spreadsheets make of it)."""

from pathlib import Path

import pytest

from sugarbush.trees.reading.csv_table import CsvTable
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.verdicts import TreeRow
from tests.trees.reading.making import HEADING, csv_text, read_all, tree, write

pytestmark = pytest.mark.pure


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_any_delimiter_is_found(tmp_path: Path, delimiter: str) -> None:
    table = open_table(write(tmp_path, csv_text([HEADING, tree(), tree("0413")], delimiter)))
    assert table.kind == "csv"
    assert table.columns == HEADING
    assert [row.values[0] for row in table.rows()] == ["0412", "0413"]


def test_a_decimal_comma_is_not_taken_for_the_delimiter(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, "No;Lon;Lat;cm\n1;-87,351;47,052;45,5\n2;-87,352;47,053;30,5\n"))
    assert table.columns == ["No", "Lon", "Lat", "cm"]


def test_a_decimal_comma_is_not_taken_for_the_delimiter_without_a_heading_either(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, "1;-87,351;47,052;45,5\n2;-87,352;47,053;30,5\n"))
    assert next(row.values for row in table.rows()) == ["1", "-87,351", "47,052", "45,5"]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1"]
)
def test_accents_are_right_in_every_encoding(tmp_path: Path, encoding: str) -> None:
    rows = [HEADING, tree(Status="Gefällt wird später, côté à l'est")]
    table = open_table(write(tmp_path, csv_text(rows).encode(encoding)))
    assert table.columns == HEADING
    assert [row.values[5] for row in table.rows()] == ["Gefällt wird später, côté à l'est"]


def test_one_stray_byte_late_in_a_file_spoils_only_its_own_line(tmp_path: Path) -> None:
    rows = [HEADING, *(tree(f"{number:05d}", Status="Érable") for number in range(20_000))]
    content = csv_text(rows).encode()
    odd = content.replace(
        "19000,Acer saccharum,18,-87.35,47.05,Érable".encode(), b"19000,Acer saccharum,18,-87.35,47.05,\xc9rable"
    )
    assert odd != content
    table = open_table(write(tmp_path, odd))
    assert {row.values[5] for row in table.rows()} == {"Érable"}
    assert table.notices == []


def test_an_old_encoding_is_told(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, csv_text([HEADING, tree(Status="Zürich")]).encode("latin-1")))
    assert any("Windows-1252" in notice for notice in table.notices)


def test_lines_in_a_quoted_cell_and_every_line_end(tmp_path: Path) -> None:
    for end in ("\n", "\r\n", "\r"):
        text = end.join(
            [",".join(HEADING), '1,Acer rubrum,12,-87.35,47.05,"two', 'lines"', "2,Acer rubrum,12,-87.35,47.05,"]
        )
        rows = list(open_table(write(tmp_path, text)).rows())
        assert [row.values[5] for row in rows] == ["two\nlines", ""]
        assert [(row.number, row.line) for row in rows] == [(1, 2), (2, 4)]


def test_blank_rows_are_counted_but_not_given(tmp_path: Path) -> None:
    text = csv_text([HEADING, tree("1"), [], [""] * 6, [" "] * 6, tree("2")])
    assert [(row.number, row.line) for row in open_table(write(tmp_path, text)).rows()] == [(1, 2), (5, 6)]


def test_ragged_rows_are_reported_and_the_others_taken(tmp_path: Path) -> None:
    text = csv_text([HEADING, tree("1"), tree("2")[:4], [*tree("3"), "", ""], [*tree("4"), "more"], tree("5")])
    verdicts = read_all(open_table(write(tmp_path, text)))
    assert [one.number for one in verdicts if isinstance(one, TreeRow)] == ["1", "3", "5"]
    refused = [one for one in verdicts if not isinstance(one, TreeRow)]
    assert [(one.row, one.number, one.reason_code) for one in refused] == [(2, "2", "ragged"), (4, "4", "ragged")]
    assert refused[0].sentence.startswith("The row has 4 cells, the heading 6.")


def test_an_open_quote_costs_its_own_lines_and_no_more(tmp_path: Path) -> None:
    rows = [tree(f"{number:05d}") for number in range(9_000)]
    lines = csv_text([HEADING, *rows]).splitlines()
    lines[101] = lines[101].replace("Acer", '"Acer')
    verdicts = read_all(open_table(write(tmp_path, "\n".join(lines) + "\n")))
    refused = [one for one in verdicts if not isinstance(one, TreeRow)]
    assert [one.reason_code for one in refused] == ["open_quote"]
    assert refused[0].row == 101
    eaten = int(refused[0].values["lines"])
    assert len(verdicts) - 1 + eaten == 9_000
    assert verdicts[-1].number == "08999"
    assert verdicts[-1].row == 9_000


def test_an_open_quote_near_the_end_is_told(tmp_path: Path) -> None:
    text = csv_text([HEADING, tree("1"), tree("2"), tree("3")]).replace("2,Acer", '2,"Acer')
    verdicts = read_all(open_table(write(tmp_path, text)))
    assert [one.row for one in verdicts] == [1, 2]
    assert "A quote mark" in verdicts[1].sentence


def test_columns_of_one_name_are_made_distinct(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, "Tree,Note,Note,,Note\n1,a,b,c,d\n"))
    assert table.columns == ["Tree", "Note", "Note (2)", "Column 4", "Note (3)"]


def test_a_file_without_a_heading_is_told_and_keeps_its_first_tree(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, csv_text([tree("1"), tree("2")])))
    assert "no heading" in table.notices[0]
    assert table.columns[0] == "Column 1"
    assert [row.values[0] for row in table.rows()] == ["1", "2"]


def test_a_title_above_the_heading_is_passed_over(tmp_path: Path) -> None:
    text = "Street trees of Quillhaven\n\n" + csv_text([HEADING, tree("1"), tree("2")])
    table = open_table(write(tmp_path, text))
    assert table.columns == HEADING
    assert "passed over" in table.notices[0]
    assert [row.values[0] for row in table.rows()] == ["1", "2"]


def test_a_spreadsheets_own_first_line_is_understood(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, "sep=;\n" + csv_text([HEADING, tree("1")], ";")))
    assert table.columns == HEADING
    assert [row.values[0] for row in table.rows()] == ["1"]


def test_rows_can_be_read_again_and_tell_how_far_they_are(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, csv_text([HEADING, *(tree(str(number)) for number in range(1, 500))])))
    assert isinstance(table, CsvTable)
    assert list(table.rows()) == list(table.rows())
    assert table.read_bytes == table.size_bytes
    assert len(table.sample(10)) == 10


def test_zero_bytes_are_dropped_because_no_database_keeps_them(tmp_path: Path) -> None:
    table = open_table(write(tmp_path, csv_text([HEADING, *(tree() for _ in range(50)), tree(Status="o\x00k")])))
    assert [row.values[5] for row in table.rows()][-1] == "ok"
