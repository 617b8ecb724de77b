"""Seasons and entries for programs: the figures of the season's page to the millilitre, and the rows behind them."""

from __future__ import annotations

import uuid
from collections import defaultdict
from typing import Any

from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from sugarbush.api.door import NotUnderstood, ProgramRequest, answer, limit_of, link, program
from sugarbush.api.features import moment
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.review import reach, totals
from sugarbush.review.counting import Sums
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access

ENTRY = (
    "pk", "tree__code", "happened_at", "person__display_name", "group__name", "outcome", "state", "volume_ml",
    "rain_ml", "discarded_ml", "discard_reason", "sugar_brix",
)  # fmt: skip


@program("api-seasons")
def seasons(request: ProgramRequest) -> HttpResponse:
    access.require(request.person, "season.totals", anywhere=True)
    rows = [
        {
            "year": season.year,
            "state": season.state,
            "links": [
                link(request, "totals", "api-season-totals", season.year, type="application/json"),
                link(request, "entries", "api-season-entries", season.year, type="application/json"),
            ],
        }
        for season in Season.objects.order_by("-year")
    ]
    return answer({"seasons": rows, "links": [link(request, "self", "api-seasons", type="application/json")]})


def _sums(sums: Sums) -> dict[str, Any]:
    brix = sums.sugar_brix
    return {
        "volume_ml": sums.out_ml,
        "rain_ml": sums.rain_ml,
        "tipped_out_ml": sums.tipped_ml,
        "kept_ml": sums.kept_ml,
        "to_review_ml": sums.review_ml,
        "not_ours_ml": sums.not_ours_ml,
        "sugar_brix": None if brix is None else round(brix, 2),
    }


@program("api-season-totals")
def season_totals(request: ProgramRequest, year: int) -> HttpResponse:
    """What the season's page says; the rows by tree are those the person may open, as there."""
    access.require(request.person, "season.totals", anywhere=True)
    season = get_object_or_404(Season, year=year)
    kept, counted = totals.totals_of(season)
    mine = reach.of(request.person)
    tree_rows = reach.tree_rows(counted.cells, counted.trees, mine)
    chain: dict[tuple[str, str, str], int] = defaultdict(int)
    for flow in kept.flows:
        if flow.standing == "counted":
            chain[flow.cause, flow.came_from, flow.went_to] += flow.ml
    return answer(
        {
            "year": season.year,
            "state": season.state,
            "whole": _sums(kept.sums),
            "syrup_ml": kept.syrup_ml,
            "days": [
                {"day": row.day.isoformat(), "coldest_c": row.low_c, "warmest_c": row.high_c, **_sums(row.sums)}
                for row in kept.days
            ],
            "groups": [{"group": row.name or None, **_sums(row.sums)} for row in kept.groups],
            "species": [{"species": row.name or None, "taps": row.taps, **_sums(row.sums)} for row in kept.species],
            "trees": [{"tree": row.name, "taps": row.taps, **_sums(row.sums)} for row in tree_rows],
            "all_trees": mine.all_trees,
            "chain": [
                {"cause": cause, "from": source or None, "to": target or None, "volume_ml": ml}
                for (cause, source, target), ml in sorted(chain.items())
            ],
            "links": [link(request, "self", "api-season-totals", year, type="application/json")],
        }
    )


@program("api-season-entries")
def season_entries(request: ProgramRequest, year: int) -> HttpResponse:
    """The entries the person may open: on the list of the season's page and in its file the same rows."""
    access.require(request.person, "season.totals", anywhere=True)
    season = get_object_or_404(Season, year=year)
    limit = limit_of(request)
    rows = Collection.objects.filter(reach.of(request.person).entries(), season=season)
    found = list(_after(rows, request.GET.get("after")).order_by("happened_at", "pk").values_list(*ENTRY)[: limit + 1])
    more, found = len(found) > limit, found[:limit]
    query = request.GET.urlencode()
    links = [link(request, "self", "api-season-entries", year, query=query, type="application/json")]
    if more:
        query = f"limit={limit}&after={found[-1][0]}"
        links.append(link(request, "next", "api-season-entries", year, query=query, type="application/json"))
    return answer({"year": year, "entries": [_entry(row) for row in found], "links": links})


def _after(rows: Any, said: str | None) -> Any:
    if said is None:
        return rows
    try:
        last = rows.filter(pk=uuid.UUID(said)).values_list("happened_at", "pk").first()
    except ValueError:
        raise NotUnderstood(_("“after” is the number of an entry, as the next link has it.")) from None
    if last is None:
        raise Http404
    at, pk = last
    return rows.filter(Q(happened_at__gt=at) | Q(happened_at=at, pk__gt=pk))


def _entry(row: tuple[Any, ...]) -> dict[str, Any]:
    """counts_*: what of it stands in the totals now; said_*: what the entry itself says."""
    pk, tree, at, person, group, outcome, state, volume_ml, rain_ml, discarded_ml, reason, brix = row
    counts = state == CollectionState.COUNTED
    return {
        "entry": str(pk),
        "tree": tree,
        "happened_at": moment(at),
        "person": person,
        "group": group,
        "outcome": outcome,
        "state": state,
        "counts_volume_ml": volume_ml if counts else 0,
        "counts_rain_ml": rain_ml if counts else 0,
        "counts_discarded_ml": discarded_ml if counts else 0,
        "said_volume_ml": volume_ml,
        "said_rain_ml": rain_ml,
        "said_discarded_ml": discarded_ml,
        "discard_reason": reason,
        "sugar_brix": None if brix is None else float(brix),
    }
