"""A table as XLSX (ECMA-376), row by row.

Of our own, beside the same for ODS: the libraries for it keep 11 MB (XlsxWriter) and 22 MB (openpyxl) of the server's
memory once they are loaded, and write to the disk first. openpyxl and another reader read these files in the tests.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sugarbush.parts.sheets.cells import MOST_ROWS, escaped, is_empty, legal, number, plain
from sugarbush.parts.sheets.zipped import zipped

MEDIA_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
TEXT, DAY, MOMENT, HEAD = 1, 2, 3, 4  # the styles below, in their order
LARGEST_SHEET = 2**31
"""Bytes of XML in one sheet: beyond four gigabytes the ZIP would be of a kind some readers refuse."""

_XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_SHEET_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_STYLES = (
    f'{_XML}<styleSheet xmlns="{_MAIN}">'
    '<numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/>'
    '<numFmt numFmtId="165" formatCode="yyyy\\-mm\\-dd\\ hh:mm:ss"/></numFmts>'
    '<fonts count="2"><font><sz val="11"/><name val="Calibri"/></font>'
    '<font><b/><sz val="11"/><name val="Calibri"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>'
    '</fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="5"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    '<xf numFmtId="49" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    '<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    '<xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>'
    '<xf numFmtId="49" fontId="1" fillId="0" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)
_DAY_ONE = dt.date(1899, 12, 30)
_FIRST_SURE_DAY = dt.date(1900, 3, 1)  # before it the format counts a leap day that never was
# A reader takes _x000D_ for a sign by its number: text that happens to look so says it is none.
_LOOKS_LIKE_A_NUMBERED_SIGN = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")


def cell(value: Any, style: int = TEXT) -> str:
    """One cell. Text is text: what begins like a formula is not run, and a code keeps the noughts in front.

    >>> cell(7), cell("=1+1"), cell(None)
    ('<c><v>7</v></c>', '<c s="1" t="inlineStr"><is><t>=1+1</t></is></c>', '<c/>')
    """
    if is_empty(value):
        return "<c/>"
    written = number(value)
    if written is not None:
        return f"<c><v>{written}</v></c>"
    if isinstance(value, dt.datetime) and value.date() >= _FIRST_SURE_DAY:
        seconds = value.hour * 3600 + value.minute * 60 + value.second
        days = (value.date() - _DAY_ONE).days + seconds / 86_400
        return f'<c s="{MOMENT}"><v>{days!r}</v></c>'
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime) and value >= _FIRST_SURE_DAY:
        return f'<c s="{DAY}"><v>{(value - _DAY_ONE).days}</v></c>'
    text = plain(value)
    kept = ' xml:space="preserve"' if text != text.strip() or "\n" in text else ""
    text = _LOOKS_LIKE_A_NUMBERED_SIGN.sub("_x005F_", escaped(text))
    return f'<c s="{style}" t="inlineStr"><is><t{kept}>{text}</t></is></c>'


def xlsx(title: str, header: Sequence[Any], rows: Iterable[Sequence[Any]]) -> Iterator[bytes]:
    """The bytes of a workbook whose sheet holds the header and the rows; moments without a zone, as the reader's clock.

    title: the sheet's name, cut to what a sheet may be called.
    """
    yield from zipped(_parts(_sheet_name(title), header, iter(rows)))


def _parts(title: str, header: Sequence[Any], rows: Iterator[Sequence[Any]]) -> Iterator[tuple[str, Iterable[str]]]:
    count, ahead = 0, next(rows, None)
    while count == 0 or ahead is not None:
        count += 1
        sheet = _Sheet(header, rows, ahead)
        yield f"xl/worksheets/sheet{count}.xml", sheet.pieces()
        ahead = sheet.ahead
    numbers = range(1, count + 1)
    sheets = "".join(
        f'<sheet name="{escaped(title if n == 1 else f"{title[:27]} {n}")}" sheetId="{n}" r:id="rId{n}"/>'
        for n in numbers
    )
    ways = "".join(
        f'<Relationship Id="rId{n}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in numbers
    )
    kinds = "".join(
        f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_SHEET_KIND}.worksheet+xml"/>' for n in numbers
    )
    yield "xl/styles.xml", [_STYLES]
    yield (
        "xl/workbook.xml",
        [f'{_XML}<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{sheets}</sheets></workbook>'],
    )
    yield (
        "xl/_rels/workbook.xml.rels",
        _relationships(f'{ways}<Relationship Id="rId{count + 1}" Type="{_OFFICE}/styles" Target="styles.xml"/>'),
    )
    yield (
        "_rels/.rels",
        _relationships(f'<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/>'),
    )
    yield (
        "[Content_Types].xml",
        [
            f'{_XML}<Types xmlns="{_PACKAGE}/content-types">',
            '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>',
            '<Default Extension="xml" ContentType="application/xml"/>',
            f'<Override PartName="/xl/workbook.xml" ContentType="{_SHEET_KIND}.sheet.main+xml"/>{kinds}',
            f'<Override PartName="/xl/styles.xml" ContentType="{_SHEET_KIND}.styles+xml"/></Types>',
        ],
    )


def _relationships(inside: str) -> list[str]:
    return [f'{_XML}<Relationships xmlns="{_PACKAGE}/relationships">{inside}</Relationships>']


class _Sheet:
    """One sheet, filled until it is full; `ahead` is then the row that begins the next, or None."""

    def __init__(self, header: Sequence[Any], rows: Iterator[Sequence[Any]], ahead: Sequence[Any] | None) -> None:
        self.header, self.rows, self.ahead = header, rows, ahead

    def pieces(self) -> Iterator[str]:
        heads = [plain(head) for head in self.header]
        widths = "".join(
            f'<col min="{n}" max="{n}" width="{min(40, max(11, len(head) + 2))}" customWidth="1"/>'
            for n, head in enumerate(heads, start=1)
        )
        columns = f"<cols>{widths}</cols>" if widths else ""
        yield (
            f'{_XML}<worksheet xmlns="{_MAIN}"><sheetViews><sheetView workbookViewId="0">'
            '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>'
            f"{columns}<sheetData><row>{''.join(cell(head, HEAD) for head in heads)}</row>"
        )
        count, size = 1, 0
        while self.ahead is not None and count < MOST_ROWS and size < LARGEST_SHEET:
            piece = f"<row>{''.join([cell(value) for value in self.ahead])}</row>"
            count, size = count + 1, size + len(piece)
            yield piece
            self.ahead = next(self.rows, None)
        yield "</sheetData></worksheet>"


def _sheet_name(title: str) -> str:
    """A sheet's name: no more than 31 signs, none of those that mean something in a formula."""
    return re.sub(r"[\[\]:*?/\\']", " ", legal(title)).strip()[:31] or "Sheet1"
