"""Beside the pan, on a phone or tablet: where to draw off, when to look again, what is still to go."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.boils import looks, pan
from sugarbush.boils.forms_pan import LookForm, ReadingForm, WaterForm
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.boils.views_days import day_or_404
from sugarbush.boils.worked import to_go_panel, water_panel
from sugarbush.core.boiling import standard_pressure_pa, water_boils_c
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

LEAST_EVERY, MOST_EVERY = 5, 15
SHALLOW_MM = 15  # common practice, no source: below about half an inch a pan scorches while one turns round


def batch_or_404(pk: uuid.UUID) -> Batch:
    rows = Batch.objects.select_related("boil_day__season", "boil_day__lead", "pan__season", "opened_by", "closed_by")
    return get_object_or_404(rows, pk=pk)


def on_watch(day: BoilDay) -> list[Person]:
    """Who stands at the pan now by the shifts."""
    now = timezone.now()
    there = {p.pk: p for s in day.shifts.all() if s.begins <= now < s.ends for p in s.people.all()}
    return list(there.values())


@signed_in
@require_http_methods(["GET", "HEAD"])
def pan_page(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """The boil-side page of one batch."""
    access.require(request.user, "delivery.see", anywhere=True)
    batch = batch_or_404(pk)
    if batch.state != BatchState.OPEN:
        return redirect("batch", batch.pk)
    day, now = batch.boil_day, timezone.now()
    shown = pan.pan_now(batch, now)
    minutes = shown.minutes_to_go(now)
    depth_mm = shown.depth_mm_on(day.pan_area_cm2)
    may_keep = access.holds(request.user, "boil.plan") and not day.season.is_closed
    context = {
        "batch": batch,
        "day": day,
        "pan": shown,
        "water": shown.water,
        "token": uuid.uuid4(),
        "ago_s": int((now - shown.looked_at).total_seconds()),
        "minutes": minutes,
        "shallow_mm": depth_mm if depth_mm is not None and depth_mm < SHALLOW_MM else None,
        "hours_to_go": (minutes or 0) / 60,
        "every": range(LEAST_EVERY, MOST_EVERY + 1),
        "words": clock_words(),
        "zone": timezone.get_current_timezone_name(),
        "stamp": stamp(batch),
        "watch": on_watch(day_or_404(day.pk)),
        "water_panel": water_panel(shown.water, day, request.user.units),
        "to_go_panel": to_go_panel(shown, day, request.user.units),
        "may_keep": may_keep,
        "may_watch": looks.may_watch(request.user, day),
        "too_long": looks.open_too_long(batch, now),
    }
    return render(request, "boils/pan.html", context)


def clock_words() -> dict[str, str]:
    """What the clock's script says; numbers go where {n} stands."""
    return {
        "by": _("Look at the pan by {n}"),
        "minutes": _("min"),
        "calm": _("Last look {n} min ago."),
        "late_head": _("Look at the pan now"),
        "late": _("Nobody has looked for {n} min."),
        "sound_on": _("Sound on"),
        "sound_off": _("Sound off"),
        "waits_one": _("1 look waits to be sent. It is kept on this device."),
        "waits": _("{n} looks wait to be sent. They are kept on this device."),
        "refused": _("A look was not taken:"),
        "seen": _("Kept."),
    }


def stamp(batch: Batch) -> str:
    """Changes with every act at the pan, so that another screen knows when to draw itself anew."""
    day = batch.boil_day
    return f"{batch.state}-{batch.readings.count()}-{day.water_boils_c or ''}"


@signed_in
@require_http_methods(["GET", "HEAD"])
def pan_now(request: SignedInRequest, pk: uuid.UUID) -> JsonResponse:
    """How long ago somebody last looked, for the screens beside this pan."""
    access.require(request.user, "delivery.see", anywhere=True)
    batch = batch_or_404(pk)
    ago_s = (timezone.now() - looks.last_look_at(batch)).total_seconds()
    return JsonResponse({"ago_s": round(ago_s), "stamp": stamp(batch), "open": batch.state == BatchState.OPEN})


