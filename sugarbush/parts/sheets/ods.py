"""A table as ODS (OpenDocument 1.3), row by row. No library that comes as a wheel writes it while it is sent."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sugarbush.parts.sheets.cells import MOST_ROWS, escaped, is_empty, legal, number, plain, quoted
from sugarbush.parts.sheets.zipped import zipped

MEDIA_TYPE = "application/vnd.oasis.opendocument.spreadsheet"

_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_NS = "urn:oasis:names:tc:opendocument:xmlns"
_DAY_PARTS = (
    '<number:year number:style="long"/><number:text>-</number:text><number:month number:style="long"/>'
    '<number:text>-</number:text><number:day number:style="long"/>'
)
_TIME_PARTS = (
    '<number:text> </number:text><number:hours number:style="long"/><number:text>:</number:text>'
    '<number:minutes number:style="long"/><number:text>:</number:text><number:seconds number:style="long"/>'
)
_START = (
    f'{_XML}<office:document-content xmlns:office="{_NS}:office:1.0" xmlns:table="{_NS}:table:1.0"'
    f' xmlns:text="{_NS}:text:1.0" xmlns:style="{_NS}:style:1.0" xmlns:number="{_NS}:datastyle:1.0"'
    f' xmlns:fo="{_NS}:xsl-fo-compatible:1.0" office:version="1.3"><office:automatic-styles>'
    f'<number:date-style style:name="N1">{_DAY_PARTS}</number:date-style>'
    f'<number:date-style style:name="N2">{_DAY_PARTS}{_TIME_PARTS}</number:date-style>'
    '<number:text-style style:name="N3"><number:text-content/></number:text-style>'
    '<style:style style:name="day" style:family="table-cell" style:data-style-name="N1"/>'
    '<style:style style:name="moment" style:family="table-cell" style:data-style-name="N2"/>'
    '<style:style style:name="text" style:family="table-cell" style:data-style-name="N3"/>'
    '<style:style style:name="head" style:family="table-cell" style:data-style-name="N3">'
    '<style:text-properties fo:font-weight="bold"/></style:style>'
    '<style:style style:name="wide" style:family="table-column">'
    '<style:table-column-properties style:column-width="3.2cm"/></style:style>'
    "</office:automatic-styles><office:body><office:spreadsheet>"
)
_END = "</office:spreadsheet></office:body></office:document-content>"
_MANIFEST = (
    f'{_XML}<manifest:manifest xmlns:manifest="{_NS}:manifest:1.0" manifest:version="1.3">'
    f'<manifest:file-entry manifest:full-path="/" manifest:version="1.3" manifest:media-type="{MEDIA_TYPE}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
)
# Blanks that XML would fold into one are written as what they are.
_BLANKS = re.compile(r"^ +| +$|  +|\t")


def _blanks(found: re.Match[str]) -> str:
    return "<text:tab/>" if found[0] == "\t" else f'<text:s text:c="{len(found[0])}"/>'


def _paragraphs(text: str) -> str:
    return "".join(f"<text:p>{_BLANKS.sub(_blanks, escaped(line))}</text:p>" for line in text.split("\n"))


def cell(value: Any, style: str = "text") -> str:
    """One cell. Text is text: what begins like a formula is not run, and a code keeps the noughts in front.

    >>> cell(7)
    '<table:table-cell office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell>'
    """
    if is_empty(value):
        return "<table:table-cell/>"
    written = number(value)
    if written is not None:
        return (
            f'<table:table-cell office:value-type="float" office:value="{written}">'
            f"<text:p>{written}</text:p></table:table-cell>"
        )
    if isinstance(value, dt.date):
        name = "moment" if isinstance(value, dt.datetime) else "day"
        iso = value.isoformat()
        return (
            f'<table:table-cell table:style-name="{name}" office:value-type="date" office:date-value="{iso}">'
            f"<text:p>{iso.replace('T', ' ')}</text:p></table:table-cell>"
        )
    return (
        f'<table:table-cell table:style-name="{style}" office:value-type="string">'
        f"{_paragraphs(plain(value))}</table:table-cell>"
    )


def ods(title: str, header: Sequence[Any], rows: Iterable[Sequence[Any]]) -> Iterator[bytes]:
    """The bytes of a spreadsheet whose table holds the header and the rows. title: the table's name."""
    parts: list[tuple[str, Iterable[str]]] = [
        ("META-INF/manifest.xml", [_MANIFEST]),
        ("content.xml", _content(title, header, iter(rows))),
    ]
    yield from zipped(parts, kind=MEDIA_TYPE)


def _content(title: str, header: Sequence[Any], rows: Iterator[Sequence[Any]]) -> Iterator[str]:
    title = re.sub(r"[\[\]:*?/\\']", " ", legal(title)).strip() or "Sheet1"
    heads = "".join(cell(head, "head") for head in header)
    yield _START
    sheet, ahead = 0, next(rows, None)
    while sheet == 0 or ahead is not None:
        sheet += 1
        name = title if sheet == 1 else f"{title} {sheet}"
        yield (
            f'<table:table table:name="{quoted(name)}">'
            f'<table:table-column table:style-name="wide" table:number-columns-repeated="{max(1, len(header))}"/>'
            f"<table:table-header-rows><table:table-row>{heads}</table:table-row></table:table-header-rows>"
        )
        count = 1
        while ahead is not None and count < MOST_ROWS:
            yield f"<table:table-row>{''.join([cell(value) for value in ahead])}</table:table-row>"
            count, ahead = count + 1, next(rows, None)
        yield "</table:table>"
    yield _END
