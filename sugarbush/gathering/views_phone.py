"""The volunteer's pages: the round, one tree, sap, and one's own entries."""

from __future__ import annotations

import uuid
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.gathering import rounds
from sugarbush.gathering.actions import AskAgain, Visit, change_visit, log_visit, may_change
from sugarbush.gathering.forms import QuickForm, SapForm
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.parts.reasons import Refused
from sugarbush.parts.wording import volume_words
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

STEP_ML = {"metric": 500, "us": 946}  # half a litre; a US quart, so that four make a gallon
MARKS = {
    "metric": ((2_000, "2 L"), (4_000, "4 L"), (6_000, "6 L"), (8_000, "8 L")),
    "us": ((1_893, "½ gal"), (3_785, "1 gal"), (5_678, "1½ gal"), (7_571, "2 gal")),
}


def tree_for(request: SignedInRequest, code: str) -> Tree:
    """A tree this person may see; 404 otherwise."""
    rows = Tree.objects.select_related("species", "group").filter(access.scope(request.user, "trees.see").filter())
    tree = get_object_or_404(rows, code=code)
    return tree.merged_into or tree


def group_for(request: SignedInRequest) -> tuple[Group | None, list[Group]]:
    """The group whose round is walked: asked for, or the first of the person's own."""
    groups = list(rounds.groups_of(request.user))
    asked = request.GET.get("group", "")
    chosen = next((g for g in groups if str(g.pk) == asked), None)
    if asked and chosen is None:
        raise Http404
    return chosen or (groups[0] if groups else None), groups


@signed_in
def whole_round(request: SignedInRequest) -> HttpResponse:
    """Today's trees: how many are done, which comes next, the whole list."""
    access.require(request.user, "collection.log", anywhere=True)
    season = Season.current()
    group, groups = group_for(request)
    day = timezone.localdate()
    stops = rounds.stops(request.user, season, group, day) if season and group else []
    upcoming = next((stop for stop in stops if not stop.visited), None)
    own = Collection.objects.none()
    total_ml = 0
    if season is not None:
        start, end = rounds.day_span(day)
        own = (
            Collection.objects.filter(person=request.user, season=season, recorded_at__gte=start, recorded_at__lt=end)
            .select_related("tree")
            .order_by("-recorded_at")[:60]
        )
        total_ml = rounds.day_total_ml(request.user, season, day)
    context = {
        "season": season,
        "group": group,
        "groups": groups,
        "own": rounds.own_rounds(request.user, season, group, day) if season and group else [],
        "stops": stops,
        "upcoming": upcoming,
        "visited": sum(stop.visited for stop in stops),
        "entries": own,
        "total_ml": total_ml,
        "day": day,
    }
    return render(request, "gathering/round.html", context)


@signed_in
def one_tree(request: SignedInRequest, code: str) -> HttpResponse:
    """One tree of the round: what to press."""
    tree = tree_for(request, code)
    if tree.code != code:
        return redirect("log-tree", tree.code)
    access.require(request.user, "collection.log", group_id=tree.group_id)
    season = Season.current()
    group = tree.group
    stops = rounds.stops(request.user, season, group, timezone.localdate()) if season and group else []
    place = next((n for n, stop in enumerate(stops) if stop.pk == tree.pk), None)
    taps = list(Tap.objects.filter(tree=tree, state__in=rounds.IN).order_by("placed_at"))
    last = Collection.objects.filter(tree=tree, outcome=Outcome.SAP).exclude(state=CollectionState.VOID).first()
    waiting = [stop for stop in stops if not stop.visited and stop.pk != tree.pk]
    later = next((stop for stop in stops[(place or 0) + 1 :] if not stop.visited), waiting[0] if waiting else None)
    context = {
        "tree": tree,
        "taps": taps,
        "last": last,
        "stops": stops,
        "place": None if place is None else place + 1,
        "later": later,
        "entry_id": uuid.uuid4(),
        "pull": tree.shown == Shown.PULL,
    }
    return render(request, "gathering/tree.html", context)


def go_on(request: SignedInRequest, tree: Tree) -> HttpResponse:
    """After saving: the next tree not visited yet, else the whole round."""
    season = Season.current()
    stops = rounds.stops(request.user, season, tree.group, timezone.localdate()) if season and tree.group else []
    place = next((n for n, stop in enumerate(stops) if stop.pk == tree.pk), -1)
    following = [*stops[place + 1 :], *stops[: max(place, 0)]]
    after = next((stop for stop in following if not stop.visited), None)
    if after is None:
        return redirect("log")
    return redirect("log-tree", after.code)


def said(entry: Collection, units: str) -> str:
    what = volume_words(entry.volume_ml, units) if entry.outcome == Outcome.SAP else entry.get_outcome_display()
    if entry.state == CollectionState.REVIEW:
        return _("Kept, not counted yet: %(why)s Somebody will look. Nothing for you to do.") % {
            "why": " ".join(entry.review_reasons)
        }
    return _("Saved: %(what)s, %(place)s.") % {"what": what, "place": entry.tree.address or entry.tree.code}


