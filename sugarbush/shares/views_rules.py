"""The front page of sharing out, the rule in words, writing it, trying it out, publishing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.lots.jars import pool
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.shares import figures, rules, runs, tables, working
from sugarbush.shares import terms as rule_terms
from sugarbush.shares.forms import PreviewForm, ReasonForm, RuleForm
from sugarbush.shares.models import RunState, ShareRule, ShareRun
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

EXAMPLE = (("Ada", 60_000, "132.0"), ("Bo", 40_000, "72.0"), ("Cy", 20_000, "50.0"), ("Di", 9_000, "12.6"))
"""Made-up people, for a rule that is tried out before there is any season: name, sap in mL, litres times Brix."""


def season_of(request: SignedInRequest) -> Season | None:
    """The season the address names, else the one people work in, else the latest."""
    access.require(request.user, "share.own", anywhere=True)
    year = request.GET.get("year") or request.POST.get("year")
    if not year:
        return Season.current() or Season.objects.first()
    if not (year.isascii() and year.isdigit() and len(year) <= 4):
        raise Http404
    return get_object_or_404(Season, year=int(year))


def no_season(request: SignedInRequest) -> HttpResponse:
    return render(request, "shares/no_season.html", {"may_start": access.holds(request.user, "season.change")})


def said(rule: ShareRule | None, units: str) -> list[str]:
    return [] if rule is None else rule_terms.sentences(rule_terms.read(rule.terms), units)


@signed_in
@require_safe
def shares(request: SignedInRequest) -> HttpResponse:
    """The rule in force, the working-outs, and what comes next."""
    season = season_of(request)
    if season is None:
        return no_season(request)
    return front_page(request, season)


def front_page(
    request: SignedInRequest, season: Season, *, status: int = 200, refused: tuple[Reason, ...] = ()
) -> HttpResponse:
    rule = rules.in_force(season)
    sees = access.holds(request.user, "share.see")
    rows = ShareRun.objects.filter(season=season).select_related("rule", "made_by").defer("inputs")
    if not sees:
        rows = rows.filter(state__in=(RunState.QUERIES, RunState.FINAL))
    open_queries = Count("shares__queries", filter=Q(shares__queries__answered_at=None, shares__queries__isnull=False))
    found = list(rows.annotate(n_open=open_queries).order_by("-number"))
    context = {
        "season": season,
        "seasons": list(Season.objects.values_list("year", flat=True)),
        "rule": rule,
        "sentences": said(rule, request.user.units),
        "changes": rules.changes(season),
        "draft": rules.draft_of(season) if sees else None,
        "versions": list(ShareRule.objects.filter(season=season, published_at__isnull=False).order_by("version")),
        "runs": found,
        "has_underway": any(run.is_underway for run in found),
        "has_final": any(run.state == RunState.FINAL for run in found),
        "pool": pool(season),
        "sees": sees,
        "may_write": access.holds(request.user, "share.rule") and not season.is_closed,
        "may_run": access.holds(request.user, "share.run") and not season.is_closed,
        "refused": refused,
        "form": ReasonForm(prefix="run"),
        "asks_reason": ShareRun.objects.filter(season=season).exists(),
        "began": rules.first_collection(season),
    }
    return render(request, "shares/front.html", context, status=status)


def rule_for(request: SignedInRequest, pk: int) -> ShareRule:
    """A published rule for everybody, one being written for whoever may see it; 404 otherwise."""
    access.require(request.user, "share.own", anywhere=True)
    rule = get_object_or_404(ShareRule.objects.select_related("season", "published_by"), pk=pk)
    if rule.published_at is None and not access.holds(request.user, "share.see"):
        raise Http404
    return rule


@signed_in
@require_safe
def share_rule(request: SignedInRequest, pk: int) -> HttpResponse:
    """One version in plain words."""
    return rule_page(request, rule_for(request, pk))


def rule_page(
    request: SignedInRequest, rule: ShareRule, *, status: int = 200, refused: tuple[Reason, ...] = (), reason: str = ""
) -> HttpResponse:
    before, began = rules.in_force(rule.season), rules.first_collection(rule.season)
    context = {
        "rule": rule,
        "season": rule.season,
        "sentences": said(rule, request.user.units),
        "changes": rules.changes(rule.season, rule.version),
        "may_write": access.holds(request.user, "share.rule") and not rule.season.is_closed,
        "may_try": access.holds(request.user, "share.see"),
        "before": before,
        "began": began,
        "needs_reason": rule.published_at is None and (before is not None or began is not None),
        "form": ReasonForm({"reason": reason}) if refused else ReasonForm(),
        "refused": refused,
    }
    return render(request, "shares/rule.html", context, status=status)


@signed_in
@require_http_methods(["GET", "POST"])
def share_rule_new(request: SignedInRequest) -> HttpResponse:
    """Write the next version: the one being written, else a copy of the one in force, else the usual one."""
    access.require(request.user, "share.rule", anywhere=True)
    season = season_of(request)
    if season is None:
        return no_season(request)
    start = rules.draft_of(season) or rules.in_force(season) or _last_years(season)
    terms = rule_terms.read(start.terms) if start else rule_terms.DEFAULT
    units = request.user.units
    form = RuleForm(request.POST or None, initial=RuleForm.start_from(terms, start.words if start else ""), units=units)
    if request.method == "POST" and form.is_valid():
        try:
            rule = rules.save_draft(
                season=season, by=request.user, terms=form.terms(), words=form.cleaned_data["words"]
            )
        except Refused as refused:
            form.add_error(None, [str(reason) for reason in refused.reasons])
        else:
            messages.success(request, _("Kept, not published yet. Read it through, and try it out."))
            return redirect("share-rule", rule.pk)
    context = {"form": form, "season": season, "start": start}
    return render(request, "shares/rule_form.html", context, status=422 if form.is_bound else 200)


def _last_years(season: Season) -> ShareRule | None:
    rows = ShareRule.objects.filter(season__year__lt=season.year, published_at__isnull=False)
    return rows.order_by("-season__year", "-version").first()


@signed_in
@require_POST
def share_rule_publish(request: SignedInRequest, pk: int) -> HttpResponse:
    """Publish a version."""
    access.require(request.user, "share.rule", anywhere=True)
    rule = rule_for(request, pk)
    reason = request.POST.get("reason", "")
    try:
        rules.publish(rule=rule, by=request.user, reason=reason)
    except Refused as refused:
        return rule_page(request, rule, status=422, refused=refused.reasons, reason=reason)
    messages.success(request, _("Published. Everyone can read it."))
    return redirect("share-rule", rule.pk)


@signed_in
@require_safe
def share_preview(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """Try a version out on the figures of a season; nothing is kept."""
    access.require(request.user, "share.see", anywhere=True)
    rule = rule_for(request, pk)
    seasons = [(str(one.year), str(one.year)) for one in Season.objects.filter(year__lte=rule.season.year)[:3]]
    seasons.append(("example", _("four made-up people")))
    there = pool(rule.season)
    form = PreviewForm(request.GET or None, seasons=seasons, units=request.user.units)
    context: dict[str, Any] = {"rule": rule, "form": form, "pool": there, "asked": bool(request.GET)}
    if request.GET and form.is_valid():
        data = form.cleaned_data
        jars = {str(data["size"] or 250): data["jars"]} if data["jars"] else _usual(there.jars)
        inputs = _inputs(rule, data["on"] or seasons[0][0], jars)
        try:
            out = working.work_out(inputs, request.user.units)
        except Refused as refused:
            context["refused"] = refused.reasons
        else:
            rows = sorted(out.outcomes, key=lambda one: (-one.entitled_ml, one.name))
            if wants_file(request):
                return list_taken(request, "trial", tables.trial(request.user.units), rows)
            context |= {"out": out, "page": page_of(rows, request), "people": len(out.outcomes)}
    return render(request, "shares/preview.html", context)


def _usual(jars: dict[int, int]) -> dict[str, int]:
    return {str(size): count for size, count in jars.items()} or {"250": 84}


def _inputs(rule: ShareRule, on: str, jars: dict[str, int]) -> dict[str, Any]:
    people: list[dict[str, Any]]
    if on == "example":
        owners: list[dict[str, Any]] = [{"id": 1, "name": _("Owner"), "taps": 2, "trees": 1, "wish": "jar"}]
        people = [
            {
                "id": n,
                "name": name,
                "sap_ml": ml,
                "sugar": sugar,
                "min": 120 * n,
                "took_part": True,
                "member": True,
                "n": 10,
                "entries": "",
                "read_ml": {},
            }
            for n, (name, ml, sugar) in enumerate(EXAMPLE, start=1)
        ]
    else:
        found = figures.of_season(get_object_or_404(Season, year=int(on)))
        people, owners = found.people, found.owners
    return {
        "rule": {"version": rule.version, "terms": rule.terms},
        "lots": {"": jars},
        "handed": {},
        "people": people,
        "owners": owners,
    }


@signed_in
@require_POST
def share_run_new(request: SignedInRequest) -> HttpResponse:
    """Work out the shares."""
    access.require(request.user, "share.run", anywhere=True)
    season = season_of(request)
    if season is None:
        raise Http404
    try:
        run = runs.make_run(season=season, by=request.user, reason=request.POST.get("run-reason", ""))
    except Refused as refused:
        return front_page(request, season, status=409, refused=refused.reasons)
    messages.success(request, _("Worked out. Nobody but stewards and reviewers sees it yet."))
    return redirect("share-run", run.pk)
