"""Pages of the files brought in: bring, match columns, preview, progress, report."""

from __future__ import annotations

import hashlib
import json
import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Programme
from sugarbush.trees import tables
from sugarbush.trees.files import ImportRun
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.taking import acts, preview
from sugarbush.trees.taking.acts import ACT
from sugarbush.trees.taking.forms import EDGES, BoxForm, BringForm, ColumnsForm
from sugarbush.trees.taking.report import csv_header, csv_rows, narrowed, what_came_of
from sugarbush.trees.taking.uploads import IntoDataFolder, KeptUpload
from sugarbush.trees.taking.views_past import choose_past, choosing_past
from sugarbush.trees.taking.words import (
    ended_sentence,
    may_go_on,
    reason_words,
    remark_words,
    sentence_of,
    what_words,
)
from sugarbush.trees.taking.work import mapping_of
from sugarbush.volunteers.access import require
from sugarbush.volunteers.taking_home import list_taken, table_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

State = ImportRun.State
Kind = ImportRun.Kind


def run_for(request: SignedInRequest, run_id: uuid.UUID) -> ImportRun:
    """A file for somebody who may take files in."""
    require(request.user, ACT, anywhere=True)
    run = ImportRun.objects.select_related("started_by").filter(pk=run_id).first()
    if run is None:
        raise Http404
    return run


@signed_in
@require_GET
def files(request: SignedInRequest) -> HttpResponseBase:
    require(request.user, ACT, anywhere=True)
    rows = ImportRun.objects.select_related("started_by")
    if wants_file(request):
        return list_taken(request, "files", tables.files(), rows)
    page = page_of(rows, request, per_page=30)
    return render(request, "trees/files/list.html", {"page": page})


@csrf_exempt  # the page below checks; the way the file is received has to be set before the form is read
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def file_new(request: SignedInRequest) -> HttpResponse:
    return _bring(request, Kind.TREES)


@csrf_exempt  # as above
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def streets_new(request: SignedInRequest) -> HttpResponse:
    return _bring(request, Kind.STREETS)


@csrf_exempt  # as above
@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def past_new(request: SignedInRequest) -> HttpResponse:
    return _bring(request, Kind.PAST)


def _bring(request: SignedInRequest, kind: str) -> HttpResponse:
    require(request.user, ACT, anywhere=True)
    if request.method != "POST":
        return _bring_page(request, kind)
    receiver = IntoDataFolder(request)
    request.upload_handlers = [receiver]
    answer = _receive(request, kind, receiver)
    if answer.status_code == 403:
        receiver.drop()
    return answer


@csrf_protect
def _bring_page(request: SignedInRequest, kind: str) -> HttpResponse:
    return _bring_form(request, kind, BringForm(kind=kind))


@csrf_protect
def _receive(request: SignedInRequest, kind: str, receiver: IntoDataFolder) -> HttpResponse:
    form = BringForm(request.POST, request.FILES, kind=kind)
    if receiver.refusal:
        form.errors.pop("file", None)
        form.add_error("file", receiver.refusal)
        return _bring_form(request, kind, form, status=422)
    if not form.is_valid():
        receiver.drop()
        return _bring_form(request, kind, form, status=422)
    sent: KeptUpload = form.cleaned_data["file"]
    try:
        run = acts.bring(by=request.user, kind=kind, kept=sent.kept, file_name=sent.name or "")
    except CannotRead as why:
        form.add_error("file", why.sentence)
        return _bring_form(request, kind, form, status=422)
    return redirect("file", run.pk)


