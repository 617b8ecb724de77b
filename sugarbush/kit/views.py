"""Pails, drums and depots."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.kit import actions, tables
from sugarbush.kit.contents import known_of
from sugarbush.kit.forms import ContainerForm, DepotForm, ManyForm, SearchForm
from sugarbush.kit.models import Container, Depot
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def containers(request: SignedInRequest) -> HttpResponseBase:
    """Every pail and drum: what it holds, whether it is for food, who has it."""
    access.require(request.user, "kit.see", anywhere=True)
    search = SearchForm(request.GET)
    rows, asked = search.narrow(Container.objects.select_related("held_by"))
    sees_people = access.holds(request.user, "people.see")
    if wants_file(request):
        return list_taken(request, "pails", tables.containers(request.user.units, sees_people=sees_people), rows)
    context = {
        "page": page_of(rows, request),
        "search": search,
        "narrowed": bool(asked),
        "asked": urlencode(asked),
        "may_change": access.holds(request.user, "kit.change"),
        "sees_people": sees_people,
    }
    return render(request, "kit/containers.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def containers_new(request: SignedInRequest) -> HttpResponse:
    """One or many alike: "10 pails of 8 L, codes from P-01"."""
    access.require(request.user, "kit.change", anywhere=True)
    form = ManyForm(request.POST or None, keeper=request.user, units=request.user.units, initial={"count": 1})
    reasons: tuple[Reason, ...] = ()
    if request.method == "POST" and form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("codes", "capacity_ml", "material", "food_safe", "held_by")}
        try:
            made = actions.add_containers(by=request.user, **given)
        except Refused as refusal:
            reasons = refusal.reasons
        else:
            said = ngettext("%(count)d is on the list.", "%(count)d are on the list.", len(made))
            messages.success(request, said % {"count": len(made)})
            return redirect("containers")
    status = 422 if request.method == "POST" else 200
    return render(request, "kit/containers_new.html", {"form": form, "reasons": reasons}, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def container(request: SignedInRequest, container_id: int) -> HttpResponse:
    """One pail or drum."""
    access.require(request.user, "kit.see", anywhere=True)
    found = get_object_or_404(Container.objects.select_related("held_by"), pk=container_id)
    form = ContainerForm(
        request.POST or None,
        instance=Container.objects.get(pk=found.pk),
        keeper=request.user,
        units=request.user.units,
    )
    status = 200
    if request.method == "POST":
        access.require(request.user, "kit.change", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                actions.change_container(by=request.user, container=found, values=form.values, seen=form.seen)
                messages.success(request, _("Saved."))
                return redirect("containers")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    context = {
        "container": found,
        "form": form if access.holds(request.user, "kit.change") else None,
        "sees_people": access.holds(request.user, "people.see"),
        "known": known_of(request.user, found),
    }
    return render(request, "kit/container.html", context, status=status)


@signed_in
@require_safe
def depots(request: SignedInRequest) -> HttpResponseBase:
    """Where sap is brought, when, and who has the key."""
    access.require(request.user, "kit.see", anywhere=True)
    rows = Depot.objects.prefetch_related("groups")
    if wants_file(request):
        return list_taken(request, "depots", tables.depots(), rows)
    context = {
        "page": page_of(rows, request),
        "may_change": access.holds(request.user, "depot.change"),
    }
    return render(request, "kit/depots.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def depot_new(request: SignedInRequest) -> HttpResponse:
    access.require(request.user, "depot.change", anywhere=True)
    form = DepotForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = actions.add_depot(by=request.user, **form.cleaned_data)
        messages.success(request, _("%(name)s is there.") % {"name": made})
        return redirect("depots")
    status = 422 if request.method == "POST" else 200
    return render(request, "kit/depot_new.html", {"form": form}, status=status)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def depot(request: SignedInRequest, depot_id: int) -> HttpResponse:
    """One depot, for coordinators to change; everybody reads the list."""
    found = get_object_or_404(Depot, pk=depot_id)
    access.require(request.user, "depot.change", anywhere=True)
    form = DepotForm(request.POST or None, instance=Depot.objects.get(pk=found.pk))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                actions.change_depot(
                    by=request.user,
                    depot=found,
                    values=form.values,
                    seen=form.seen,
                    groups=form.cleaned_data.get("groups", ()),
                )
                messages.success(request, _("Saved."))
                return redirect("depots")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    return render(request, "kit/depot.html", {"form": form, "depot": found}, status=status)
