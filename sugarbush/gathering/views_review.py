"""Entries to review, settled by somebody other than who wrote them."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.gathering import tables
from sugarbush.gathering.actions import settle
from sugarbush.gathering.forms import SettleForm
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
def review_list(request: SignedInRequest) -> HttpResponseBase:
    """Every entry that waits for somebody's look."""
    access.require(request.user, "collection.see", anywhere=True)
    rows = (
        Collection.objects.filter(access.scope(request.user, "collection.see").filter(), state=CollectionState.REVIEW)
        .select_related("tree", "person", "group")
        .order_by("happened_at")
    )
    if wants_file(request):
        return list_taken(request, "entries-to-look-at", tables.to_review(request.user.units), rows)
    may_settle = access.holds(request.user, "collection.settle")
    context = {"page": page_of(rows, request), "may_settle": may_settle}
    return render(request, "gathering/review.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def review_one(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """One entry to review: its reasons, and the three ways to settle it."""
    rows = Collection.objects.select_related("tree", "person", "season", "group")
    entry = get_object_or_404(rows.filter(access.scope(request.user, "collection.see").filter()), pk=pk)
    if entry.state != CollectionState.REVIEW and request.method == "GET":
        return redirect("log-entry", entry.pk)
    access.require(request.user, "collection.settle", group_id=entry.group_id)
    form = SettleForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                settle(entry=entry, by=request.user, **form.cleaned_data)
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, _("Settled."))
                return redirect("review-list")
    return render(request, "gathering/settle.html", {"entry": entry, "form": form}, status=status)
