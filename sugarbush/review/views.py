"""The season's page, its files, and the step that closes it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import Q, Sum
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from sugarbush.boils.models import Batch, Delivery
from sugarbush.boils.views_depot import seen_deliveries
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.review import (
    chain,
    counting,
    culprits,
    earlier,
    exports,
    pictures,
    reach,
    running,
    shown,
    sugar,
    totals,
    workings,
)
from sugarbush.sap.models import Act, ActKind, Cause, Movement
from sugarbush.seasons import actions, closing
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import table_taken
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

FEW = 20


def find_season(request: SignedInRequest) -> Season | None:
    """The season the address names, else the one people work in, else the latest. None before the first."""
    access.require(request.user, "season.totals", anywhere=True)
    year = request.GET.get("year") or request.POST.get("year")
    if year is None or year == "":
        return Season.current() or Season.objects.first()
    if not (year.isascii() and year.isdigit() and len(year) <= 4):
        raise Http404
    return get_object_or_404(Season, year=int(year))


@signed_in
@require_safe
def season_review(request: SignedInRequest) -> HttpResponse:
    """What the season gave, where every litre went, and what still keeps it from closing."""
    return review_page(request, find_season(request))


def review_page(
    request: SignedInRequest, season: Season | None, *, status: int = 200, refused: tuple[Reason, ...] = ()
) -> HttpResponse:
    """The page of a season; `refused`: what stood in the way of closing it just now."""
    mine = reach.of(request.user)
    if season is None:
        may_start = access.holds(request.user, "season.change")
        none = {"may_start": may_start, "mine": mine, "earlier": earlier.years(mine)}
        return render(request, "review/no_season.html", none, status=status)
    kept, counted = totals.totals_of(season)
    tree_rows = reach.tree_rows(counted.cells, counted.trees, mine)
    person_rows = reach.person_rows(counted.cells, mine)
    sweet, whole = sugar.sugar(kept), chain.whole(kept)
    context = {
        "season": season,
        "season_query": f"?year={season.year}",
        "seasons": list(Season.objects.values_list("year", flat=True)),
        "totals": kept,
        "sums": kept.sums,
        "headline": shown.headline(kept, request.user.units),
        "span": shown.span(kept),
        "weeks": shown.weeks(kept.days),
        **pictures.of(season, kept, tree_rows, request.user.units),
        "days_so_far": list(zip(kept.days, running.so_far(kept.days), strict=True)),
        "worked": workings.panels(kept, request.user.units),
        "weather_days": sum(1 for row in kept.days if row.crosses is not None),
        "sap_days": sum(1 for row in kept.days if row.sums.out_ml > 0),
        "whole": whole,
        "culprits": [] if whole.closes and kept.entries_agree else culprits.first(season),
        "accounts": _accounts(kept),
        "sugar": sweet,
        "sugar_panel": sugar.panel(sweet, request.user.units) if sweet else None,
        "losses": chain.losses(kept),
        "lost": _lost(kept),
        "batches": Batch.objects.filter(boil_day__season=season, closed_at__isnull=False).count(),
        "mine": mine,
        "tree_page": page_of(tree_rows, request, key="trees"),
        "tree_sums": reach.together(tree_rows),
        "tree_taps": sum(row.taps for row in tree_rows),
        "person_page": page_of(person_rows, request, key="people"),
        "person_sums": reach.together(person_rows),
        "before": _before(season),
        "earlier": earlier.years(mine),
        "may_read_ledger": access.scope(request.user, "audit.see").everything,
        **_open_ends(request, season),
        **_closing(request, season, refused),
    }
    return render(request, "review/season.html", context, status=status)


def _accounts(kept: totals.Totals) -> list[tuple[str, str, chain.Account]]:
    return [
        ("sap", _("Sap"), chain.sap(kept)),
        ("pans", _("In the pans"), chain.pans(kept)),
        ("syrup", _("Syrup"), chain.syrup(kept)),
    ]


def _lost(kept: totals.Totals) -> dict[str, Any]:
    """The split bar: what of the counted sap reached a pan, was lost, or is still underway."""
    whole = kept.sums.out_ml + kept.sums.rain_ml
    lost_ml = chain.lost_ml(kept)
    if whole <= 0:
        return {}
    share = min(1.0, lost_ml / whole)
    return {"ml": lost_ml, "pct": 100 * share, "width": round(558 * share, 1), "x": round(1 + 558 * (1 - share), 1)}


def _before(season: Season) -> totals.Totals | None:
    """The closed season before this one, as it was kept."""
    found = Season.objects.filter(year__lt=season.year, frozen_totals__isnull=False).order_by("-year").first()
    if found is None or not found.frozen_totals or found.frozen_totals.get("edition") != totals.EDITION:
        return None
    return totals.Totals.from_kept(found.frozen_totals)


def corrections(season: Season) -> list[tuple[Act, int]]:
    """Corrections after closing, in the order they were made, with what each changed out of trees; two queries."""
    if season.closed_at is None:
        return []
    acts = Act.objects.filter(season=season, kind=ActKind.CORRECT, recorded_at__gt=season.closed_at)
    moved = Movement.objects.filter(act__in=acts, cause=Cause.OUT_OF_TREE).order_by()
    change = dict(moved.annotate(ml=counting.signed()).values_list("act_id").annotate(total=Sum("ml")))
    found = acts.select_related("tree", "person", "author").order_by("recorded_at", "pk")
    return [(act, int(change.get(act.pk, 0))) for act in found]


def _open_ends(request: SignedInRequest, season: Season) -> dict[str, Any]:
    """Differences explained at the depot, and corrections after closing."""
    delivered = Delivery.objects.filter(season=season).exclude(difference_ml=0)
    explained = seen_deliveries(request).filter(season=season).exclude(explanation="").order_by("happened_at", "number")
    late = corrections(season)
    over = delivered.aggregate(ml=Sum("difference_ml", filter=Q(difference_ml__gt=0), default=0))["ml"]
    under = delivered.aggregate(ml=Sum("difference_ml", filter=Q(difference_ml__lt=0), default=0))["ml"]
    return {
        "differences": {"over": over, "under": -under},
        "explained": list(explained[: FEW + 1]),
        "few": FEW,
        "late": late,
        "late_ml": sum(ml for _act, ml in late),
    }


def _closing(request: SignedInRequest, season: Season, refused: tuple[Reason, ...]) -> dict[str, Any]:
    may_close = access.holds(request.user, "season.step")
    asked = may_close and season.state in {SeasonState.RUNNING, SeasonState.ENDING}
    return {
        "may_step": may_close,
        "against": list(refused) or (closing.reasons_against(season) if asked else []),
        "show_gate": asked or bool(refused),
        "may_close_now": asked and season.state == SeasonState.ENDING,
        "refused": bool(refused),
    }


@signed_in
@require_POST
def season_close(request: SignedInRequest) -> HttpResponse:
    """Close the season; from then on its totals stand."""
    season = find_season(request)
    access.require(request.user, "season.step", anywhere=True)
    if season is None:
        raise Http404
    try:
        done = actions.step(by=request.user, season=season, to=SeasonState.CLOSED)
    except Refused as refusal:
        season.refresh_from_db()
        return review_page(request, season, status=409, refused=refusal.reasons)
    messages.success(request, _("Season %(year)d is closed. Its totals stand.") % {"year": done.year})
    return redirect(f"{reverse('season-review')}?year={done.year}")


Maker = Callable[[Season, reach.Reach], exports.Table]


def _of_count(make: Callable[[totals.Counted, reach.Reach], exports.Table]) -> Maker:
    def table(season: Season, mine: reach.Reach) -> exports.Table:
        _kept, counted = totals.totals_of(season)
        return make(counted, mine)

    return table


def _of_totals(make: Callable[[totals.Totals], exports.Table]) -> Maker:
    def table(season: Season, mine: reach.Reach) -> exports.Table:
        return make(totals.totals_of(season)[0])

    return table


FILES: dict[str, Maker] = {
    "collections": exports.collections,
    "by-tree": _of_count(exports.by_tree),
    "by-person": _of_count(exports.by_person),
    "by-group": _of_totals(exports.by_group),
    "by-species": _of_totals(exports.by_species),
    "by-day": _of_totals(exports.by_day),
    "earlier": earlier.file_of,
    "movements": lambda season, mine: exports.movements(season),
}


@signed_in
@require_safe
def season_csv(request: SignedInRequest, what: str) -> HttpResponseBase:
    """One table to take home, with the rows this reader may open. The ledger itself: coordinators and reviewers."""
    season = find_season(request)
    if season is None or what not in FILES:
        raise Http404
    if what == "movements" and not access.scope(request.user, "audit.see").everything:
        access.require(request.user, "audit.see", anywhere=True)
        raise Http404
    table = FILES[what](season, reach.of(request.user))
    return table_taken(request, f"season-{season.year}-{what}", table.heads, table.rows)
