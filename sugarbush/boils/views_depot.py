"""The depot: deliveries and tanks."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.db.models import Q, Sum
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.audit.models import record
from sugarbush.boils import tally
from sugarbush.boils.actions import (
    Differs,
    accept_delivery,
    ahead_vessel,
    move_between_tanks,
    settle_ahead,
    tip_out_tank,
)
from sugarbush.boils.forms_depot import AheadForm, DeliveryForm, LineForms, MoveForm, TankForm, filled
from sugarbush.boils.models import Delivery, DeliveryState
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import balance_ml, balances_ml
from sugarbush.sap.models import Movement, Vessel, VesselKind
from sugarbush.sap.tanks import tank_state
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


def no_season(request: SignedInRequest) -> HttpResponse:
    return render(request, "boils/no_season.html", {"may_start": access.holds(request.user, "season.change")})


def seen_deliveries(request: SignedInRequest) -> Any:
    """Deliveries this person may see: all for depot people, coordinators and reviewers; else own ones."""
    rows = Delivery.objects.select_related("person", "depot", "season", "keeper")
    if (
        access.scope(request.user, "delivery.accept").everything
        or access.scope(request.user, "delivery.see").everything
    ):
        return rows
    return rows.filter(person=request.user)


@signed_in
def deliveries(request: SignedInRequest) -> HttpResponse:
    """Deliveries of the season, newest first, and who still carries sap."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = seen_deliveries(request).filter(season=season).annotate(measured_ml=Sum("lines__volume_ml"))
    rows = rows.order_by("-happened_at", "-number")
    if request.GET.get("state") in DeliveryState.values:
        rows = rows.filter(state=request.GET["state"])
    may_accept = access.holds(request.user, "delivery.accept")
    context = {
        "season": season,
        "page": page_of(rows, request),
        "carrying": carrying(season) if may_accept else [],
        "may_accept": may_accept,
        "ahead": DeliveryState.AHEAD,
        "state": request.GET.get("state", ""),
    }
    return render(request, "boils/deliveries.html", context)


def carrying(season: Season) -> list[tuple[Person, int]]:
    """Who holds sap now, the most first; three queries."""
    hands = Vessel.objects.filter(season=season, kind=VesselKind.HANDS).select_related("person")
    held = balances_ml([vessel.pk for vessel in hands])
    found = [(vessel.person, held[vessel.pk]) for vessel in hands if vessel.person and held[vessel.pk]]
    return sorted(found, key=lambda row: (-row[1], row[0].display_name))


