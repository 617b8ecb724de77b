"""The tanks: what is in each, by when it is to be boiled, and what is done there."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.db.models import Q
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from sugarbush.audit.models import record
from sugarbush.boils import tables, tally
from sugarbush.boils.access import vessel_words
from sugarbush.boils.charts import temperature_chart
from sugarbush.boils.forms_tanks import DipForm, MoveForm, SeriesForm, TankForm, TemperatureForm
from sugarbush.boils.keeping import TankKeeping, keeping_of, keepings
from sugarbush.boils.keeping_worked import keeping_worked
from sugarbush.boils.series import read_series
from sugarbush.boils.tank_acts import (
    dip_tank,
    move_between_tanks,
    tip_out_tank,
    write_series,
    write_temperature,
)
from sugarbush.boils.views_depot import no_season
from sugarbush.parts.paging import page_of
from sugarbush.parts.qr import printed_address
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import balance_ml
from sugarbush.sap.models import Movement, Vessel, VesselKind
from sugarbush.sap.tanks import TankState, tank_states
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

SHOWN_READINGS = 500
TANKS_A_PAGE = 30
MOST_ALARMS = 6  # told in full; of the others the codes


def _row(tank: Vessel, state: TankState, keeping: TankKeeping | None) -> dict[str, Any]:
    capacity_ml = tank.capacity_ml or 0
    fill = state.volume_ml / capacity_ml if capacity_ml else 0
    return {
        "tank": tank,
        "state": state,
        "keeping": keeping,
        "room_ml": max(0, capacity_ml - state.volume_ml),
        "over_ml": max(0, state.volume_ml - capacity_ml) if capacity_ml else 0,
        "fill_pct": round(100 * fill),
        "bar": round(100 * min(1, fill), 1),
    }


def _state(tank: Vessel) -> TankState:
    """What is in it; its age comes with its keeping."""
    return tank_states([tank], tank.season, ages=False)[tank.pk]


def tank_of(request: SignedInRequest, pk: uuid.UUID) -> Vessel:
    access.require(request.user, "delivery.see", anywhere=True)
    return get_object_or_404(Vessel.objects.select_related("season", "depot"), pk=pk, kind=VesselKind.TANK)


@signed_in
@require_GET
def tanks(request: SignedInRequest) -> HttpResponseBase:
    """Every tank: how full, how sweet, how old, by when to boil it, and all of them together."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    found, kept = tally.tank_rows(season), keepings(season)
    rows = [_row(tank, state, kept.get(tank.pk)) for tank, state in found]
    if wants_file(request):
        return list_taken(request, "tanks", tables.tanks(request.user.units), rows)
    late = [row for row in rows if row["keeping"] and row["keeping"].is_late]
    soon = [row for row in rows if row["keeping"] and row["keeping"].is_soon]
    page = page_of(rows, request, per_page=TANKS_A_PAGE)
    context = {
        "season": season,
        "page": page,
        "rows": page.object_list,
        "late": late[:MOST_ALARMS],
        "late_more": late[MOST_ALARMS:],
        "soon": soon[:MOST_ALARMS],
        "soon_more": soon[MOST_ALARMS:],
        "room_ml": sum(row["room_ml"] for row in rows),
        "capacity_ml": sum(row["tank"].capacity_ml or 0 for row in rows),
        "tally": tally.tally([state for _tank, state in found], season),
        "may_accept": access.holds(request.user, "delivery.accept"),
    }
    return render(request, "boils/tanks.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def tank_new(request: SignedInRequest) -> HttpResponse:
    """Set up a tank for the season."""
    access.require(request.user, "delivery.accept", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    form = TankForm(request.POST or None, season=season, units=request.user.units)
    if request.method == "POST" and form.is_valid():
        vessel = _set_up(season, form.cleaned_data, request.user)
        messages.success(request, _("Tank %(code)s is set up.") % {"code": vessel.code})
        return redirect("tanks")
    return render(request, "boils/tank_new.html", {"form": form}, status=422 if form.is_bound else 200)


@transaction.atomic
def _set_up(season: Season, data: dict[str, Any], by: Person) -> Vessel:
    vessel, made = Vessel.objects.get_or_create(
        pk=data["vessel"] or uuid.uuid4(),
        defaults={
            "kind": VesselKind.TANK,
            "season": season,
            "depot": data["depot"],
            "code": data["code"],
            "capacity_ml": data["capacity"],
            "usual_temperature_c": data["usual_temperature"],
        },
    )
    if made:
        record(by=by, act="set up tank", subject=vessel)
    return vessel


@signed_in
@require_http_methods(["GET", "POST"])
def tank(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """One tank: its content, by when to boil it and why, its movements, and moving sap on."""
    vessel = tank_of(request, pk)
    may_accept = access.holds(request.user, "delivery.accept") and not vessel.season.is_closed
    others = Vessel.objects.filter(season=vessel.season, kind=VesselKind.TANK, out_of_use=False).exclude(pk=vessel.pk)
    units = request.user.units
    asked = request.POST.get("do", "") if request.method == "POST" else ""
    move = MoveForm(request.POST if asked in {"", "move"} and request.POST else None, others=others, units=units)
    dip = DipForm(request.POST if asked == "dip" else None, units=units, auto_id="id_dip_%s")
    reasons: list[Reason] = []
    status = 200
    if request.method == "POST":
        access.require(request.user, "delivery.accept", anywhere=True)
        form, act, status = (dip, _dip, 422) if asked == "dip" else (move, _move, 422)
        if form.is_valid():
            try:
                said = act(vessel, form.cleaned_data, request.user)
            except Refused as refused:
                reasons, status = list(refused.reasons), 409
            else:
                messages.success(request, said)
                return redirect("tank", vessel.pk)
    rows = (
        Movement.objects.filter(Q(from_vessel=vessel) | Q(to_vessel=vessel))
        .select_related("act", "act__author", "act__person", "from_vessel__person", "to_vessel__person")
        .order_by("-seq")
    )
    if request.method == "GET" and wants_file(request):
        return list_taken(request, f"tank-{vessel.code}", tables.tank_moves(vessel, request.user), rows)
    state, keeping = _state(vessel), keeping_of(vessel)
    row = _row(vessel, state, keeping)
    page, words = page_of(rows, request), vessel_words(request.user)
    for one in page:
        one.from_words, one.to_words = words(one.from_vessel), words(one.to_vessel)
    context = {
        **row,
        "row": row,
        "assumed": keeping.assumed(units) if keeping else [],
        "why": keeping.reasons(units) if keeping else [],
        "panel": keeping_worked(keeping, units) if keeping else None,
        "tally": tally.tally([state], vessel.season),
        "page": page,
        "form": move,
        "dip": dip,
        "reasons": reasons,
        "asked": asked,
        "may_accept": may_accept,
    }
    return render(request, "boils/tank.html", context, status=status)


def _move(vessel: Vessel, data: dict[str, Any], by: Person) -> str:
    if data["to"]:
        move_between_tanks(
            source=vessel,
            target=data["to"],
            volume_ml=data["volume"],
            by=by,
            reason=data["reason"],
            overfill_reason=data["overfill_reason"],
            happened_at=data["when"],
            act_id=data["act"],
        )
        return _("Moved into %(tank)s; its age goes with it.") % {"tank": data["to"]}
    tip_out_tank(
        tank=vessel,
        volume_ml=data["volume"],
        by=by,
        reason=data["reason"],
        happened_at=data["when"],
        act_id=data["act"],
    )
    return _("Tipped out, with your reason.")


def _dip(vessel: Vessel, data: dict[str, Any], by: Person) -> str:
    difference_ml = dip_tank(
        tank=vessel,
        measured_ml=data["measured"],
        by=by,
        explanation=data["explanation"],
        approved_by=data["approved_by"],
        act_id=data["act"],
    )
    return _("The books say now what the stick says.") if difference_ml else _("Stick and books agree.")


@signed_in
@require_POST
def tank_out_of_use(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Take an empty tank out of the lists."""
    access.require(request.user, "delivery.accept", anywhere=True)
    vessel = get_object_or_404(Vessel, pk=pk, kind=VesselKind.TANK)
    if vessel.season.is_closed:
        messages.error(request, _("Season %(year)d is closed.") % {"year": vessel.season.year})
        return redirect("tank", vessel.pk)
    if balance_ml(vessel):
        messages.error(request, _("There is still sap in it."))
        return redirect("tank", vessel.pk)
    if not vessel.out_of_use:
        vessel.out_of_use = True
        vessel.save(update_fields=["out_of_use"])
        record(by=request.user, act="tank out of use", subject=vessel)
    return redirect("tanks")


@signed_in
@require_http_methods(["GET", "POST"])
def tank_temperatures(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """The temperatures of a tank's sap: a drawing, the table, one more by hand, or a whole series."""
    vessel = tank_of(request, pk)
    may_write = access.holds(request.user, "delivery.accept") and not vessel.season.is_closed
    units = request.user.units
    asked = request.POST.get("do", "") if request.method == "POST" else ""
    one = TemperatureForm(request.POST if asked == "one" else None, units=units)
    series = SeriesForm(
        request.POST if asked == "series" else None,
        request.FILES if asked == "series" else None,
        units=units,
        auto_id="id_series_%s",
    )
    context: dict[str, Any] = {"tank": vessel, "may_write": may_write}
    status = 200
    if request.method == "POST":
        access.require(request.user, "delivery.accept", anywhere=True)
        status = 422
        if asked == "series" and series.is_valid():
            context["written"] = _write_series(vessel, series.cleaned_data["lines"], request.user)
            status, series = 200, SeriesForm(units=units, auto_id="id_series_%s")
        elif asked == "one" and one.is_valid():
            try:
                _write_one(vessel, one.cleaned_data, request.user)
            except Refused as refused:
                context["reasons"], status = list(refused.reasons), 409
            else:
                messages.success(request, _("Written down."))
                return redirect("tank-temperatures", vessel.pk)
    readings = vessel.temperatures.select_related("author").order_by("-happened_at")
    if request.method == "GET" and wants_file(request):
        return list_taken(request, f"temperatures-{vessel.code}", tables.temperatures(units), readings)
    context |= {
        "one": one,
        "series": series,
        "zone": timezone.get_current_timezone_name(),
        "page": page_of(readings, request),
        "chart": temperature_chart(list(readings[:SHOWN_READINGS]), units),
        "keeping": keeping_of(vessel),
    }
    return render(request, "boils/tank_temperatures.html", context, status=status)


def _write_one(vessel: Vessel, data: dict[str, Any], by: Person) -> None:
    write_temperature(
        tank=vessel,
        by=by,
        temperature_c=data["temperature"],
        happened_at=data["when"],
        frozen_solid=data["frozen_solid"],
        note=data["note"],
        reading_id=data["act"],
    )


def _write_series(vessel: Vessel, lines: str, by: Person) -> dict[str, Any]:
    read = read_series(lines, zone=timezone.get_current_timezone(), units=by.units, now=timezone.now())
    written = write_series(tank=vessel, by=by, taken=read.taken, left=read.left)
    added = ngettext("%(n)d line is written down.", "%(n)d lines are written down.", written.added)
    there = ngettext("%(n)d stood there already.", "%(n)d stood there already.", written.there)
    return {
        "added": added % {"n": written.added},
        "there": there % {"n": written.there} if written.there else "",
        "left": written.left,
    }


def _labelled(request: SignedInRequest, row: dict[str, Any]) -> dict[str, Any]:
    return row | {"address": printed_address(request, reverse("tank", args=[row["tank"].pk]))}


@signed_in
@require_GET
def tank_label(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """The label of one tank, to print and hang on it."""
    vessel = tank_of(request, pk)
    rows = [_labelled(request, _row(vessel, _state(vessel), keeping_of(vessel)))]
    return render(request, "boils/tank_labels.html", {"rows": rows, "back": vessel, "printed_at": timezone.now()})


@signed_in
@require_GET
def tank_labels(request: SignedInRequest) -> HttpResponse:
    """The labels of every tank in use, one a page."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    kept = keepings(season)
    rows = [_labelled(request, _row(vessel, state, kept.get(vessel.pk))) for vessel, state in tally.tank_rows(season)]
    return render(request, "boils/tank_labels.html", {"rows": rows, "back": None, "printed_at": timezone.now()})
