"""The hand-out list on a phone and on paper, and the list of what to give on."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Count, Q, QuerySet
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.lots.jars import jars_free
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.shares import handouts, runs, tables
from sugarbush.shares.forms import GiveOnForm
from sugarbush.shares.models import Party, Share, ShareRun, Taken
from sugarbush.shares.views_rules import no_season, season_of
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

ROWS_A_PAGE = 25
WHO = ("waiting", "done", "all")


def list_for(request: SignedInRequest) -> ShareRun | None:
    """The final working-out whose jars are handed out."""
    access.require(request.user, "share.see", anywhere=True)
    season = season_of(request)
    return None if season is None else runs.final_of(season)


def rows_of(run: ShareRun, *, who: str = "all", name: str = "") -> QuerySet[Share]:
    rows = run.shares.filter(given_ml__gt=0).select_related("person", "owner", "taken_by").order_by("name", "pk")
    if who == "waiting":
        rows = rows.filter(taken=Taken.WAITING)
    elif who == "done":
        rows = rows.exclude(taken=Taken.WAITING).order_by("-taken_at", "pk")
    return rows.filter(name__icontains=name) if name else rows


@signed_in
@require_safe
def hand_out(request: SignedInRequest) -> HttpResponseBase:
    """Who gets which jars; one press for each."""
    run = list_for(request)
    if run is None:
        season = season_of(request)
        if season is None:
            return no_season(request)
        return render(request, "shares/no_list.html", {"season": season, "underway": runs.underway_of(season)})
    if wants_file(request):
        rows = rows_of(run, who=asked_who(request), name=request.GET.get("name", "").strip())
        return list_taken(request, "hand-out", tables.hand_out(request.user.units), rows)
    return list_page(request, run)


def asked_who(request: SignedInRequest) -> str:
    """Which part of the list: those that wait, those that are done, or all."""
    who = request.GET.get("who") or request.POST.get("who") or "waiting"
    if who not in WHO:
        raise Http404
    return who


def list_page(
    request: SignedInRequest, run: ShareRun, *, status: int = 200, refused: tuple[Reason, ...] = (), about: Any = None
) -> HttpResponse:
    who = asked_who(request)
    name = (request.GET.get("name") or request.POST.get("name") or "").strip()
    rows = rows_of(run, who=who, name=name)
    page = page_of(rows, request, per_page=ROWS_A_PAGE)
    shown = list(page.object_list)
    handed = runs.handed_out(shown)
    due = {share.pk: runs.still_due(share, handed[share.pk]) for share in shown}
    waiting = {share.pk: due[share.pk] for share in shown if share.taken == Taken.WAITING}
    picks = handouts.preview(waiting, run.season)
    counts = run.shares.filter(given_ml__gt=0).aggregate(
        all=Count("pk"), waiting=Count("pk", filter=Q(taken=Taken.WAITING))
    )
    today = timezone.localdate()
    context = {
        "run": run,
        "season": run.season,
        "page": page,
        "rows": [
            {
                "share": share,
                "due": due[share.pk],
                "partly": bool(handed[share.pk]) and share.taken == Taken.WAITING,
                "picks": picks.get(share.pk, []),
                "told": handouts.told(picks.get(share.pk, [])),
                "waits": share.taken == Taken.WAITING,
                "today": share.taken_at is not None and timezone.localdate(share.taken_at) == today,
            }
            for share in shown
        ],
        "lots": [lot.code for lot in jars_free(run.season)] if waiting else [],
        "who": who,
        "name": name,
        "n_all": counts["all"],
        "n_waiting": counts["waiting"],
        "n_done": counts["all"] - counts["waiting"],
        "n_give_on": len(handouts.to_give_on(run)),
        "late": run.collect_by is not None and today > run.collect_by,
        "may": access.holds(request.user, "share.handout") and not run.season.is_closed,
        "underway": runs.underway_of(run.season),
        "refused": refused,
        "about": about,
    }
    return render(request, "shares/hand_out.html", context, status=status)


@signed_in
@require_POST
def hand_out_act(request: SignedInRequest, pk: int) -> HttpResponse:
    """Tick off, decline, or take the tick back."""
    access.require(request.user, "share.see", anywhere=True)
    share = get_object_or_404(Share.objects.select_related("run__season"), pk=pk)
    access.require(request.user, "share.handout", anywhere=True)
    act, note = request.POST.get("act", ""), request.POST.get("note", "")
    try:
        if act == "out":
            handouts.hand_out(
                share=share,
                by=request.user,
                note=note,
                as_told=request.POST.get("told"),
                lot_code=request.POST.get("lot", ""),
            )
            said = _("%(name)s: handed out.")
        elif act == "decline":
            handouts.decline(share=share, by=request.user, note=note)
            said = _("%(name)s: declined. The jars are on the list of what to give on.")
        elif act == "undo":
            handouts.undo(share=share, by=request.user, reason=note)
            said = _("%(name)s: taken back, waiting again.")
        else:
            raise Http404
    except Refused as refused:
        return list_page(request, share.run, status=409, refused=refused.reasons, about=share)
    messages.success(request, said % {"name": share.name})
    # The name that was looked for goes: the next in the queue has another.
    asked = ("who",) if request.POST.get("name") else ("who", "page")
    kept = {name: request.POST[name] for name in asked if request.POST.get(name)}
    return redirect(f"{reverse('hand-out')}?{urlencode(kept)}" if kept else "hand-out")


@signed_in
@require_safe
def hand_out_print(request: SignedInRequest) -> HttpResponse:
    """The list on paper, with a line to sign on."""
    run = list_for(request)
    if run is None:
        raise Http404
    rows = rows_of(run)
    groups = [
        (_("Members"), [share for share in rows if share.party == Party.PERSON]),
        (_("Tree owners"), [share for share in rows if share.party == Party.OWNER]),
        (_("Set aside"), [share for share in rows if share.party == Party.ASIDE]),
    ]
    return render(request, "shares/hand_out_print.html", {"run": run, "groups": groups, "season": run.season})


@signed_in
@require_http_methods(["GET", "POST"])
def give_on(request: SignedInRequest) -> HttpResponse:
    """Jars that were declined, not fetched in time, or wished for others: to whom they go."""
    run = list_for(request)
    if run is None:
        raise Http404
    rows = handouts.to_give_on(run)
    form = GiveOnForm(request.POST or None)
    refused: tuple[Reason, ...] = ()
    status = 200
    if request.method == "POST":
        access.require(request.user, "share.handout", anywhere=True)
        chosen = [share for share in rows if str(share.pk) in request.POST.getlist("share")]
        status = 422
        if not chosen:
            refused = (Reason(code="none", fact=_("Choose whose jars go.")),)
        elif form.is_valid():
            try:
                done = handouts.give_on(shares=chosen, by=request.user, to_text=form.cleaned_data["to"])
            except Refused as refusal:
                refused, status = refusal.reasons, 409
            else:
                said = ngettext(
                    "The jars of %(n)d share are given on.", "The jars of %(n)d shares are given on.", len(done)
                )
                messages.success(request, said % {"n": len(done)})
                return redirect("give-on")
    handed = runs.handed_out(rows)
    context = {
        "run": run,
        "rows": [(share, runs.still_due(share, handed[share.pk])) for share in rows],
        "total": _total(runs.still_due(share, handed[share.pk]) for share in rows),
        "form": form,
        "refused": refused,
        "chosen": request.POST.getlist("share"),
        "may": access.holds(request.user, "share.handout") and not run.season.is_closed,
        "given": list(run.shares.filter(taken=Taken.DONATED).order_by("-taken_at")[:50]),
    }
    return render(request, "shares/give_on.html", context, status=status)


def _total(many: Any) -> dict[int, int]:
    found: dict[int, int] = {}
    for sizes in many:
        for size, count in sizes.items():
            found[size] = found.get(size, 0) + count
    return found