@signed_in
@require_http_methods(["GET", "POST"])
def delivery_new(request: SignedInRequest) -> HttpResponse:
    """Accept what somebody brought, container by container."""
    access.require(request.user, "delivery.accept", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    units, tanks = request.user.units, tally.tanks_of(season)
    tank_rows = Vessel.objects.filter(pk__in=[tank.pk for tank in tanks]).order_by("code")
    if request.method == "GET":
        start = {"delivery": uuid.uuid4(), "person": request.GET.get("person"), "depot": first_depot(tanks)}
        form = DeliveryForm(initial=start, season=season, units=units)
        lines = LineForms(form_kwargs={"tanks": tank_rows, "units": units})
        return render(request, "boils/delivery_new.html", new_context(season, form, lines, tanks))
    form = DeliveryForm(request.POST, season=season, units=units)
    lines = LineForms(request.POST, form_kwargs={"tanks": tank_rows, "units": units})
    valid = form.is_valid()
    filled_valid = lines.management_form.is_valid() and all(line.is_valid() for line in filled(lines))
    reasons: list[Reason] = []
    status = 422
    if valid and filled_valid:
        data = form.cleaned_data
        try:
            delivery = accept_delivery(
                depot=data["depot"],
                person=data["person"],
                keeper=request.user,
                lines=[line.line() for line in filled(lines)],
                all_of_it=data["all_of_it"],
                happened_at=data["when"],
                explanation=data["explanation"],
                ahead=data["ahead"],
                approved_by=data["approved_by"],
                overfill_reason=data["overfill_reason"],
                delivery_id=data["delivery"],
                note=data["note"],
            )
        except Refused as refused:
            reasons = list(refused.reasons)
            status = 409 if isinstance(refused, Differs) else 422
        else:
            messages.success(request, _("Delivery %(number)s is accepted.") % {"number": delivery})
            return redirect("delivery", delivery.pk)
    context = new_context(season, form, lines, tanks) | {"reasons": reasons}
    return render(request, "boils/delivery_new.html", context, status=status)


def first_depot(tanks: list[Vessel]) -> Any:
    return tanks[0].depot_id if tanks else None


def new_context(season: Season, form: DeliveryForm, lines: Any, tanks: list[Vessel]) -> dict[str, Any]:
    held = balances_ml([tank.pk for tank in tanks])
    return {
        "season": season,
        "form": form,
        "lines": lines,
        "tanks": [(tank, held[tank.pk], max(0, (tank.capacity_ml or 0) - held[tank.pk])) for tank in tanks],
        "later_open": any(form[name].value() for name in DeliveryForm.LATER) or form.is_bound,
        "carrying": carrying(season),
    }


@signed_in
@require_http_methods(["GET", "POST"])
def delivery(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """The receipt of one delivery; where it was ahead of its entries, the place to close it."""
    found = get_object_or_404(seen_deliveries(request), pk=pk)
    lines = list(found.lines.select_related("tank", "container"))
    may_accept = access.holds(request.user, "delivery.accept")
    tanks = Vessel.objects.filter(season=found.season, kind=VesselKind.TANK, out_of_use=False)
    form, status = AheadForm(request.POST or None, tanks=tanks), 200
    if request.method == "POST":
        access.require(request.user, "delivery.accept", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                settle_ahead(delivery=found, by=request.user, **form.cleaned_data)
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, _("Closed: its entries and its measure agree now."))
                return redirect("delivery", found.pk)
    surplus = ahead_vessel(found)
    context = {
        "delivery": found,
        "lines": lines,
        "accepted_ml": sum(line.volume_ml for line in lines if line.tank_id),
        "rejected_ml": sum(line.volume_ml for line in lines if not line.tank_id),
        "measured_ml": sum(line.volume_ml for line in lines),
        "surplus_ml": balance_ml(surplus) if surplus else 0,
        "is_ahead": found.state == DeliveryState.AHEAD,
        "form": form,
        "may_accept": may_accept,
    }
    return render(request, "boils/delivery.html", context, status=status)


@signed_in
def tanks(request: SignedInRequest) -> HttpResponse:
    """Every tank: how full, how sweet, how old, and all of them together."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = tally.tank_rows(season)
    context = {
        "season": season,
        "rows": rows,
        "tally": tally.tally([state for _tank, state in rows], season),
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
        data = form.cleaned_data
        vessel = Vessel.objects.create(
            kind=VesselKind.TANK,
            season=season,
            depot=data["depot"],
            code=data["code"],
            capacity_ml=data["capacity"],
            usual_temperature_c=data["usual_temperature"],
        )
        record(by=request.user, act="set up tank", subject=vessel)
        messages.success(request, _("Tank %(code)s is set up.") % {"code": vessel.code})
        return redirect("tanks")
    return render(request, "boils/tank_new.html", {"form": form}, status=422 if form.is_bound else 200)


@signed_in
@require_http_methods(["GET", "POST"])
def tank(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """One tank: its content, its movements, and moving sap on."""
    access.require(request.user, "delivery.see", anywhere=True)
    vessel = get_object_or_404(Vessel.objects.select_related("season", "depot"), pk=pk, kind=VesselKind.TANK)
    may_accept = access.holds(request.user, "delivery.accept") and not vessel.season.is_closed
    others = Vessel.objects.filter(season=vessel.season, kind=VesselKind.TANK, out_of_use=False).exclude(pk=vessel.pk)
    form, status = MoveForm(request.POST or None, others=others, units=request.user.units), 200
    if request.method == "POST":
        access.require(request.user, "delivery.accept", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                move_on(vessel, form.cleaned_data, request.user)
            except Refused as refused:
                form.add_error(None, [str(reason) for reason in refused.reasons])
                status = 409
            else:
                messages.success(request, _("Done."))
                return redirect("tank", vessel.pk)
    rows = (
        Movement.objects.filter(Q(from_vessel=vessel) | Q(to_vessel=vessel))
        .select_related("act", "act__author", "act__person", "from_vessel__person", "to_vessel__person")
        .order_by("-seq")
    )
    state = tank_state(vessel)
    context = {
        "tank": vessel,
        "state": state,
        "tally": tally.tally([state], vessel.season),
        "room_ml": max(0, (vessel.capacity_ml or 0) - state.volume_ml),
        "page": page_of(rows, request),
        "form": form,
        "may_accept": may_accept,
    }
    return render(request, "boils/tank.html", context, status=status)


def move_on(vessel: Vessel, data: dict[str, Any], by: Person) -> None:
    if data["to"]:
        move_between_tanks(source=vessel, target=data["to"], volume_ml=data["volume"], by=by, reason=data["reason"])
    else:
        tip_out_tank(tank=vessel, volume_ml=data["volume"], by=by, reason=data["reason"])


@signed_in
@require_POST
def tank_out_of_use(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Take an empty tank out of the lists."""
    access.require(request.user, "delivery.accept", anywhere=True)
    vessel = get_object_or_404(Vessel, pk=pk, kind=VesselKind.TANK)
    if balance_ml(vessel):
        messages.error(request, _("There is still sap in it."))
        return redirect("tank", vessel.pk)
    vessel.out_of_use = True
    vessel.save(update_fields=["out_of_use"])
    record(by=request.user, act="tank out of use", subject=vessel)
    return redirect("tanks")
