"""Corrections after a season has closed."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.gathering import tables
from sugarbush.gathering.actions import standing_movements
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.review.actions import correct_after_closing
from sugarbush.review.forms import LateForm
from sugarbush.review.views import find_season
from sugarbush.sap.models import Cause
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def late_entries(request: SignedInRequest) -> HttpResponseBase:
    """Find the entry that was wrong: the counted entries of one tree."""
    season = find_season(request)
    access.require(request.user, "season.step", anywhere=True)
    if season is None or not season.is_closed:
        raise Http404
    code = request.GET.get("tree", "").strip()
    rows = Collection.objects.filter(season=season, state=CollectionState.COUNTED, tree__code__iexact=code)
    rows = rows.select_related("tree", "person", "group").order_by("happened_at", "pk")
    if wants_file(request):
        return list_taken(request, f"entries-{code}", tables.entries(request.user.units), rows)
    page = page_of(rows, request)
    return render(request, "review/late.html", {"season": season, "code": code, "page": page})


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def late_entry(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Say what really came out of the tree."""
    access.require(request.user, "season.step", anywhere=True)
    rows = Collection.objects.filter(season__closed_at__isnull=False, state=CollectionState.COUNTED)
    entry = get_object_or_404(rows.select_related("tree", "person", "season", "group"), pk=pk)
    now_ml = sum(row.volume_ml for row in standing_movements(entry) if row.cause == Cause.OUT_OF_TREE)
    form = LateForm(request.POST or None, units=request.user.units, initial={"volume": now_ml})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            data = form.cleaned_data
            try:
                correct_after_closing(entry=entry, by=request.user, volume_ml=data["volume"], reason=data["reason"])
            except Refused as refusal:
                form.add_error(None, [str(reason) for reason in refusal.reasons])
                status = 409
            else:
                messages.success(request, _("Written down as a correction after closing."))
                return redirect(f"{reverse('season-review')}?year={entry.season.year}#late")
    context = {"entry": entry, "form": form, "now_ml": now_ml}
    return render(request, "review/late_entry.html", context, status=status)
