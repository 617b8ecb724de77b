"""The answer that carries a table, in the kind the address asks for: `?as=csv`, `?as=xlsx`, `?as=ods`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from django.http import Http404, HttpRequest, StreamingHttpResponse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext_lazy as _

from sugarbush.parts.csvfile import Cell, csv_response
from sugarbush.parts.sheets import ods, xlsx

AS = "as"
MARK = "bom"
SHEETS = {"xlsx": _("Spreadsheet (XLSX)"), "ods": _("Open spreadsheet (ODS)"), "csv": _("Plain table (CSV)")}
AT_ONCE = 500

_WRITERS: dict[str, tuple[str, Callable[..., Iterator[bytes]]]] = {
    "xlsx": (xlsx.MEDIA_TYPE, xlsx.xlsx),
    "ods": (ods.MEDIA_TYPE, ods.ods),
}


def asked_kind(request: HttpRequest, *more: str) -> str:
    """The kind of file the address asks for, or nothing. `more`: kinds beside the tables. Http404 for any other."""
    asked = request.GET.get(AS, "")
    if asked and asked not in SHEETS and asked not in more:
        raise Http404
    return asked


def sheet_response(
    kind: str, name: str, header: Sequence[Cell], rows: Iterable[Sequence[Cell]], *, bom: bool = True
) -> StreamingHttpResponse:
    """A table to take away. name: of the file, without its ending. rows: a generator over `queryset.iterator()`, say.

    Moments are told by the clock of the zone that is active now: with their offset in CSV, without in a spreadsheet,
    which knows none. bom: for CSV, the mark by which spreadsheets know the letters are UTF-8.
    """
    zone = timezone.get_current_timezone()
    rows = in_zone(rows, zone)
    if kind == "csv":
        return csv_response(name, header, _local(rows, zone), bom=bom)
    media_type, write = _WRITERS[kind]
    return file_response(write(name, header, _by_the_clock(rows, zone)), f"{name}.{kind}", media_type)


def file_response(body: Iterable[bytes], name: str, media_type: str) -> StreamingHttpResponse:
    """A file that is sent while it is made. name: with its ending."""
    response = StreamingHttpResponse(body, content_type=media_type)
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or ""
    response["X-Content-Type-Options"] = "nosniff"
    return response


def in_zone(rows: Iterable[Any], zone: dt.tzinfo) -> Iterator[Any]:
    """The rows, read in the zone of whoever asked: a file is sent after its request's own zone is put away."""
    waiting = iter(rows)
    while True:
        with timezone.override(zone):
            some = list(islice(waiting, AT_ONCE))
        if not some:
            return
        yield from some


def _local(rows: Iterable[Sequence[Cell]], zone: dt.tzinfo) -> Iterator[Sequence[Cell]]:
    for row in rows:
        yield [
            value.astimezone(zone).replace(microsecond=0)
            if isinstance(value, dt.datetime) and value.tzinfo is not None
            else value
            for value in row
        ]


def _by_the_clock(rows: Iterable[Sequence[Cell]], zone: dt.tzinfo) -> Iterator[Sequence[Cell]]:
    for row in rows:
        yield [
            (value.astimezone(zone) if value.tzinfo is not None else value).replace(tzinfo=None, microsecond=0)
            if isinstance(value, dt.datetime)
            else value
            for value in row
        ]
