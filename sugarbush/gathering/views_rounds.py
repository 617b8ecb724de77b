"""Rounds: the list, a new one, a split, the page of one with its way, and its runs given to people."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from sugarbush.gathering import round_acts, run_acts, tables
from sugarbush.gathering.board import rounds_in_reach
from sugarbush.gathering.forms_rounds import USUAL_START, NewRoundForm, RoundForm, RunsForm, SplitForm
from sugarbush.gathering.models_rounds import Part, Round, RoundStop
from sugarbush.gathering.round_acts import by_street, shares_of
from sugarbush.gathering.round_page import maps_of, runs_around, spots_of, way_of
from sugarbush.gathering.way import live_stops, off_every_round, ways
from sugarbush.parts.paging import page_of
from sugarbush.parts.places import PLACES
from sugarbush.parts.reasons import Refused
from sugarbush.parts.sheets.columns import in_pieces
from sugarbush.seasons.models import Season
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group
from sugarbush.volunteers.taking_home import list_taken, places_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

CODES_SHOWN = 8
MOST_TO_TICK = 400
WEEK = dt.timedelta(days=6)


def round_for(request: SignedInRequest, pk: int) -> Round:
    """A round this person may see; 404 otherwise."""
    reach = access.scope(request.user, "round.see").filter()
    return get_object_or_404(Round.objects.filter(reach).select_related("season", "group"), pk=pk)


def round_to_plan(request: SignedInRequest, pk: int) -> Round:
    """A round this person may change; 403 where they may only look."""
    found = round_for(request, pk)
    access.require(request.user, "round.plan", group_id=found.group_id)
    return found


def groups_to_plan(request: SignedInRequest) -> list[Group]:
    reach = access.scope(request.user, "round.plan")
    return list(Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids))


def group_asked(request: SignedInRequest) -> Group:
    """The group in the address or the form, else the first one; 404 for one that is not theirs."""
    groups = groups_to_plan(request)
    asked = request.POST.get("group") or request.GET.get("group", "")
    chosen = next((group for group in groups if str(group.pk) == asked), None)
    if chosen is None and (asked or not groups):
        raise Http404
    return chosen or groups[0]


def no_season(request: SignedInRequest) -> HttpResponse:
    return render(request, "gathering/rounds_no_season.html")


def refusal(request: SignedInRequest, refused: Refused, back: str) -> HttpResponse:
    context = {"reasons": refused.reasons, "back": back}
    return render(request, "gathering/rounds_refused.html", context, status=409)


def round_rows(found: Sequence[Round], season: Season) -> list[dict[str, Any]]:
    """Rounds with their way and people; three queries, however many."""
    lengths = ways([one.pk for one in found], season)
    return [
        {
            "round": one,
            "way": lengths[one.pk],
            "walks": [row.person for row in one.usual.all() if row.part == Part.WALKS],
            "standby": [row.person for row in one.usual.all() if row.part == Part.STANDBY],
        }
        for one in found
    ]


@signed_in
@require_GET
def rounds(request: SignedInRequest) -> HttpResponseBase:
    """The rounds of the season, group by group; trees with a spout in that are on none come first."""
    access.require(request.user, "round.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    there = rounds_in_reach(request.user, season).prefetch_related("usual__person")
    if wants_file(request):
        lines = in_pieces(there, lambda some: round_rows(some, season), 50)
        return list_taken(request, "rounds", tables.rounds(request.user.units), lines)
    page = page_of(there, request)
    found = list(page.object_list)
    plans = groups_to_plan(request)
    loose = off_every_round(season).filter(group__in=plans)
    counts = dict(loose.order_by().values_list("group").annotate(n=Count("pk", filter=Q(spout_in=True))))
    first = list(loose.filter(spout_in=True).order_by("group", "address", "code")[: CODES_SHOWN * max(1, len(plans))])
    context = {
        "season": season,
        "page": page,
        "rows": round_rows(found, season),
        "loose": [
            (group, counts[group.pk], [tree for tree in first if tree.group_id == group.pk][:CODES_SHOWN])
            for group in plans
            if counts.get(group.pk)
        ],
        "free": {group.pk for group in plans if group.pk in counts},
        "groups": plans,
        "may_plan": bool(plans),
        "may_board": access.holds(request.user, "round.board"),
    }
    return render(request, "gathering/rounds.html", context)


@signed_in
@require_http_methods(["GET", "POST"])
def round_new(request: SignedInRequest) -> HttpResponse:
    """A round from the group's trees that are on none."""
    access.require(request.user, "round.plan", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    group = group_asked(request)
    free = off_every_round(season, group)
    form = NewRoundForm(request.POST or None, trees=free, units=request.user.units)
    status = 422 if form.is_bound else 200
    if request.method == "POST" and form.is_valid():
        try:
            made = round_acts.make_round(season=season, group=group, by=request.user, **form.cleaned_data)
        except Refused as refused:
            form.add_error("name" if refused.reasons[0].code == "name" else None, [str(r) for r in refused.reasons])
            status = 409
        else:
            messages.success(request, _("“%(name)s” is made, in walking order.") % {"name": made})
            return redirect(made)
    shown = list(free.order_by("-spout_in", "address", "pk")[: MOST_TO_TICK + 1])
    trees: list[Any] = by_street(shown[:MOST_TO_TICK])
    ticked = set(request.POST.getlist("trees")) if form.is_bound else set()
    context = {
        "form": form,
        "season": season,
        "group": group,
        "groups": groups_to_plan(request),
        "most": MOST_TO_TICK if len(shown) > MOST_TO_TICK else 0,
        "trees": [(tree, str(tree.pk) in ticked or (not form.is_bound and tree.spout_in)) for tree in trees],
    }
    return render(request, "gathering/round_new.html", context, status=status)


@signed_in
@require_http_methods(["GET", "POST"])
def round_split(request: SignedInRequest) -> HttpResponse:
    """Split a group's trees into so many rounds in one press."""
    access.require(request.user, "round.plan", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    group = group_asked(request)
    count = off_every_round(season, group).count()
    there = Round.objects.filter(season=season, group=group, ended_at=None)
    on_rounds = RoundStop.objects.filter(round__in=there, off_at=None).count()
    usual = max(1, round((count or on_rounds) / 20))
    initial = {"rounds": usual, "latest_start": USUAL_START, "anew": not count and bool(on_rounds)}
    form = SplitForm(request.POST or None, initial=initial, units=request.user.units)
    status = 422 if form.is_bound else 200
    if request.method == "POST" and form.is_valid():
        try:
            split = round_acts.split_group(season=season, group=group, by=request.user, **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, [str(reason) for reason in refused.reasons])
            status = 409
        else:
            sizes = ", ".join(f"{made.name}: {size}" for made, size in split.rounds)
            words = ngettext("%(n)d round is made", "%(n)d rounds are made", len(split.rounds))
            messages.success(request, words % {"n": len(split.rounds)} + f" ({sizes}).")
            return redirect("rounds")
    choices = [(n, " + ".join(str(size) for size in shares_of(count, n))) for n in range(1, 7) if 0 < n <= count]
    context = {
        "form": form,
        "group": group,
        "groups": groups_to_plan(request),
        "count": count,
        "on_rounds": on_rounds,
        "choices": choices,
    }
    return render(request, "gathering/round_split.html", context, status=status)


@signed_in
@require_GET
def round_plan(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """One round: its way, its people, its runs."""
    found = round_for(request, pk)
    if wants_file(request, *PLACES):
        legs = way_of(found, request.user).legs
        if request.GET["as"] in PLACES:
            name = f"round-{found.pk}"
            return places_taken(request, name, str(found), spots_of([leg.stop for leg in legs]), in_order=True)
        return list_taken(request, f"round-{found.pk}", tables.stops(request.user.units), legs)
    return page_of_round(request, found)


def page_of_round(request: SignedInRequest, found: Round, *, status: int = 200, **given: Any) -> HttpResponse:
    """The page of a round, with a form that was not taken in its place."""
    season = found.season
    may_plan = access.scope(request.user, "round.plan").covers(found.group_id)
    open_now = may_plan and not season.is_closed and found.ended_at is None
    ahead, back = runs_around(found, timezone.localdate())
    free = (
        by_street(list(off_every_round(season, found.group).order_by("-spout_in", "address", "pk")[:MOST_TO_TICK]))
        if open_now
        else []
    )
    the_way = way_of(found, request.user)
    today = timezone.localdate()
    span = {"first": today, "last": today + WEEK}
    context = {
        "round": found,
        "season": season,
        "way": the_way,
        "maps": maps_of(the_way, request.user.units),
        "may_plan": open_now,
        "usual": list(found.usual.select_related("person")),
        "ahead": ahead,
        "back": back,
        "free": free,
        "form": RoundForm(initial={"name": found.name, "latest_start": found.latest_start}, units=request.user.units),
        "runs_form": RunsForm(found=found, initial=span, units=request.user.units) if open_now else None,
        "today": today,
        **given,
    }
    return render(request, "gathering/round_plan.html", context, status=status)


@signed_in
@require_POST
def round_change(request: SignedInRequest, pk: int) -> HttpResponse:
    """Another name or latest start; or the round ends."""
    found = round_to_plan(request, pk)
    if request.POST.get("step") == "end":
        try:
            round_acts.end_round(found=found, by=request.user, reason=request.POST.get("reason", ""))
        except Refused as refused:
            return refusal(request, refused, found.get_absolute_url())
        messages.success(request, _("“%(name)s” is ended. Its trees are on no round now.") % {"name": found})
        return redirect("rounds")
    form = RoundForm(request.POST, units=request.user.units)
    if not form.is_valid():
        return page_of_round(request, found, status=422, form=form)
    try:
        round_acts.change_round(found=found, by=request.user, **form.cleaned_data)
    except Refused as refused:
        if found.season.is_closed or found.ended_at is not None:  # the page shows no form then
            return refusal(request, refused, found.get_absolute_url())
        form.add_error(None, [str(reason) for reason in refused.reasons])
        return page_of_round(request, found, status=409, form=form)
    messages.success(request, _("Changed."))
    return redirect(found)


def number_of(text: str) -> int:
    """A row's number out of a form; 404 for anything else."""
    if not (text.isascii() and text.isdigit() and len(text) < 18):
        raise Http404
    return int(text)


def _stop(found: Round, key: str) -> RoundStop:
    rows = RoundStop.objects.select_related("round", "tree").filter(round=found, off_at=None)
    return get_object_or_404(rows, pk=number_of(key))


@signed_in
@require_POST
def round_stops(request: SignedInRequest, pk: int) -> HttpResponse:
    """The way: a tree one place up or down, off the round, on it; or all of it into walking order."""
    found = round_to_plan(request, pk)
    sent = request.POST
    by = request.user
    try:
        if key := sent.get("up") or sent.get("down"):
            round_acts.move_stop(stop=_stop(found, key), by=by, up="up" in sent)
        elif key := sent.get("off"):
            stop = _stop(found, key)
            round_acts.take_off(stop=stop, by=by)
            messages.success(request, _("%(code)s is off the round.") % {"code": stop.tree.code})
        elif "walk" in sent:
            start = live_stops([found.pk]).filter(tree__code=sent.get("start", "")).select_related("tree").first()
            round_acts.walk_from(found=found, by=by, start=start.tree if start else None)
            messages.success(request, _("The round is in walking order."))
        else:
            chosen = [key for key in sent.getlist("trees") if key.isascii() and key.isdigit() and len(key) < 18]
            trees = list(Tree.objects.filter(pk__in=chosen, group=found.group))
            if not trees:
                messages.warning(request, _("No tree was chosen. Tick at least one."))
            elif count := round_acts.put_on(found=found, trees=trees, by=by):
                words = ngettext("%(n)d tree is put at the end.", "%(n)d trees are put at the end.", count)
                messages.success(request, words % {"n": count})
    except Refused as refused:
        return refusal(request, refused, found.get_absolute_url())
    return redirect(found.get_absolute_url() + "#way")


@signed_in
@require_POST
def round_give(request: SignedInRequest, pk: int) -> HttpResponse:
    """Give the runs of a span of days to people."""
    found = round_to_plan(request, pk)
    form = RunsForm(request.POST, found=found, units=request.user.units)
    if not form.is_valid():
        return page_of_round(request, found, status=422, runs_form=form)
    said = form.cleaned_data
    people = {"walks": list(said["walks"]), "standby": list(said["standby"])}
    try:
        runs = run_acts.give_runs(
            found=found, by=request.user, first=said["first"], last=said["last"], every=said["every"], **people
        )
        if said["usual"]:
            run_acts.keep_usual(found=found, by=request.user, **people)
    except Refused as refused:
        if found.season.is_closed or found.ended_at is not None:  # the page shows no form then
            return refusal(request, refused, found.get_absolute_url())
        form.add_error(None, [str(reason) for reason in refused.reasons])
        return page_of_round(request, found, status=409, runs_form=form)
    words = ngettext("%(n)d day is given.", "%(n)d days are given.", len(runs)) % {"n": len(runs)}
    messages.success(request, words)
    return redirect(found.get_absolute_url() + "#runs")
