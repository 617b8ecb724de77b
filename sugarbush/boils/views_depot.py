"""The depot: deliveries and tanks."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db.models import Sum
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.boils import approvals, tables, tally
from sugarbush.boils.access import sees_all_deliveries
from sugarbush.boils.actions import Differs, accept_delivery, tolerance_ml
from sugarbush.boils.ahead import ahead_vessel, settle_ahead
from sugarbush.boils.forms_depot import (
    FIRST_LINES,
    MORE_LINES,
    MOST_LINES,
    AheadForm,
    DeliveryForm,
    LineForm,
    LineForms,
    as_typed,
    filled,
)
from sugarbush.boils.models import Delivery, DeliveryLine, DeliveryState
from sugarbush.boils.weighing import weighed
from sugarbush.kit.models import Container, FoodSafe
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import balance_ml, balances_ml, hands_of
from sugarbush.sap.models import Act, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


def no_season(request: SignedInRequest) -> HttpResponse:
    return render(request, "boils/no_season.html", {"may_start": access.holds(request.user, "season.change")})


def seen_deliveries(request: SignedInRequest) -> Any:
    """Deliveries this person may see: all for depot people, coordinators and reviewers; else own ones."""
    rows = Delivery.objects.select_related("person", "depot", "season", "keeper")
    return rows if sees_all_deliveries(request.user) else rows.filter(person=request.user)


@signed_in
def deliveries(request: SignedInRequest) -> HttpResponseBase:
    """Deliveries of the season, newest first, and who still carries sap."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = seen_deliveries(request).filter(season=season).annotate(measured_ml=Sum("lines__volume_ml"))
    rows = rows.order_by("-happened_at", "-number")
    if request.GET.get("state") in DeliveryState.values:
        rows = rows.filter(state=request.GET["state"])
    if wants_file(request):
        return list_taken(request, "deliveries", tables.deliveries(request.user.units), rows)
    may_accept = access.holds(request.user, "delivery.accept")
    context = {
        "season": season,
        "page": page_of(rows, request),
        "carrying": carrying(season) if may_accept else [],
        "may_accept": may_accept,
        "to_answer": len(approvals.to_answer(request.user, season)),
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
    known = {container.code.casefold(): container for container in Container.objects.all()}
    how: dict[str, Any] = {
        "tanks": Vessel.objects.filter(pk__in=[tank.pk for tank in tanks]).order_by("code"),
        "known": known,
        "units": units,
    }
    if request.method == "GET" or "more" in request.POST:
        form, lines = _unjudged(request, season, tanks, how)
        return render(request, "boils/delivery_new.html", _new_context(season, form, lines, tanks, known))
    form = DeliveryForm(request.POST, season=season, units=units)
    lines = LineForms(request.POST, form_kwargs=how)
    valid = form.is_valid()
    filled_valid = lines.management_form.is_valid() and all(line.is_valid() for line in filled(lines))
    reasons: list[Reason] = []
    status = 422
    if valid and filled_valid:
        try:
            delivery = _accept(request, season, form, filled(lines))
        except Refused as refused:
            reasons = list(refused.reasons)
            status = 409 if isinstance(refused, Differs) else 422
        else:
            if delivery is not None:
                messages.success(request, _("Delivery %(number)s is accepted.") % {"number": delivery})
                return redirect("delivery", delivery.pk)
            status = 409
    context = _new_context(season, form, lines, tanks, known) | {"reasons": reasons}
    return render(request, "boils/delivery_new.html", context, status=status)


def _accept(
    request: SignedInRequest, season: Season, form: DeliveryForm, filled_lines: Sequence[LineForm]
) -> Delivery | None:
    """The delivery, or None while a question of the form stands open."""
    data = form.cleaned_data
    there = Delivery.objects.filter(pk=data["delivery"]).first()
    if there is not None:
        return there  # the form came twice
    lines = [line for each in filled_lines for line in each.lines()]
    held_ml = balance_ml(hands_of(data["person"], season))
    measured_ml = sum(line.volume_ml for line in lines)
    if lines and not form.ask_about(
        held_ml=held_ml, measured_ml=measured_ml, tolerance_ml=tolerance_ml(season, held_ml)
    ):
        return None
    return accept_delivery(
        depot=data["depot"],
        person=data["person"],
        keeper=request.user,
        lines=lines,
        all_of_it=data["all_of_it"],
        happened_at=data["when"],
        explanation=data["explanation"],
        ahead=data["ahead"],
        approved_by=data["approved_by"],
        overfill_reason=data["overfill_reason"],
        delivery_id=data["delivery"],
        note=data["note"],
    )


def _unjudged(
    request: SignedInRequest, season: Season, tanks: list[Vessel], how: dict[str, Any]
) -> tuple[DeliveryForm, Any]:
    """A fresh form, or the one on the page with room for more containers and all that was typed."""
    if request.method == "GET":
        start = {"delivery": uuid.uuid4(), "person": request.GET.get("person"), "depot": first_depot(tanks)}
        form = DeliveryForm(initial=start, season=season, units=how["units"])
        return form, LineForms(form_kwargs=how, initial=_scanned(request.GET.get("container", "")))
    form = DeliveryForm(
        initial=as_typed(list(DeliveryForm.base_fields), request.POST), season=season, units=how["units"]
    )
    try:
        there = int(request.POST.get("form-TOTAL_FORMS", FIRST_LINES))
    except ValueError:
        there = FIRST_LINES
    there = max(0, min(there, MOST_LINES))
    typed = [as_typed(list(LineForm.base_fields), request.POST, f"form-{n}-") for n in range(there)]
    typed += [{} for _n in range(min(MORE_LINES, MOST_LINES - there))]
    return form, LineForms(initial=typed, form_kwargs=how)


def _scanned(asked: str) -> list[dict[str, str]]:
    """The first container of the form, where its label was scanned."""
    if not (asked.isascii() and asked.isdigit() and len(asked) < 18):
        return []
    found = Container.objects.filter(pk=int(asked)).first()
    return [{"container_text": found.code}] if found else []


def first_depot(tanks: list[Vessel]) -> Any:
    return tanks[0].depot_id if tanks else None


def _new_context(
    season: Season, form: DeliveryForm, lines: Any, tanks: list[Vessel], known: dict[str, Container]
) -> dict[str, Any]:
    held = balances_ml([tank.pk for tank in tanks])
    return {
        "season": season,
        "form": form,
        "lines": lines,
        "may_add": len(lines.forms) < MOST_LINES,
        "tanks": [(tank, held[tank.pk], max(0, (tank.capacity_ml or 0) - held[tank.pk])) for tank in tanks],
        "later_open": any(form[name].value() for name in DeliveryForm.LATER) or form.is_bound,
        "carrying": carrying(season),
        "containers": sorted(
            (one for one in known.values() if one.food_safe == FoodSafe.YES), key=lambda one: one.code
        ),
    }


@signed_in
@require_http_methods(["GET", "POST"])
def delivery(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """The receipt of one delivery; where it was ahead of its entries, the place to close it."""
    found = get_object_or_404(seen_deliveries(request), pk=pk)
    access.require(request.user, "delivery.see", anywhere=True)  # their own, but only while they have a part here
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
    acts = list(Act.objects.filter(origin_kind="delivery", origin_uuid=found.pk).select_related("approver", "author"))
    said = approvals.answers(acts)
    context = {
        "delivery": found,
        "lines": [(line, _weighed(line)) for line in lines],
        "weighed": [
            (
                line.container or line.container_text,
                weight.worked(request.user.units, str(line.container or line.container_text)),
            )
            for line in lines
            if (weight := _weighed(line))
        ],
        "accepted_ml": sum(line.volume_ml for line in lines if line.tank_id),
        "rejected_ml": sum(line.volume_ml for line in lines if not line.tank_id),
        "measured_ml": sum(line.volume_ml for line in lines),
        "differs_ml": abs(found.difference_ml),
        "surplus_ml": balance_ml(surplus) if surplus else 0,
        "left_ml": max(0, found.held_ml + found.difference_ml - sum(line.volume_ml for line in lines)),
        "overfull": [act.overfill_reason for act in acts if act.overfill_reason],
        "approval": next((said[str(act.pk)] for act in acts if str(act.pk) in said), None),
        "is_ahead": found.state == DeliveryState.AHEAD,
        "is_mine": found.person_id == request.user.pk,
        "form": form,
        "may_accept": may_accept,
    }
    return render(request, "boils/delivery.html", context, status=status)


def _weighed(line: DeliveryLine) -> Any:
    return weighed(line.mass_g, line.sugar_brix, line.temperature_c) if line.mass_g else None
