"""One share: what it came from, down to each collection behind it, and a question about it."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.sheets.columns import in_pieces
from sugarbush.seasons.models import Season
from sugarbush.shares import queries, rules, runs, tables
from sugarbush.shares.carried import SOURCES
from sugarbush.shares.forms import AskForm
from sugarbush.shares.models import RunState, Share, ShareRun
from sugarbush.shares.views_rules import no_season, said, season_of
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

SHOWN_TO_ALL = (RunState.QUERIES, RunState.FINAL, RunState.SUPERSEDED)
SOURCE_WORDS = {
    "entry": gettext_lazy("read at the tree"),
    "delivery": gettext_lazy("read at the depot"),
    "tree": gettext_lazy("the tree’s mean this season"),
    "programme": gettext_lazy("the programme’s mean"),
}
ROWS_A_PAGE = 40


def share_for(request: SignedInRequest, pk: int) -> Share:
    """One's own share once it is shown, or any for whoever sees everybody's; otherwise it is not there."""
    access.require(request.user, "share.own", anywhere=True)
    share = get_object_or_404(Share.objects.select_related("run__season", "run__rule", "person", "owner"), pk=pk)
    own = share.person_id == request.user.pk and share.run.state in SHOWN_TO_ALL
    if not own and not access.holds(request.user, "share.see"):
        raise Http404
    return share


def statement(request: SignedInRequest, share: Share, run: ShareRun) -> dict[str, Any]:
    """What a statement says; no query but what its caller prefetched."""
    about = share.working
    read_ml = about.get("read_ml") or {}
    return {
        "share": share,
        "about": about,
        "parts": about.get("parts", []),
        "season_ml": sum(row["sap_ml"] for row in run.inputs["people"]),
        "sources": [(SOURCE_WORDS[name], read_ml[name]) for name in SOURCES if read_ml.get(name)],
        "hours": Decimal(about.get("min") or 0) / 60,
        "is_person": share.party == "person",
        "is_owner": share.party == "owner",
    }


def share_page(
    request: SignedInRequest, share: Share, *, status: int = 200, refused: tuple[Reason, ...] = (), form: Any = None
) -> HttpResponse:
    run = share.run
    own = share.person_id == request.user.pk
    handed = runs.handed_out([share])[share.pk]
    context = {
        **statement(request, share, run),
        "run": run,
        "season": run.season,
        "own": own,
        "sees": access.holds(request.user, "share.see"),
        "sentences": said(run.rule, request.user.units),
        "changes": rules.changes(run.season, run.rule.version),
        "queries": list(share.queries.select_related("asked_by", "answered_by")),
        "earlier": _earlier_queries(share),
        "why_not_ask": queries.why_not_now(run),
        "may_ask": queries.may_ask(share, request.user),
        "form": form or AskForm(),
        "refused": refused,
        "is_final": run.state == RunState.FINAL,
        "is_open": run.state == RunState.QUERIES,
        "is_old": run.state == RunState.SUPERSEDED,
        "to_come": runs.still_due(share, handed) if run.state == RunState.FINAL else {},
        "handed": handed,
    }
    return render(request, "shares/share.html", context, status=status)


def _earlier_queries(share: Share) -> list[Any]:
    """Questions of the same person about working-outs before this one: they see what became of them."""
    if share.person_id is None:
        return []
    rows = Share.objects.filter(
        run__season_id=share.run.season_id, run__number__lt=share.run.number, person_id=share.person_id
    )
    found = []
    for other in (
        rows.defer("working").select_related("run").prefetch_related("queries__answered_by", "queries__asked_by")
    ):
        found += list(other.queries.all())
    return found


@signed_in
@require_safe
def share(request: SignedInRequest, pk: int) -> HttpResponse:
    """One share and how it came about."""
    return share_page(request, share_for(request, pk))


@signed_in
@require_safe
def my_share(request: SignedInRequest) -> HttpResponse:
    """One's own share of this season, or of the one the address names."""
    season = season_of(request)
    if season is None:
        return no_season(request)
    shown = (RunState.QUERIES, RunState.FINAL)
    rows = Share.objects.filter(run__season=season, run__state__in=shown, person=request.user)
    mine = rows.select_related("run__season", "run__rule", "person", "owner").order_by("-run__number").first()
    if mine is not None:
        return share_page(request, mine)
    return render(request, "shares/not_yet.html", _not_yet(request, season))


def _not_yet(request: SignedInRequest, season: Season) -> dict[str, Any]:
    rule = rules.in_force(season)
    own = Collection.objects.filter(season=season, person=request.user, state=CollectionState.COUNTED, volume_ml__gt=0)
    totals = list(own.values_list("volume_ml", "rain_ml", "discarded_ml"))
    return {
        "season": season,
        "seasons": list(Season.objects.values_list("year", flat=True)),
        "rule": rule,
        "sentences": said(rule, request.user.units),
        "changes": rules.changes(season),
        "so_far_ml": sum(volume + rain - tipped for volume, rain, tipped in totals),
        "entries": len(totals),
        "run_shown": ShareRun.objects.filter(season=season, state__in=(RunState.QUERIES, RunState.FINAL)).exists(),
    }


def _behind(kept: Sequence[Any]) -> list[dict[str, Any]]:
    """Collections as they were frozen with a share, beside what stands in them now; one query."""
    entries = Collection.objects.select_related("tree").in_bulk([uuid.UUID(hex=row[0]) for row in kept])
    rows = []
    for hex_id, ml, brix, source in kept:
        entry = entries.get(uuid.UUID(hex=hex_id))
        rows.append(
            {
                "entry": entry,
                "ml": ml,
                "brix": Decimal(brix).scaleb(-2),
                "weight": Decimal(ml * brix).scaleb(-5),
                "source": SOURCE_WORDS[SOURCES[source]],
                "less_ml": entry.net_ml - entry.rain_ml - ml if entry else 0,
            }
        )
    return rows


@signed_in
@require_safe
def share_litres(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """The collections behind the litres of a share, as they were frozen with it: they add up to it exactly."""
    found = share_for(request, pk)
    kept = found.working.get("entries", [])
    if wants_file(request):
        lines = in_pieces(kept, _behind)
        return list_taken(request, f"litres-{found.run.season.year}", tables.litres(request.user.units), lines)
    page = page_of(kept, request, per_page=ROWS_A_PAGE)
    rows = _behind(list(page.object_list))
    context = {
        "share": found,
        "run": found.run,
        "own": found.person_id == request.user.pk,
        "page": page,
        "rows": rows,
        "page_ml": sum(row["ml"] for row in rows),
        "sum_ml": sum(row[1] for row in kept),
        "sum_weight": Decimal(sum(row[1] * row[2] for row in kept)).scaleb(-5),
        "count": len(kept),
    }
    return render(request, "shares/litres.html", context)


@signed_in
@require_POST
def share_ask(request: SignedInRequest, pk: int) -> HttpResponse:
    """Ask about a share."""
    found = share_for(request, pk)
    form = AskForm(request.POST)
    if not form.is_valid():
        return share_page(request, found, status=422, form=form)
    try:
        queries.ask(share=found, by=request.user, text=form.cleaned_data["text"], query_id=form.cleaned_data["query"])
    except Refused as refused:
        return share_page(request, found, status=409, refused=refused.reasons, form=form)
    messages.success(request, _("Asked. Nothing becomes final until it is answered; the answer stands here."))
    return redirect("share", found.pk)
