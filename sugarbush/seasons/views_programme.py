"""Opening the programme, and the page on which it is kept."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import get_script_prefix
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.parts.reasons import Refused
from sugarbush.seasons import actions
from sugarbush.seasons.forms import CORNERS, ProgrammeForm, SeasonNewForm
from sugarbush.seasons.models import Programme, Season
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn
from sugarbush.volunteers.views_help import SignedInRequest, member, signed_in


def usual_season(today: dt.date) -> dict[str, object]:
    """What a new season starts from: the coming late winter. The days are only a start; towns differ widely."""
    year = today.year + (today.month >= 7)
    return {"year": year, "tapping_from": dt.date(year, 2, 15), "tapping_to": dt.date(year, 4, 15)}


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def programme_new(request: SignedInRequest) -> HttpResponse:
    """The first page of a new install. Once the programme is open it leads to its page."""
    access.require(request.user, "programme.change", anywhere=True)
    if Programme.current() is not None:
        return redirect("programme")
    data = request.POST or None
    units = request.POST.get("default_units") or request.user.units
    form = ProgrammeForm(data, initial={"default_units": "", "time_zone": "", "tag_prefix": ""})
    season_form = SeasonNewForm(data, prefix="season", units=units, initial=usual_season(access.today()))
    if request.method == "POST" and form.is_valid() & season_form.is_valid():
        given = form.values
        corners = tuple(given.pop(name) for name in CORNERS)
        try:
            made = actions.open_programme(
                by=request.user, **given, **season_form.values, box=corners if None not in corners else None
            )
        except Refused:
            return redirect("programme")  # two pressed at the same time: the first has opened it
        messages.success(request, _("%(name)s is open. Next: bring in the town’s trees, or add one.") % {"name": made})
        return redirect(get_script_prefix())
    status = 422 if request.method == "POST" else 200
    return render(request, "seasons/programme_new.html", {"form": form, "season_form": season_form}, status=status)


@member
@require_http_methods(["GET", "HEAD", "POST"])
def programme(request: SignedInRequest) -> HttpResponse:
    """What the programme says of itself; coordinators change it."""
    found = Programme.current()
    if found is None:
        return redirect("programme-new")
    may_change = access.holds(request.user, "programme.change")
    form = ProgrammeForm(request.POST or None, instance=Programme.current())
    status = 200
    if request.method == "POST":
        access.require(request.user, "programme.change", anywhere=True)
        status = 422
        if form.is_valid():
            try:
                actions.change_programme(by=request.user, programme=found, values=form.values, seen=form.seen)
                messages.success(request, _("Saved."))
                return redirect("programme")
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
    context = {"form": form if may_change else None, "seasons": Season.objects.all()[:20], "kept": found}
    return render(request, "seasons/programme.html", context, status=status)
