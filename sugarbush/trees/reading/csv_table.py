"""CSV of any delimiter, encoding and quoting, row by row."""

import csv
import re
from collections.abc import Iterator
from pathlib import Path

from sugarbush.trees.reading.errors import EmptyFile, TooLarge, WrongKind
from sugarbush.trees.reading.kinds import Kind, encoding_of
from sugarbush.trees.reading.rows import MOST_COLUMNS, Progress, RawRow, Trouble, distinct_names
from sugarbush.trees.reading.text_lines import MOST_LINE_BYTES, text_lines
from sugarbush.trees.reading.words import gettext as _

# In a tie the earlier one wins: a comma may also be a decimal mark.
DELIMITERS = (";", "\t", "|", ",")
_HEAD_RECORDS = 60
# Handed to the csv reader after the last line. A quote left open swallows it, which shows the quote.
_LAST_LINE = "\x1e\n"
_NUMBER = re.compile(r"[-+]?\d+([.,]\d+)?\Z")
_BESIDE_NO_DIGIT = re.compile(r"(?<!\d),|,(?!\d)")
_SEPARATOR_HINT = re.compile(r"sep=(.)\s*\Z", re.IGNORECASE)


class CsvTable:
    """A CSV file, opened: delimiter, encoding and heading are known."""

    def __init__(self, path: Path, head: bytes) -> None:
        self._path = path
        self._progress = Progress()
        self.size_bytes = path.stat().st_size
        self.encoding = encoding_of(head)
        self.notices: list[str] = []
        self._tell_encoding(head)
        self._newline = _newline_of(head, self.encoding)
        self._hinted = False
        try:
            self.delimiter = self._find_delimiter()
        except TooLarge:
            if any(head.count(delimiter.encode()) > MOST_COLUMNS for delimiter in DELIMITERS):
                raise TooLarge("too_many_columns", limit=MOST_COLUMNS) from None
            raise
        self.has_header = True
        self._skip_records = 0
        self.columns: list[str] = []
        self._needed = 0
        self._find_heading()

    @property
    def kind(self) -> Kind:
        return "csv"

    @property
    def read_bytes(self) -> int:
        return self._progress.read_bytes

    def rows(self) -> Iterator[RawRow]:
        """Every row under the heading; a row that does not fit the heading carries its trouble."""
        width = len(self.columns)
        number = 0
        skip = self._skip_records
        for line, cells in self._records():
            if skip:
                skip -= 1
                continue
            number += 1
            if isinstance(cells, Trouble):
                yield RawRow(number, line, [""] * width, cells)
                number += int(cells.values["lines"]) - 1
            elif len(cells) == width:
                if cells[0].strip() or any(map(str.strip, cells)):
                    yield RawRow(number, line, cells, None)
            elif any(map(str.strip, cells)):
                yield self._uneven(number, line, cells)

    def sample(self, most: int = 200) -> list[RawRow]:
        """The first rows that fit the heading, at most so many."""
        found: list[RawRow] = []
        for row in self.rows():
            if row.trouble is None:
                found.append(row)
                if len(found) >= most:
                    break
        return found

    def _uneven(self, number: int, line: int, cells: list[str]) -> RawRow:
        width = len(self.columns)
        if len(cells) > width and not any(map(str.strip, cells[width:])):
            return RawRow(number, line, cells[:width], None)
        padded = cells[:width] + [""] * (width - len(cells))
        if self._needed <= len(cells) < width:
            return RawRow(number, line, padded, None)
        values = {"cells": str(len(cells)), "columns": str(width)}
        return RawRow(number, line, padded, Trouble("ragged", values))

    def _lines(self) -> Iterator[str]:
        self._progress = progress = Progress()
        with self._path.open("rb") as stream:
            yield from text_lines(stream, self.encoding, newline=self._newline, told=progress.add)
        yield _LAST_LINE

    def _records(self) -> Iterator[tuple[int, list[str] | Trouble]]:
        """Each record with the line it starts on. A quote that is never closed becomes a Trouble."""
        reader = csv.reader(self._lines(), delimiter=self.delimiter)
        line = 1
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error:
                # Above all a cell beyond the csv module's limit: an open quote eating line after line.
                yield line, _open_quote(reader.line_num - line + 1)
            else:
                if cells and cells[-1].endswith("\x1e\n") and cells[-1] != "\x1e":
                    yield line, _open_quote(reader.line_num - line)
                    return
                if cells == ["\x1e"]:
                    return
                yield line, cells
            line = reader.line_num + 1

    def _find_delimiter(self) -> str:
        head: list[str] = []
        size = 0
        for line in self._lines():
            head.append(line)
            size += len(line)
            if len(head) >= _HEAD_RECORDS * 2 or size > MOST_LINE_BYTES:
                break
        if head[-1] == _LAST_LINE:
            head.pop()
        if not any(map(str.strip, head)):
            raise EmptyFile("empty")
        if hint := _SEPARATOR_HINT.match(head[0]):
            # A spreadsheet's own first line, "sep=;".
            self._hinted = True
            return hint[1]
        scores = {delimiter: _evenness(head, delimiter) for delimiter in DELIMITERS}
        if max(scores[";"], scores["\t"], scores["|"]) >= (0.9, 2) and not _BESIDE_NO_DIGIT.search("".join(head)):
            scores[","] = (0.0, 1)
        return max(DELIMITERS, key=lambda delimiter: scores[delimiter])

    def _find_heading(self) -> None:
        first: list[list[str]] = []
        for _line, cells in self._records():
            first.append([] if isinstance(cells, Trouble) else cells)
            if len(first) >= _HEAD_RECORDS:
                break
        if self._hinted:
            first = first[1:]
        usual = _usual_width(first)
        heading = next(
            (place for place, cells in enumerate(first) if sum(map(bool, cells)) >= max(2, (usual + 1) // 2)),
            0,
        )
        names = first[heading] if first else []
        if len(names) > MOST_COLUMNS:
            raise TooLarge("too_many_columns", limit=MOST_COLUMNS)
        if len(names) < 2 and not any("POINT" in "".join(cells).upper() for cells in first):
            raise WrongKind("not_a_table")
        if heading:
            self.notices.append(_("Lines above the heading were passed over: %(count)d.") % {"count": heading})
        following = next((cells for cells in first[heading + 1 :] if len(cells) == len(names)), None)
        self.has_header = not _is_data(names, following)
        if not self.has_header:
            self.notices.append(
                _(
                    "This file has no heading: its first row is a tree. "
                    "The columns are called Column 1, Column 2 and so on."
                )
            )
            names = [""] * len(names)
        elif following is None and not any(any(cells) for cells in first[heading + 1 :]):
            raise EmptyFile("no_rows")
        self.columns = distinct_names(names)
        self._needed = max((place for place, name in enumerate(names, 1) if name.strip()), default=len(names))
        self._skip_records = int(self._hinted) + heading + int(self.has_header)

    def _tell_encoding(self, head: bytes) -> None:
        """A file mostly in an old encoding is read so and told; a stray byte in a UTF-8 file is mended in its line."""
        if self.encoding != "utf-8" or head.isascii():
            return
        accented = [line for line in head[: head.rfind(b"\n") + 1].splitlines() or [head] if not line.isascii()]
        if sum(map(_is_not_utf8, accented)) * 2 > len(accented):
            self.encoding = "cp1252"
            self.notices.append(
                _("This file is not in UTF-8, so it is read as Windows-1252. Look whether accented letters are right.")
            )


def _is_not_utf8(line: bytes) -> bool:
    try:
        line.decode("utf-8")
    except UnicodeDecodeError:
        return True
    return False


def _newline_of(head: bytes, encoding: str) -> str:
    text = head.decode(encoding, errors="replace")
    return "\r" if "\r" in text and "\n" not in text else "\n"


def _open_quote(lines: int) -> Trouble:
    return Trouble("open_quote", {"lines": str(max(lines, 1))})


def _evenness(head: list[str], delimiter: str) -> tuple[float, int]:
    """How evenly a delimiter cuts the first lines: the share of records as wide as most, then that width."""
    records: list[list[str]] = []
    try:
        for cells in csv.reader(head, delimiter=delimiter):
            if any(map(str.strip, cells)):
                records.append(cells)
    except csv.Error:
        pass
    usual = _usual_width(records)
    if usual < 2:
        return 0.0, usual
    even = sum(len(cells) == usual for cells in records) / len(records)
    # A heading cut into another number of cells than its rows points to a decimal comma, not a delimiter.
    if len(records[0]) != usual:
        even /= 2
    return round(even, 1), usual


def _usual_width(records: list[list[str]]) -> int:
    widths = [len(cells) for cells in records if any(cells)]
    return max(set(widths), key=lambda width: (widths.count(width), width), default=0)


def _is_data(names: list[str], following: list[str] | None) -> bool:
    """Whether the first row is a tree and not a heading: it has numbers where the next row has them."""
    numbers = {place for place, cell in enumerate(names) if _NUMBER.match(cell.strip())}
    if not numbers:
        return any(re.match(r"\s*POINT\s*Z?\s*\(", cell, re.IGNORECASE) for cell in names)
    if following is None:
        return len(numbers) * 2 >= len(names)
    next_numbers = {place for place, cell in enumerate(following) if _NUMBER.match(cell.strip())}
    return bool(numbers & next_numbers) and len(numbers) * 2 >= len(next_numbers)
