"""The page on which a coordinator has an archive made, sees how far it is, and takes it away."""

from __future__ import annotations

import uuid

from django import forms
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.archive import jobs
from sugarbush.archive.models import Archive
from sugarbush.archive.tables import LEFT_OUT
from sugarbush.audit.models import record
from sugarbush.parts.forms import UnitsForm
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, member

LOOK_AGAIN_S = 3
SHOWN = 10


class ArchiveForm(UnitsForm):
    reason = forms.CharField(
        label=gettext_lazy("What is it for?"),
        help_text=gettext_lazy("A few words for the history: “kept for the winter”, “moving to the new machine”."),
        max_length=200,
    )


@never_cache
@member
@require_http_methods(["GET", "HEAD", "POST"])
def archive(request: SignedInRequest) -> HttpResponse:
    """Ask for an archive; those made lately, while they are kept. It looks again by itself while one is made."""
    access.require(request.user, "programme.archive")
    form = ArchiveForm(request.POST or None, units=request.user.units)
    if request.method == "POST" and form.is_valid():
        jobs.ask(by=request.user, reason=form.cleaned_data["reason"])
        return redirect("archive")
    made = list(Archive.objects.filter(by=request.user)[:SHOWN])
    for one in made:
        one.ready = jobs.file_of(one) is not None  # type: ignore[attr-defined]  # for the page
    context = {
        "form": form,
        "made": made,
        # What the reader came back for: the one act that stands out.
        "newest": next((one for one in made if one.ready), None),  # type: ignore[attr-defined]
        "look_again_s": LOOK_AGAIN_S if any(one.at_work for one in made) else None,
        "left_out": LEFT_OUT.values(),
        "kept_h": jobs.KEPT.total_seconds() // 3600,
    }
    return render(request, "archive/archive.html", context, status=422 if form.errors else 200)


@never_cache
@member
@require_safe
def archive_file(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """The file, for who asked, as long as they may still make one. Each time it is taken is noted."""
    access.require(request.user, "programme.archive")
    job = get_object_or_404(Archive, pk=pk, by=request.user)
    path = jobs.file_of(job)
    if path is None:
        raise Http404
    if request.method == "GET":
        record(by=request.user, act="take archive", subject=job, new={"sha256": job.sha256})
    response = FileResponse(path.open("rb"), content_type="application/zip")
    name = f"sugarbush-{job.asked_at:%Y-%m-%d-%H%M}.zip"
    response["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
