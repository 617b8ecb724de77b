"""Boiling days: the list, calling one, its page with plan, crew and gate, and the sheet for paper."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Count, F, Sum
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.audit.changes import Changes
from sugarbush.boils import days, tables, tally
from sugarbush.boils.calendar import boil_event, depot_names
from sugarbush.boils.forms import AnswerForm, BoilDayForm
from sugarbush.boils.looks import LONGEST_OPEN, may_watch
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.boils.models_pan import Coming, DrawOff
from sugarbush.boils.pan import water_today
from sugarbush.boils.plan import DayPlan, jar_words, plan_of
from sugarbush.boils.shifts import Crew
from sugarbush.boils.views_depot import no_season
from sugarbush.boils.worked import plan_panels, water_panel
from sugarbush.parts.paging import page_of
from sugarbush.parts.qr import printed_address
from sugarbush.parts.reasons import Refused
from sugarbush.parts.sheets.answer import asked_kind
from sugarbush.sap.models import Movement
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn, change
from sugarbush.volunteers.taking_home import event_taken, list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

# What a new day takes over from the last one at the same yard: the pan stays, the permission does not.
TAKEN_OVER = ("site", "elevation_m", "pan_area_cm2", "pan_ml_h_m2", "fuel", "clear_mm")


@signed_in
def boil_days(request: SignedInRequest) -> HttpResponseBase:
    """The season's boiling days."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = BoilDay.objects.filter(season=season).select_related("lead").annotate(n_batches=Count("batches"))
    rows = rows.order_by("-day", "-pk")
    if wants_file(request):
        return list_taken(request, "boiling-days", tables.boil_days(request.user.units), rows)
    page = page_of(rows, request)
    found = list(page.object_list)
    mine = {row.boil_day_id: row for row in Coming.objects.filter(boil_day__in=found, person=request.user)}
    moves = days.moves_of(found)
    context = {
        "season": season,
        "page": page,
        "rows": [
            {
                "day": day,
                "answer": mine.get(day.pk),
                "moved": moves.get(day.pk),
                "stale": day.pk in mine and days.stale(mine[day.pk], moves.get(day.pk)),
            }
            for day in found
        ],
        "tally": tally.tally([state for _tank, state in tally.tank_rows(season)], season),
        "may_plan": access.holds(request.user, "boil.plan"),
    }
    return render(request, "boils/days.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def boil_day_new(request: SignedInRequest) -> HttpResponse:
    """Plan a boiling day, or call it at once."""
    access.require(request.user, "boil.plan", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    last = BoilDay.objects.order_by("-day", "-pk").first()
    initial: dict[str, Any] = {"day": timezone.localdate()}
    initial |= {name: getattr(last, name) for name in TAKEN_OVER} if last else {}
    form = BoilDayForm(request.POST or None, units=request.user.units, initial=initial)
    if request.method == "POST" and form.is_valid():
        form.instance.season = season
        called = request.POST.get("step") != "plan"
        day = days.keep_day(day=form.save(commit=False), by=request.user, called=called)
        messages.success(request, _("The boiling day is called.") if called else _("The day is kept as a plan."))
        return redirect("boil-day", day.pk)
    context = {"form": form, "tally": tally.tally([state for _t, state in tally.tank_rows(season)], season)}
    return render(request, "boils/day_form.html", context, status=422 if form.is_bound else 200)


@signed_in
@require_http_methods(["GET", "POST"])
def boil_day_edit(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change a boiling day: its time, its pan, its safety lines."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay.objects.select_related("season"), pk=pk)
    if day.season.is_closed:
        return redirect("boil-day", day.pk)
    form = BoilDayForm(request.POST or None, instance=day, units=request.user.units)
    status = 422 if form.is_bound else 200
    if request.method == "POST" and form.is_valid():
        try:
            change(row=day, by=request.user, values=form.values, seen=form.seen, act="change boiling day")
        except MovedOn as meanwhile:
            form.show_meanwhile(meanwhile.row)
            status = 409
        else:
            messages.success(request, _("Changed."))
            return redirect("boil-day", day.pk)
    context = {"form": form, "day": day, "tally": tally.tally([s for _t, s in tally.tank_rows(day.season)], day.season)}
    return render(request, "boils/day_form.html", context, status=status)


def day_or_404(pk: int) -> BoilDay:
    rows = BoilDay.objects.select_related("season", "lead").prefetch_related("crew", "shifts__people")
    return get_object_or_404(rows, pk=pk)


@signed_in
@require_http_methods(["GET", "HEAD"])
def boil_day(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """One day: its plan, who comes, what stands before the fire, its batches."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = day_or_404(pk)
    kind = asked_kind(request, "ics")
    if kind == "ics":
        changed = Changes("boils.boilday", [day.pk]).of(day.pk)
        event = boil_event(day, lambda path: printed_address(request, path), changed, depot_names())
        return event_taken(tables.day_file(day), event)
    if kind:
        return list_taken(request, tables.day_file(day), tables.shifts(), day.shifts.prefetch_related("people"))
    return render(request, "boils/day.html", day_context(request, day))


def day_context(request: SignedInRequest, day: BoilDay) -> dict[str, Any]:
    """All the page of a day shows."""
    season, person = day.season, request.user
    may_plan = access.holds(person, "boil.plan") and not season.is_closed
    is_ahead = day.state in days.UNLIT
    moved = days.moves_of([day]).get(day.pk)
    answers = list(day.answers.select_related("person").order_by("-answer", "person__display_name"))
    mine = next((row for row in answers if row.person_id == person.pk), None)
    plan = plan_of(day) if is_ahead or day.state == BoilState.LIT else None
    return {
        "day": day,
        "may_plan": may_plan,
        "may_watch": may_watch(person, day),
        "is_ahead": is_ahead,
        "is_lit": day.state == BoilState.LIT,
        "may_call": may_plan and day.state == BoilState.PLANNED,
        "may_answer": day.state in (BoilState.CALLED, BoilState.LIT),
        "reasons": days.why_not_lit(day, person) if is_ahead and may_plan else [],
        "moved": moved,
        "mine": mine,
        "mine_is_stale": mine is not None and days.stale(mine, moved),
        "answer_form": AnswerForm(initial={"note": mine.note if mine else ""}),
        "answers": [{"row": row, "stale": days.stale(row, moved)} for row in answers] if may_plan else [],
        "n_come": sum(row.answer == "yes" and not days.stale(row, moved) for row in answers),
        "batches": batch_rows(day),
        **plan_context(day, plan, person.units),
    }


def plan_context(day: BoilDay, plan: DayPlan | None, units: str) -> dict[str, Any]:
    """The plan, its shifts and gaps, and where water boils; for the page and for the sheet."""
    shifts = list(day.shifts.all())
    ends = plan.ends(day) if plan else None
    if ends is None and shifts:
        ends = max(shift.ends for shift in shifts)
    begins = day.starts_at or (min(shift.begins for shift in shifts) if shifts else None)
    water = water_today(day)
    crew = Crew(shifts)
    return {
        "plan": plan,
        "panels": plan_panels(day, plan, units) if plan else {},
        "water": water,
        "water_panel": water_panel(water, day, units),
        "jars": plan.jars(units) if plan else 0,
        "jar": jar_words(units),
        "shifts": [
            {"shift": shift, "adults": len(crew.adults_on(shift)), "out": crew.out_of(shift)} for shift in shifts
        ],
        "gaps": crew.gaps(begins, ends) if shifts and begins and ends else [],
        "ends": ends,
        "lines": [(getattr(day, name), day._meta.get_field(name).verbose_name) for name in days.CHECKLIST],  # type: ignore[union-attr]
    }


def batch_rows(day: BoilDay) -> list[dict[str, Any]]:
    """Each batch with sap in and syrup out; three queries."""
    found = list(day.batches.select_related("pan").order_by("number"))
    sap_in = dict(
        Movement.objects.filter(to_vessel__in=[b.pan_id for b in found])
        .values_list("to_vessel_id")
        .annotate(ml=Sum("volume_ml"))
        .order_by()
    )
    out = dict(
        DrawOff.objects.standing()
        .filter(batch__in=found)
        .values_list("batch_id")
        .annotate(ml=Sum("volume_ml"))
        .order_by()
    )
    now = timezone.now()
    return [
        {
            "batch": b,
            "sap_ml": sap_in.get(b.pan_id, 0),
            "syrup_ml": out.get(b.pk, 0),
            "too_long": b.state == BatchState.OPEN and now - b.opened_at > LONGEST_OPEN,
        }
        for b in found
    ]


@signed_in
@require_http_methods(["GET", "HEAD"])
def boil_day_sheet(request: SignedInRequest, pk: int) -> HttpResponse:
    """The plan on one sheet of paper: site, times, crew by shift, safety, fuel, sap, targets."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = day_or_404(pk)
    context = {"day": day, **plan_context(day, plan_of(day), request.user.units)}
    return render(request, "boils/day_sheet.html", context)


@signed_in
@require_POST
def boil_come(request: SignedInRequest, pk: int) -> HttpResponse:
    """ "I come" or "I can't"."""
    access.require(request.user, "delivery.see", anywhere=True)
    day = get_object_or_404(BoilDay, pk=pk)
    form = AnswerForm(request.POST)
    if form.is_valid():
        try:
            days.say(day=day, by=request.user, **form.cleaned_data)
        except Refused as refused:
            return refusal(request, day, refused)
        messages.success(request, _("Thank you, that is kept. Say it again if it changes."))
    return redirect("boil-day", day.pk)


def refusal(request: SignedInRequest, day: BoilDay, refused: Refused) -> HttpResponse:
    return render(request, "boils/refused.html", {"day": day, "reasons": refused.reasons}, status=409)


@signed_in
@require_POST
def boil_step(request: SignedInRequest, pk: int) -> HttpResponse:
    """Call the day, light the fire, put it out, move it to its rain date, or call it off."""
    access.require(request.user, "boil.plan", anywhere=True)
    day = get_object_or_404(BoilDay, pk=pk)
    reason = request.POST.get("reason", "")
    by = request.user
    steps = {
        "call": lambda: days.call(day=day, by=by),
        "light": lambda: days.light(day=day, by=by),
        "out": lambda: days.put_out(day=day, by=by),
        "call_off": lambda: days.put_out(day=day, by=by, called_off=True, reason=reason),
        "move": lambda: days.move_to_rain_day(day=day, by=by, reason=reason),
    }
    step = steps.get(request.POST.get("step", ""))
    if step is None:
        return redirect("boil-day", day.pk)
    try:
        step()
    except Refused as refused:
        return refusal(request, day, refused)
    return redirect("boil-day", day.pk)


def batches_of(day: BoilDay) -> list[Batch]:
    """The day's batches, the newest first."""
    return list(day.batches.select_related("pan").order_by(F("number").desc()))
