"""A table somebody takes away as a file: each one is written into the history."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.http import StreamingHttpResponse
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.sheets.answer import AS, MARK, asked_kind, sheet_response
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
