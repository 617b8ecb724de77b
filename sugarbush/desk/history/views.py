"""The page of the history, and the same as a table to take away. For coordinators and reviewers."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from django.db.models import QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from sugarbush.audit.models import AuditEvent
from sugarbush.audit.words import words_for
from sugarbush.desk.history.asked import HistoryForm
from sugarbush.desk.history.lines import Line, lines
from sugarbush.parts.context import units_of
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.paging import page_of
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import table_taken
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def history(request: SignedInRequest) -> HttpResponse:
    """Who did what to what, when, from what to what, and why: the newest first."""
    access.require(request.user, "audit.see", anywhere=True)
    form = HistoryForm(request.GET, units=units_of(request))
    page = page_of(form.rows().select_related("by", "about"), request)
    shown = lines(list(page), units_of(request))
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "form": form,
        "page": page,
        "lines": shown,
        "only": _only(form, shown),
        "csv_query": query.urlencode(),
        "zone": timezone.get_current_timezone_name(),
    }
    return render(request, "desk/history.html", context, status=200 if form.is_valid() else 422)


def _only(form: HistoryForm, shown: Sequence[Line]) -> str:
    """The one thing or person the page was opened for, in words; empty when it was for all."""
    if not form.is_valid():
        return ""
    asked = form.cleaned_data
    if asked["person"]:
        person = Person.objects.filter(pk=asked["person"]).first()
        return str(person or _("this person"))
    if asked["kind"] and asked["subject"]:
        return shown[0].thing if shown and shown[0].thing else _("this thing")
    return ""


@signed_in
@require_safe
def history_csv(request: SignedInRequest) -> StreamingHttpResponse:
    """The same acts as a table. Taking it away is an act itself."""
    access.require(request.user, "audit.see", anywhere=True)
    form = HistoryForm(request.GET, units=units_of(request))
    header = [
        _("number"),
        _("when (UTC)"),
        _("who"),
        _("act"),
        _("what was done"),
        _("kind of thing"),
        _("its number"),
        _("thing"),
        _("about whom"),
        _("old"),
        _("new"),
        _("why"),
    ]
    return table_taken(request, f"history-{timezone.localdate()}", header, csv_rows(form.rows()))


def csv_rows(events: QuerySet[AuditEvent]) -> Iterator[list[Cell]]:
    names = dict(Person.objects.values_list("pk", "display_name"))
    for event in events.iterator(chunk_size=500):
        yield [
            event.pk,
            event.at.strftime("%Y-%m-%dT%H:%M:%SZ"),
            names.get(event.by_id or 0, ""),
            event.act,
            words_for(event.act),
            event.subject_kind,
            event.subject_id,
            event.subject_text,
            names.get(event.about_id or 0, ""),
            json.dumps(event.old, ensure_ascii=False) if event.old else "",
            json.dumps(event.new, ensure_ascii=False) if event.new else "",
            event.reason,
        ]