def _bring_form(request: SignedInRequest, kind: str, form: BringForm, *, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "kind": kind,
        "for_trees": kind == Kind.TREES,
        "programme_open": Programme.current() is not None,
    }
    return render(request, "trees/files/new.html", context, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def file(request: SignedInRequest, run_id: uuid.UUID) -> HttpResponse:
    run = run_for(request, run_id)
    if request.method == "POST":
        return _act(request, run)
    return _file_page(request, run)


def _file_page(request: SignedInRequest, run: ImportRun) -> HttpResponse:
    if run.state == State.UPLOADED:
        return choosing_past(request, run) if run.kind == Kind.PAST else _choosing(request, run)
    if run.is_at_work:
        return render(request, "trees/files/at_work.html", {"run": run, **_progress(run)})
    return _report(request, run)


def _act(request: SignedInRequest, run: ImportRun) -> HttpResponse:
    act = request.POST.get("act", "")
    try:
        if act in {"look", "take"}:
            return _choose(request, run, take=act == "take")
        if act == "stop":
            acts.stop(by=request.user, run=run)
        elif act == "go-on":
            acts.go_on(by=request.user, run=run)
        elif act == "again":
            run = acts.again(by=request.user, run=run)
        elif act == "put-away":
            acts.put_away(by=request.user, run=run)
            messages.success(request, _("%(name)s is put away. Nothing was taken in.") % {"name": run.file_name})
            return redirect("files")
    except Refused as why:
        return _refused(request, run, why)
    return redirect("file", run.pk)


def _refused(request: SignedInRequest, run: ImportRun, why: Refused) -> HttpResponse:
    context = {"run": run, "reasons": why.reasons}
    return render(request, "trees/files/refused.html", context, status=409)


# Choosing columns and looking at what would come of them --------------------------


def _choose(request: SignedInRequest, run: ImportRun, *, take: bool) -> HttpResponse:
    if run.state != State.UPLOADED:
        messages.warning(request, _("This file was started already."))
        return redirect("file", run.pk)
    if run.kind == Kind.PAST:
        return choose_past(request, run, take=take)
    try:
        form = _form(run, request.POST)
    except CannotRead:
        return _choosing(request, run, status=422)
    if not form.is_valid():
        return _choosing(request, run, form=form, status=422)
    mapping, source = None, run.source
    if isinstance(form, ColumnsForm):
        before = mapping_of(run)
        mapping = before.with_changes(**form.changes(before))
        source = form.cleaned_data["source"]
    seen, drawn = request.POST.get("seen", ""), run.report.get("box")
    run = acts.choose(run=run, mapping=mapping, box=form.box, source=source)
    if run.report["box"] == drawn and _box_is_free():
        # The box was drawn by this page, not typed: other columns may draw another.
        run.report["box"] = preview.drawn_box(run)
        run.save()
    if not take:
        return redirect(f"{request.path}#preview")
    if seen != look_of(run):
        messages.warning(request, _("You changed something. Look at what would come of it, then take it in."))
        return redirect(f"{request.path}#preview")
    acts.start(by=request.user, run=run)
    return redirect("file", run.pk)


def _box_is_free() -> bool:
    programme = Programme.current()
    return programme is None or programme.box is None


def look_of(run: ImportRun) -> str:
    """A short mark of everything the preview rests on."""
    held = json.dumps([run.mapping, run.source, run.report.get("box")], sort_keys=True)
    return hashlib.sha256(held.encode()).hexdigest()[:16]


def _form(run: ImportRun, data: Any = None) -> ColumnsForm | BoxForm:
    initial: dict[str, Any] = dict(zip(EDGES, run.report.get("box") or [None] * 4, strict=True))
    if run.kind == Kind.STREETS:
        return BoxForm(data, initial=initial)
    table = open_table(run.path)
    mapping: Mapping = mapping_of(run)
    initial |= {**run.mapping, "source": run.source}
    sample = table.sample(acts.SAMPLE_ROWS)
    return ColumnsForm(data, initial=initial, columns=table.columns, sample=sample, unsure=mapping.unsure)


def _choosing(
    request: SignedInRequest, run: ImportRun, *, form: ColumnsForm | BoxForm | None = None, status: int = 200
) -> HttpResponse:
    found = preview.preview_of(run)
    try:
        form = form or _form(run)
    except CannotRead:
        form = None  # the preview says why
    before = ImportRun.objects.filter(sha256=run.sha256, kind=run.kind, state=State.DONE).first()
    context = {
        "run": run,
        "form": form,
        "found": found,
        "reasons": [(reason_words(code), count) for code, count in found.reasons.most_common()],
        "remarks": [(remark_words(code), count, 0) for code, count in found.remarks.most_common()],
        "seen": look_of(run),
        "before": before,
        "box_is_free": _box_is_free(),
        "for_trees": run.kind == Kind.TREES,
    }
    return render(request, "trees/files/choose.html", context, status=status)


# While it is read, and afterwards -------------------------------------------------


def _progress(run: ImportRun) -> dict[str, Any]:
    return {"per_cent": run.bytes_read * 100 // max(1, run.size_bytes), "for_trees": run.kind == Kind.TREES}


@signed_in
@require_GET
def file_progress(request: SignedInRequest, run_id: uuid.UUID) -> HttpResponse:
    """How far a file has come, for the page's script."""
    run = run_for(request, run_id)
    response = render(request, "trees/files/_progress.html", {"run": run, **_progress(run)})
    response["Cache-Control"] = "no-store"
    return response


def _report(request: SignedInRequest, run: ImportRun) -> HttpResponse:
    report, units = run.report, units_of(request)
    rows = run.problems.order_by("row_number", "pk")
    only = request.GET.get("only", "")
    rows = narrowed(rows, only)
    page = page_of(rows, request, per_page=50)
    context = {
        "run": run,
        "page": page,
        "problems": [(row, what_came_of(row), sentence_of(row, units)) for row in page],
        "only": only,
        "reasons": _by_count({reason_words(code): count for code, count in report.get("reasons", {}).items()}),
        "changes": _by_count({what_words(what): count for what, count in report.get("changes", {}).items()}),
        "remarks": [(remark_words(code), *counts) for code, counts in report.get("remarks", {}).items()],
        "gone": report.get("gone", 0),
        "ended": ended_sentence(run),
        "may_go_on": may_go_on(run),
        "for_trees": run.kind == Kind.TREES,
    }
    return render(request, "trees/files/report.html", context)


def _by_count(counts: dict[str, int]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda pair: (-pair[1], pair[0]))


@signed_in
@require_GET
def file_problems(request: SignedInRequest, run_id: uuid.UUID) -> StreamingHttpResponse:
    """The rows to look at, to take away."""
    run = run_for(request, run_id)
    return table_taken(
        request,
        f"rows-{run.pk.hex[:8]}",
        csv_header(),
        csv_rows(run.pk, units_of(request), request.GET.get("only", "")),
    )
