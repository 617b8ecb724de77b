"""The seasons, one season's rules and the steps it goes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.core.trunk import COMPARISON_TABLES
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.seasons import actions, changed, closing, guidelines, tables
from sugarbush.seasons.forms import ReasonForm, SeasonForm, SeasonNewForm
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.seasons.views_programme import usual_season
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

ORDER = list(SeasonState)


@signed_in
@require_safe
def seasons(request: SignedInRequest) -> HttpResponseBase:
    """Every season there has been."""
    access.require(request.user, "season.totals", anywhere=True)
    if wants_file(request):
        return list_taken(request, "seasons", tables.seasons(), Season.objects.all())
    context = {
        "page": page_of(Season.objects.all(), request),
        "may_add": access.holds(request.user, "season.change") and not actions.reasons_against_new(),
    }
    return render(request, "seasons/seasons.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def season_new(request: SignedInRequest) -> HttpResponse:
    """Prepare a season; its other rules follow the season before."""
    access.require(request.user, "season.change", anywhere=True)
    form = SeasonNewForm(request.POST or None, units=request.user.units, initial=usual_season(access.today()))
    reasons, status = actions.reasons_against_new(), 200
    if request.method == "POST":
        status = 409 if reasons else 422
        if not reasons and form.is_valid():
            try:
                made = actions.prepare_season(by=request.user, **form.values)
                return redirect("season", made.year)
            except Refused as refusal:
                reasons, status = list(refusal.reasons), 409
    return render(request, "seasons/season_new.html", {"form": form, "reasons": reasons}, status=status)


def _find(request: SignedInRequest, year: int) -> Season:
    access.require(request.user, "season.totals", anywhere=True)
    return get_object_or_404(Season, year=year)


@signed_in
@require_safe
def season(request: SignedInRequest, year: int) -> HttpResponse:
    """One season: where it stands and the rules people work by."""
    return season_page(request, _find(request, year))


def season_page(request: SignedInRequest, found: Season, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a season; `given` adds what stands in the way of a step just asked for."""
    units = request.user.units
    to = actions.NEXT[found.state]
    may_step = access.holds(request.user, "season.step")
    ending = found.state == SeasonState.ENDING
    context = {
        "season": found,
        "steps": [(state.label, state == found.state) for state in ORDER],
        "next_state": to,
        "next_words": SeasonState(to).label,
        "reopens": found.is_closed,
        "may_step": may_step,
        "may_change": access.holds(request.user, "season.change") and not found.is_closed,
        "reasons": closing.reasons_against(found) if ending and may_step else [],
        "reason_form": ReasonForm() if found.is_closed else None,
        "guideline": guidelines.words(found.guideline_name),
        "sentence": guidelines.sentence(found, units),
        "worked": guidelines.example(found, units),
        "tables": COMPARISON_TABLES,
        "kinds": _kinds(found),
    }
    return render(request, "seasons/season.html", context | given, status=status)


def _kinds(season: Season) -> list[str]:
    """The names of the kinds on the season's list; a draft shows those that would go on it now."""
    known = changed.kinds() or []
    if season.frozen_at is None:
        return [kind.label for kind in known if kind.usual]
    labels = {kind.key: kind.label for kind in known}
    return [labels.get(key, key) for key in season.species_keys]


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def season_rules(request: SignedInRequest, year: int) -> HttpResponse:
    """Change the rules: freely while a draft, with a reason afterwards."""
    found = _find(request, year)
    access.require(request.user, "season.change", anywhere=True)
    if found.is_closed and request.method != "POST":
        messages.warning(request, _("A closed season keeps its rules. Open it again to change them."))
        return redirect("season", found.year)
    form = SeasonForm(request.POST or None, instance=Season.objects.get(pk=found.pk), units=request.user.units)
    status, reasons = 200, []
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                actions.change_season(
                    by=request.user,
                    season=found,
                    values=form.values,
                    seen=form.seen,
                    reason=form.cleaned_data.get("reason", ""),
                )
                messages.success(request, _("Saved. Every tree now shows what these rules allow."))
                return redirect("season", found.year)
            except MovedOn as moved:
                form.show_meanwhile(moved.row)
                status = 409
            except Refused as refusal:
                reasons, status = list(refusal.reasons), 409
    context = {"form": form, "season": found, "reasons": reasons}
    return render(request, "seasons/season_rules.html", context, status=status)


@signed_in
@require_POST
def season_step(request: SignedInRequest, year: int) -> HttpResponse:
    """One step on: open, tapping, running, ending, closed; or a closed season back to its ending."""
    found = _find(request, year)
    access.require(request.user, "season.step", anywhere=True)
    to = request.POST.get("to", "")
    extra: dict[str, Any] = {}
    if found.is_closed and to == SeasonState.ENDING:
        form = ReasonForm(request.POST)
        if not form.is_valid():
            return season_page(request, found, status=422, reason_form=form)
        extra = form.cleaned_data
    try:
        done = actions.step(by=request.user, season=found, to=to, **extra)
    except Refused as refusal:
        found.refresh_from_db()
        return season_page(request, found, status=409, refused=True, reasons=refusal.reasons)
    messages.success(request, _("Season %(year)s: %(state)s.") % {"year": done.year, "state": done.get_state_display()})
    return redirect("season", done.year)