@signed_in
@require_POST
def quick(request: SignedInRequest, code: str) -> HttpResponse:
    """A visit without litres, in one press."""
    tree = tree_for(request, code)
    access.require(request.user, "collection.log", group_id=tree.group_id)
    form = QuickForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That press did not arrive whole. Please press once more."))
        return redirect("log-tree", tree.code)
    data = form.cleaned_data
    try:
        entry = log_visit(
            tree=tree,
            by=request.user,
            visit=Visit(outcome=data["outcome"], note=data["note"]),
            entry_id=data["entry"],
            happened_at=sent_at(data["entry"]),
            confirmed=True,
        )
    except Refused as refused:
        return render(request, "gathering/refused.html", {"tree": tree, "reasons": refused.reasons}, status=409)
    messages.success(request, said(entry, request.user.units))
    return go_on(request, tree)


def sent_at(entry_id: uuid.UUID) -> Any:
    """The time of an entry sent again stays the first one's, so that a second press is the same entry."""
    earlier = Collection.objects.filter(pk=entry_id).values_list("happened_at", flat=True).first()
    return earlier or timezone.now()


@signed_in
@require_http_methods(["GET", "POST"])
def sap(request: SignedInRequest, code: str) -> HttpResponse:
    """Sap from one tree: how it looks, how much, Save."""
    tree = tree_for(request, code)
    access.require(request.user, "collection.log", group_id=tree.group_id)
    taps = list(Tap.objects.filter(tree=tree, state__in=rounds.IN).select_related("container"))
    units = request.user.units
    if request.method == "GET":
        form = SapForm(initial={"entry": uuid.uuid4(), "look": "clear"}, units=units)
        return render(request, "gathering/sap.html", sap_context(request, tree, taps, form))
    form = SapForm(request.POST, units=units)
    if not form.is_valid():
        return render(request, "gathering/sap.html", sap_context(request, tree, taps, form), status=422)
    try:
        entry = log_or_ask(request, tree, form)
    except AskAgain:
        return render(request, "gathering/sap.html", sap_context(request, tree, taps, form), status=422)
    except Refused as refused:
        form.add_error(None, [str(reason) for reason in refused.reasons])
        return render(request, "gathering/sap.html", sap_context(request, tree, taps, form), status=409)
    messages.success(request, said(entry, units))
    return go_on(request, tree)


def log_or_ask(request: SignedInRequest, tree: Tree, form: SapForm) -> Collection:
    """Save the entry; where numbers look odd, put the questions on the form, or save when each is answered."""
    data = form.cleaned_data
    log = partial(
        log_visit,
        tree=tree,
        by=request.user,
        visit=form.visit(),
        entry_id=data["entry"],
        happened_at=data["when"] or sent_at(data["entry"]),
    )
    try:
        return log()
    except AskAgain as again:
        if form.let_stand(again.questions):
            return log(confirmed=True)
        raise


def sap_context(request: SignedInRequest, tree: Tree, taps: list[Tap], form: SapForm) -> dict[str, Any]:
    units = request.user.units
    return {
        "tree": tree,
        "form": form,
        "pail_ml": sum(tap.container_ml for tap in taps) or 8_000,
        "step_ml": STEP_ML[units],
        "marks": MARKS[units],
        "more_open": any(form[name].value() for name in SapForm.MORE)
        or any(form[n].errors for n in SapForm.MORE)
        or bool(form.questions),
    }


@signed_in
@require_http_methods(["GET", "POST"])
def one_entry(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """One entry: what it says, its history, change it or take it back."""
    reach = access.scope(request.user, "collection.see").filter()
    rows = Collection.objects.select_related("tree", "person", "season", "group", "tap").filter(reach)
    entry = get_object_or_404(rows, pk=pk)
    why = may_change(entry, request.user)
    if request.method == "POST" and why:
        raise PermissionDenied(why)
    units = request.user.units
    form = SapForm(request.POST or None, initial=SapForm.start_from(entry), units=units)
    status = 200
    if request.method == "POST":
        done, status = _change(request, entry, form)
        if done is not None:
            return done
    history = entry.history.select_related("history_user").order_by("history_date")
    context = {
        "entry": entry,
        "form": form,
        "why_not": why,
        "history": history,
        "needs_reason": not (entry.person_id == request.user.pk and is_today(entry)),
        "SAP": Outcome.SAP,
    }
    return render(request, "gathering/entry.html", context, status=status)


def is_today(entry: Collection) -> bool:
    return timezone.localdate(entry.recorded_at) == timezone.localdate()


def _change(request: SignedInRequest, entry: Collection, form: SapForm) -> tuple[HttpResponse | None, int]:
    take_back = request.POST.get("act") == "take_back"
    if not take_back and not form.is_valid():
        return None, 422
    edition = request.POST.get("edition", "")
    change = partial(
        change_visit,
        entry=entry,
        by=request.user,
        visit=None if take_back else form.visit(),
        reason=request.POST.get("reason", "").strip(),
        edition=int(edition) if edition.isdecimal() and len(edition) < 10 else None,
    )
    try:
        try:
            change()
        except AskAgain as again:
            if not form.let_stand(again.questions):
                return None, 422
            change(confirmed=True)
    except Refused as refused:
        if not form.is_bound or take_back:
            form.full_clean()
        for reason_found in refused.reasons:
            form.add_error("reason" if reason_found.code == "reason" else None, str(reason_found))
        return None, 409 if any(r.code == "moved-on" for r in refused.reasons) else 422
    messages.success(request, _("Taken back.") if take_back else _("Changed. The old number stays in the history."))
    return redirect("log-entry", entry.pk), 302
