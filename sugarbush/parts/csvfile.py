"""Tables people take home: RFC 4180 rows, sent as they are read, safe to open in a spreadsheet."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from django.http import StreamingHttpResponse
from django.utils.functional import Promise
from django.utils.http import content_disposition_header

BYTE_ORDER_MARK = "\ufeff"
ROWS_IN_A_CHUNK = 500

Cell = str | int | float | Decimal | dt.date | dt.datetime | dt.time | Promise | object | None

# What makes a spreadsheet run a cell as a formula. The wide forms are read as formulas by East Asian builds.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?", re.ASCII)


def _plain(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe in front where one might."""
    text = text.replace("\x00", "")
    # Blanks before the sign do not protect: some programs trim them first.
    risky = text.startswith(_FORMULA_STARTS) or text.lstrip(" \u00a0\ufeff\u200b").startswith(_FORMULA_STARTS)
    return f"'{text}" if risky and not _NUMBER.fullmatch(text) else text


def cell_text(value: Cell) -> str:
    """One cell as it stands in the file.

    Numbers stand bare, text always in quotes: a reader that honours quotes keeps the noughts in front of a code.
    (The trick ="0042" would keep them in every spreadsheet, but is itself a formula.)

    >>> cell_text(7), cell_text("0042"), cell_text("=1+1"), cell_text("-7.5"), cell_text(None)
    ('7', '"0042"', '"\\'=1+1"', '"-7.5"', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return '"yes"' if value else '"no"'
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, int | float):
        return str(int(value)) if isinstance(value, int) else repr(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return '"' + _plain(str(value)).replace('"', '""') + '"'


def line(cells: Sequence[Cell]) -> str:
    """One record with its line end. RFC 4180, section 2: CRLF, quotes doubled inside quotes."""
    return ",".join(cell_text(cell) for cell in cells) + "\r\n"


def lines(header: Sequence[Cell], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """Header and rows, in pieces of some hundred lines, so that memory does not grow with the table."""
    piece = [line(header)]
    for row in rows:
        piece.append(line(row))
        if len(piece) >= ROWS_IN_A_CHUNK:
            yield "".join(piece)
            piece = []
    if piece:
        yield "".join(piece)


def csv_response(
    name: str, header: Sequence[Cell], rows: Iterable[Sequence[Cell]], bom: bool = True
) -> StreamingHttpResponse:
    """A table to take away. `name` without ".csv"; `rows` may be a generator over `queryset.iterator()`.

    bom: the mark by which spreadsheets know the letters are UTF-8; leave it out for other programs.
    """

    def body() -> Iterator[bytes]:
        if bom:
            yield BYTE_ORDER_MARK.encode()
        for piece in lines(header, rows):
            yield piece.encode("utf-8", "replace")

    response = StreamingHttpResponse(body(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=f"{name}.csv") or ""
    response["X-Content-Type-Options"] = "nosniff"
    return response
