"""The label of a lot, for its cases and its shelf, and what a scan of it opens."""

from __future__ import annotations

import uuid

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from sugarbush.lots.models import Lot
from sugarbush.parts.qr import opens_only_here, printed_address
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

A_PAGE = 8


@signed_in
@require_safe
def lot_label(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """A page of eight alike, to cut."""
    access.require(request.user, "lot.see", anywhere=True)
    lot = get_object_or_404(Lot.objects.select_related("season"), pk=pk)
    address = printed_address(request, reverse("lot-scan", args=[lot.pk]))
    context = {"lot": lot, "address": address, "alike": range(A_PAGE), "only_here": opens_only_here(address)}
    return render(request, "lots/label.html", context)


@signed_in
@require_safe
def lot_scan(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Whose sap is in it, for those who may trace; the lot itself for everybody else of the programme."""
    access.require(request.user, "lot.see", anywhere=True)
    lot = get_object_or_404(Lot, pk=pk)
    if access.holds(request.user, "lot.trace"):
        return redirect(f"{reverse('trace')}?lot={lot.pk}")
    return redirect("lot", lot.pk)
