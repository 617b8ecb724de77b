"""The shifts of a boiling day: lay them out, add, change, remove."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.boils import shifts
from sugarbush.boils.forms import ShiftForm
from sugarbush.boils.models import BoilDay
from sugarbush.boils.models_pan import Shift
from sugarbush.boils.plan import SHIFT_H, plan_of
from sugarbush.boils.views_days import refusal
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_POST
def lay_out(request: SignedInRequest, pk: int) -> HttpResponse:
    """Empty shifts for the planned hours."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay.objects.select_related("season"), pk=pk)
    plan = plan_of(day)
    try:
        shifts.lay_out(day=day, by=request.user, hours=plan.boil.total_h if plan.boil else SHIFT_H, shift_h=SHIFT_H)
    except Refused as refused:
        return refusal(request, day, refused)
    return redirect("boil-day", day.pk)


def _next_start(day: BoilDay) -> dict[str, Any]:
    """Where a new shift begins: at the end of the last one, else with the day, else now if it is today."""
    last = day.shifts.order_by("-ends").first()
    begins = last.ends if last else day.starts_at
    if begins is None and day.day == timezone.localdate():
        begins = timezone.now().replace(second=0, microsecond=0)
    # From the database both are in UTC, so this is elapsed time also on a day when the clocks change.
    return {"begins": begins, "ends": begins + dt.timedelta(hours=SHIFT_H)} if begins else {}


def _form(request: SignedInRequest, day: BoilDay, shift: Shift | None) -> HttpResponse:
    data = request.POST or None
    form = (
        ShiftForm(data, day=day, shift=shift, units=request.user.units)
        if shift
        else ShiftForm(data, day=day, initial=_next_start(day), units=request.user.units)
    )
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            shifts.keep_shift(
                day=day,
                by=request.user,
                begins=given["begins"],
                ends=given["ends"],
                task=given["task"],
                people=form.chosen(),
                shift=shift,
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            messages.success(request, _("The shift is kept."))
            return redirect("boil-day", day.pk)
    context = {"form": form, "day": day, "shift": shift, "refused_by": refused_by}
    return render(request, "boils/day_shift.html", context, status=status)


@signed_in
@require_http_methods(["GET", "POST"])
def shift_new(request: SignedInRequest, pk: int) -> HttpResponse:
    """Add a shift."""
    access.require(request.user, "boil.plan", anywhere=True)
    return _form(request, get_object_or_404(BoilDay.objects.select_related("season"), pk=pk), None)


@signed_in
@require_http_methods(["GET", "POST"])
def shift_edit(request: SignedInRequest, pk: int, shift: int) -> HttpResponse:
    """Change a shift, or take it off the day."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay.objects.select_related("season"), pk=pk)
    found = get_object_or_404(Shift, pk=shift, boil_day=day)
    if request.method == "POST" and request.POST.get("step") == "remove":
        try:
            shifts.remove_shift(shift=found, by=request.user)
        except Refused as refused:
            return refusal(request, day, refused)
        messages.success(request, _("The shift is taken off."))
        return redirect("boil-day", day.pk)
    return _form(request, day, found)
