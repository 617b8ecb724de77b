"""Boiling days and their batches."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import Count, Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.audit.models import record
from sugarbush.boils import batches, tally
from sugarbush.boils.forms import BoilDayForm, CloseForm, TakesForm
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.boils.views_depot import no_season
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import balance_ml
from sugarbush.sap.models import Movement
from sugarbush.sap.tanks import tank_state
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
def boil_days(request: SignedInRequest) -> HttpResponse:
    """The season's boiling days."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = BoilDay.objects.filter(season=season).select_related("lead").annotate(n_batches=Count("batches"))
    rows = rows.order_by("-day", "-pk")
    context = {
        "season": season,
        "page": page_of(rows, request),
        "tally": tally.tally([state for _tank, state in tally.tank_rows(season)], season),
        "may_plan": access.holds(request.user, "boil.plan"),
    }
    return render(request, "boils/days.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def boil_day_new(request: SignedInRequest) -> HttpResponse:
    """Call a boiling day."""
    access.require(request.user, "boil.plan", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    form = BoilDayForm(request.POST or None, units=request.user.units, initial={"day": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            form.instance.season, form.instance.lead = season, request.user
            day = form.save()
            record(by=request.user, act="call boiling day", subject=day)
        messages.success(request, _("The boiling day is called."))
        return redirect("boil-day", day.pk)
    return render(request, "boils/day_form.html", {"form": form}, status=422 if form.is_bound else 200)


@signed_in
@require_http_methods(["GET", "POST"])
def boil_day_edit(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change a boiling day: its crew, its safety lines."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay, pk=pk)
    form = BoilDayForm(request.POST or None, instance=day, units=request.user.units)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            form.save()
            record(by=request.user, act="change boiling day", subject=day)
        messages.success(request, _("Changed."))
        return redirect("boil-day", day.pk)
    return render(request, "boils/day_form.html", {"form": form, "day": day}, status=422 if form.is_bound else 200)


@signed_in
@require_http_methods(["GET", "POST"])
def boil_day(request: SignedInRequest, pk: int) -> HttpResponse:
    """One day: what stands before the fire, the tally, its batches, and a new batch."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = get_object_or_404(BoilDay.objects.select_related("season", "lead").prefetch_related("crew"), pk=pk)
    may_plan = access.holds(request.user, "boil.plan") and not day.season.is_closed
    rows = tally.tank_rows(day.season)
    holding = [(tank, state.volume_ml) for tank, state in rows if state.volume_ml]
    form = TakesForm(request.POST or None, tanks=holding, units=request.user.units)
    status, refused_by = 200, None
    if request.method == "POST":
        access.require(request.user, "boil.plan", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                batch = batches.open_batch(day=day, by=request.user, takes=form.takes())
            except Refused as refused:
                refused_by, status = refused.reasons, 409
            else:
                messages.success(request, _("Sap is in the pan."))
                return redirect("batch", batch.pk)
    context = {
        "day": day,
        "rows": rows,
        "tally": tally.tally([state for _tank, state in rows], day.season),
        "reasons": batches.why_not_lit(day, request.user) if day.state == BoilState.PLANNED else [],
        "batches": batch_rows(day),
        "form": form,
        "holding": holding,
        "refused_by": refused_by,
        "may_plan": may_plan,
        "is_lit": day.state == BoilState.LIT,
        "is_planned": day.state == BoilState.PLANNED,
    }
    return render(request, "boils/day.html", context, status=status)


def batch_rows(day: BoilDay) -> list[dict[str, Any]]:
    """Each batch with sap in and syrup out; two queries."""
    found = list(day.batches.select_related("pan", "lot").order_by("number"))
    sap_in = dict(
        Movement.objects.filter(to_vessel__in=[b.pan_id for b in found])
        .values_list("to_vessel_id")
        .annotate(ml=Sum("volume_ml"))
        .order_by()
    )
    out = dict(
        Movement.objects.filter(to_vessel__in=[b.lot_id for b in found if b.lot_id])
        .values_list("to_vessel_id")
        .annotate(ml=Sum("volume_ml"))
        .order_by()
    )
    return [{"batch": b, "sap_ml": sap_in.get(b.pan_id, 0), "syrup_ml": out.get(b.lot_id, 0)} for b in found]


@signed_in
@require_POST
def boil_step(request: SignedInRequest, pk: int) -> HttpResponse:
    """Light the fire, put it out, or call the day off."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay, pk=pk)
    step = request.POST.get("step", "")
    try:
        if step == "light":
            batches.light(day=day, by=request.user)
        elif step in {"out", "call_off"}:
            batches.put_out(
                day=day, by=request.user, called_off=step == "call_off", reason=request.POST.get("reason", "")
            )
    except Refused as refused:
        context = {"day": day, "reasons": refused.reasons}
        return render(request, "boils/refused.html", context, status=409)
    return redirect("boil-day", day.pk)


@signed_in
@require_http_methods(["GET", "POST"])
def batch(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """One batch: sap in, syrup out, the rest driven off."""
    access.require(request.user, "delivery.see", anywhere=True)
    found = get_object_or_404(
        Batch.objects.select_related("boil_day__season", "pan", "lot", "opened_by", "closed_by"), pk=pk
    )
    season = found.boil_day.season
    is_open = found.state == BatchState.OPEN
    form = CloseForm(request.POST or None, units=request.user.units)
    status = 200
    if request.method == "POST":
        access.require(request.user, "boil.plan", anywhere=True)
        status = 422
        if form.is_valid():
            data = form.cleaned_data
            try:
                batches.close_batch(
                    batch=found,
                    by=request.user,
                    syrup_ml=data["syrup"],
                    syrup_brix=data["syrup_brix"],
                    note=data["note"],
                    loss_reason=data["loss_reason"],
                )
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, _("The batch is closed; the rest of the pan counts as driven off."))
                return redirect("batch", found.pk)
    moves = Movement.objects.filter(to_vessel=found.pan).select_related("from_vessel").order_by("seq")
    gone = Movement.objects.filter(from_vessel=found.pan).select_related("to_vessel").order_by("seq")
    context = {
        "batch": found,
        "moves": moves,
        "gone": gone,
        "sap_ml": sum(move.volume_ml for move in moves),
        "in_pan_ml": balance_ml(found.pan),
        "tally": tally.tally([tank_state(found.pan, season)], season),
        "form": form,
        "is_open": is_open,
        "may_plan": access.holds(request.user, "boil.plan") and not season.is_closed,
    }
    return render(request, "boils/batch.html", context, status=status)
