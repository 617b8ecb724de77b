"""A table somebody takes away as a file: each one is written into the history."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.http import StreamingHttpResponse

from sugarbush.audit.models import record
from sugarbush.parts.csvfile import Cell, csv_response
from sugarbush.volunteers.views_help import SignedInRequest


def table_taken(
    request: SignedInRequest, name: str, header: Sequence[Cell], rows: Iterable[Sequence[Cell]]
) -> StreamingHttpResponse:
    """The table as CSV, and an act in the history: who took which table. Its name without ".csv".

    What narrowed the table is kept by name only: a search may hold somebody's name, and the history holds none.
    """
    if request.method == "GET":
        subject = getattr(request, "programme", None) or request.user
        narrowed = sorted(key[:40] for key, value in request.GET.items() if value and key != "page")
        record(by=request.user, act="take a table", subject=subject, new={"file": name, "narrowed by": narrowed})
    return csv_response(name, header, rows)
