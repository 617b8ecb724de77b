"""A table somebody takes away as a file: each one is written into the history."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.parts import ics, places, vcard
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.sheets.answer import AS, MARK, asked_kind, file_response, in_zone, sheet_response
from sugarbush.parts.sheets.columns import Column, cells, heads
from sugarbush.volunteers.views_help import SignedInRequest

NOT_NARROWING = {"page", AS, MARK}


def wants_file(request: SignedInRequest, *more: str) -> bool:
    """Whether the address of a list asks for the list as a file. `more`: kinds beside the tables. 404 for another."""
    return bool(asked_kind(request, *more))


def write_down(request: SignedInRequest, name: str, *, act: str = "take a table", subject: Any = None) -> None:
    """An act in the history: who took which file.

    What narrowed the table is kept by name only: a search may hold somebody's name, and the history holds none.
    """
    if request.method == "GET":
        subject = subject or getattr(request, "programme", None) or request.user
        narrowed = sorted(key[:40] for key, value in request.GET.items() if value and key not in NOT_NARROWING)
        new = {"file": name, "kind": request.GET.get(AS) or "csv", "narrowed by": narrowed}
        record(by=request.user, act=act, subject=subject, new=new)


def table_taken(
    request: SignedInRequest, name: str, header: Sequence[Cell], rows: Iterable[Sequence[Cell]]
) -> StreamingHttpResponse:
    """The table in the kind the address asks for, CSV unless it says so. Its name without the ending.

    Call it only after the view has found what the person may see: the rows go out as they are.
    """
    kind = asked_kind(request) or "csv"
    write_down(request, name)
    return sheet_response(kind, name, header, rows, bom=request.GET.get(MARK) != "no")


def list_taken(
    request: SignedInRequest, name: str, columns: Sequence[Column], rows: Iterable[Any]
) -> StreamingHttpResponse:
    """The list a page shows, all pages of it, as a table: the same rows, each by these columns.

    name: of the list; the day is added. rows: the very query the page is cut from, so that the rights are the same.
    """
    return table_taken(request, f"{name}-{timezone.localdate()}", heads(columns), cells(columns, rows))


def places_taken(
    request: SignedInRequest, name: str, title: str, spots: Iterable[places.Spot], *, in_order: bool = False
) -> StreamingHttpResponse:
    """Places as GeoJSON or GPX, whichever the address asks for, and an act in the history.

    in_order: the places are a way on foot, so they come as a line or a route besides.
    """
    name = f"{name}-{timezone.localdate()}"
    write_down(request, name, act="take places")
    spots = in_zone(spots, timezone.get_current_timezone())
    if request.GET[AS] == "gpx":
        return file_response(places.gpx(title, spots, route=in_order), f"{name}.gpx", places.GPX_TYPE)
    return file_response(places.geojson(spots, line=in_order), f"{name}.geojson", places.GEOJSON_TYPE)


def cards_taken(request: SignedInRequest, name: str, cards: Iterable[vcard.Card]) -> StreamingHttpResponse:
    """Address cards in one file, and an act in the history. Looks at owners are written down by who makes the cards."""
    write_down(request, name, act="take cards")
    return file_response(vcard.cards(cards), f"{name}.vcf", vcard.MEDIA_TYPE)


def event_taken(name: str, event: ics.Event) -> HttpResponse:
    """One event for a calendar. It says no more than the page it is on, so no act is written."""
    response = HttpResponse(ics.calendar(name, [event]), content_type=ics.MEDIA_TYPE)
    response["Content-Disposition"] = f'attachment; filename="{name}.ics"'
    response["Cache-Control"] = "private, no-store"
    return response
