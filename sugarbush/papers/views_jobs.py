"""A long print: how far it is, and its file when it is ready."""

from __future__ import annotations

import uuid

from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.papers import jobs
from sugarbush.papers.kinds import kind_of
from sugarbush.papers.models import PrintJob
from sugarbush.volunteers.views_help import SignedInRequest, member

LOOK_AGAIN_S = 2


def _job(request: SignedInRequest, pk: uuid.UUID) -> PrintJob:
    return get_object_or_404(PrintJob, pk=pk, by=request.user)


@never_cache
@member
@require_http_methods(["GET", "HEAD", "POST"])
def paper_job(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """How far a long print is. It asks for itself again while it waits; a press goes on with boxes."""
    job = _job(request, pk)
    if request.method == "POST" and job.cannot_show:
        kind = kind_of(job.kind)
        return redirect("paper-job", jobs.start(kind, jobs.asked_again(job), anyway=True).pk)
    context = {
        "job": job,
        "ready": jobs.file_of(job) is not None,
        "look_again_s": LOOK_AGAIN_S if job.at_work else None,
        "characters": list(job.cannot_show)[:60],
    }
    return render(request, "papers/job.html", context)


@never_cache
@member
@require_safe
def paper_job_file(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """The file, for who asked, as long as they may still print it."""
    job = _job(request, pk)
    path = jobs.file_of(job)
    if path is None:
        raise Http404
    kind = kind_of(job.kind)
    jobs.require_same_part(job, request.user)
    kind.still_may(jobs.asked_again(job))
    response = FileResponse(path.open("rb"), content_type="application/pdf")
    response["Content-Disposition"] = (
        content_disposition_header(True, f"{kind.file_name or kind.key}.pdf") or "attachment"
    )
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