@signed_in
@require_POST
def pan_look(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """ "I looked": pressed now, or sent later by a phone that had no signal."""
    access.require(request.user, "delivery.see", anywhere=True)
    batch = batch_or_404(pk)
    looks.require_watch(request.user, batch.boil_day)
    wants_json = "application/json" in request.headers.get("Accept", "")
    form = LookForm(request.POST)
    said, status = "", 200
    if form.is_valid():
        try:
            looks.look(batch=batch, by=request.user, at=form.at(), token=form.cleaned_data["token"])
        except Refused as refused:
            said, status = str(refused), 409
    else:
        said, status = _("This look could not be read. Press the button again."), 422
    if wants_json:
        return JsonResponse({"saved": status == 200, "said": said}, status=status)
    if said:
        messages.warning(request, said)
    return redirect("pan", batch.pk)


@signed_in
@require_http_methods(["GET", "POST"])
def pan_reading(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """What thermometer, hydrometer and stick said."""
    access.require(request.user, "delivery.see", anywhere=True)
    batch = batch_or_404(pk)
    looks.require_watch(request.user, batch.boil_day)
    form = ReadingForm(request.POST or None, units=request.user.units)
    status, refused_by = (422 if form.is_bound else 200), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            looks.look(
                batch=batch,
                by=request.user,
                at=given["when"],
                token=given["token"],
                temperature_c=given["temperature"],
                sugar_brix=given["sugar"],
                volume_ml=given["volume"],
                note=given["note"],
            )
        except Refused as refused:
            refused_by, status = refused.reasons, 409
        else:
            return redirect("pan", batch.pk)
    return act_page(
        request, batch, form, title=_("Log a reading"), press=_("Save the reading"), status=status, reasons=refused_by
    )


def act_page(
    request: SignedInRequest,
    batch: Batch,
    form: Any,
    *,
    title: str,
    press: str,
    status: int = 200,
    reasons: Any = None,
    **more: Any,
) -> HttpResponse:
    """The page of one act at the pan: what it is about, its fields, one big button."""
    context = {
        "batch": batch,
        "day": batch.boil_day,
        "form": form,
        "title": title,
        "press": press,
        "refused_by": reasons,
        **more,
    }
    return render(request, "boils/pan_act.html", context, status=status)


@signed_in
@require_http_methods(["GET", "POST"])
def day_water(request: SignedInRequest, pk: int) -> HttpResponse:
    """This morning's boiling water."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = day_or_404(pk)
    looks.require_watch(request.user, day)
    expected_c = water_boils_c(standard_pressure_pa(day.elevation_m))
    form = WaterForm(
        request.POST or None, units=request.user.units, expected_c=expected_c, initial={"water": day.water_boils_c}
    )
    open_batch = day.batches.filter(state=BatchState.OPEN).order_by("-number").first()
    if request.method == "POST" and form.is_valid():
        pan.measure_water(day=day, by=request.user, boils_c=form.cleaned_data["water"])
        return redirect("pan", open_batch.pk) if open_batch else redirect("day-pan", day.pk)
    context = {"day": day, "form": form, "batch": open_batch, "expected_c": expected_c}
    return render(request, "boils/pan_water.html", context, status=422 if form.is_bound else 200)


def day_pan_context(request: SignedInRequest, day: BoilDay) -> dict[str, Any]:
    water = pan.water_today(day)
    return {
        "day": day,
        "water": water,
        "water_panel": water_panel(water, day, request.user.units),
        "is_lit": day.state == BoilState.LIT,
        "watch": on_watch(day),
        "may_keep": access.holds(request.user, "boil.plan") and not day.season.is_closed,
        "may_watch": looks.may_watch(request.user, day),
    }
