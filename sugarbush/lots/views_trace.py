"""The trace page: a lot back to trees and days, or sap onward to lots, jars and holders."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from sugarbush.boils.models import Batch, Delivery
from sugarbush.gathering.models import Collection
from sugarbush.lots import jars, tables, tracing
from sugarbush.lots.models import Lot
from sugarbush.lots.views import sized
from sugarbush.parts.paging import page_of
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.trees.queries import find_tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.taking_home import list_taken, table_taken
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

LEVELS = (
    ("collections", gettext_lazy("Collections")),
    ("trees", gettext_lazy("Trees")),
    ("deliveries", gettext_lazy("Deliveries")),
    ("tanks", gettext_lazy("Tanks")),
    ("batches", gettext_lazy("Batches")),
)
STARTS = ("collection", "tree", "delivery", "tank", "batch")
PER_PAGE = 50


def asked_uuid(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError as refusal:
        raise Http404 from refusal


def beginning(request: SignedInRequest) -> tracing.Beginning | None:
    """Where the address says a trace forward starts; 404 where the person may not see that place."""
    asked = next(((kind, request.GET[kind]) for kind in STARTS if request.GET.get(kind)), None)
    if asked is None:
        return None
    kind, text = asked
    reach = access.scope(request.user, "lot.trace")
    if kind == "tree":
        season = _season(request)
        if season is None:
            raise Http404
        tree = find_tree(request.user, text)
        if not reach.covers(tree.group_id):
            raise Http404
        return tracing.from_tree(tree, season)
    pk = asked_uuid(text)
    if kind == "collection":
        entry = get_object_or_404(Collection.objects.select_related("tree", "season"), pk=pk)
        if not reach.covers(entry.group_id):
            raise Http404
        return tracing.from_collection(entry)
    if kind == "delivery":
        found = get_object_or_404(Delivery.objects.select_related("season", "depot"), pk=pk)
        return tracing.from_delivery(found)
    if kind == "batch":
        return tracing.from_batch(get_object_or_404(Batch.objects.select_related("boil_day", "pan__season"), pk=pk))
    rows = Vessel.objects.filter(kind=VesselKind.TANK).select_related("season")
    return tracing.from_vessel(get_object_or_404(rows, pk=pk))


def _season(request: SignedInRequest) -> Season | None:
    year = request.GET.get("season", "")
    if year.isascii() and year.isdigit() and len(year) == 4:
        return Season.objects.filter(year=int(year)).first()
    return Season.current()


@signed_in
@require_safe
def trace_page(request: SignedInRequest) -> HttpResponse:
    """From a lot back, or from sap onward; without either, the box to search from."""
    access.require(request.user, "lot.trace", anywhere=True)
    words = request.GET.get("q", "").strip()
    if words:
        found = tracing.find_by_words(words, Season.current())
        if found:
            return redirect(f"{reverse('trace')}?{urlencode(found)}")
        context = {"q": words, "nothing": True, "lots": _newest()}
        return render(request, "lots/trace.html", context)
    if request.GET.get("lot"):
        rows = Lot.objects.select_related("vessel", "season")
        return _back(request, get_object_or_404(rows, pk=asked_uuid(request.GET["lot"])))
    begin = beginning(request)
    if begin is not None:
        return _onward(request, begin)
    return render(request, "lots/trace.html", {"lots": _newest()})


def _newest() -> list[Lot]:
    season = Season.current()
    return list(Lot.objects.filter(season=season).order_by("-packed_at")[:8]) if season else []


def _level(request: SignedInRequest) -> str:
    asked = request.GET.get("level", "collections")
    return asked if asked in dict(LEVELS) else "collections"


def _back(request: SignedInRequest, lot: Lot) -> HttpResponse:
    reader, level = request.user, _level(request)
    traced = tracing.back_from(lot, reader, by_tree=level == "trees")
    everything = access.scope(reader, "lot.trace").everything
    context: dict[str, Any] = {
        "lot": lot,
        "traced": traced,
        "level": level,
        "file_query": f"?lot={lot.pk}&level={level}",
        "levels": LEVELS,
        "jars": jars_of(lot, reader),
        "sees_permissions": access.holds(reader, "permission.see"),
        "everything": everything,
        "rain_ml": round(traced.back.rain_ml),
    }
    if level == "collections":
        page = page_of(traced.parts, request, PER_PAGE)
        context["entries"] = tracing.entries(traced, list(page.object_list))
    else:
        rows = sums_of(traced, level)
        page = page_of(rows, request, PER_PAGE)
        shown: list[tracing.Sum] = list(page.object_list)
        name_sums(shown, level, everything=everything)
        context["sums"] = [(row, _on(level, row.key)) for row in shown]
    context["page"] = page
    return render(request, "lots/trace_lot.html", context)


def sums_of(traced: tracing.LotTrace, level: str) -> list[tracing.Sum]:
    if level == "trees":
        return tracing.by_tree(traced)
    if level == "deliveries":
        return tracing.by_delivery(traced)
    return tracing.by_vessel(traced, VesselKind.TANK if level == "tanks" else VesselKind.PAN)


def name_sums(rows: Sequence[tracing.Sum], level: str, *, everything: bool) -> None:
    if level == "trees":
        tracing.name_trees(rows)
    elif level == "deliveries":
        tracing.name_deliveries(rows, everything=everything)


def _on(level: str, key: Any) -> str:
    """Where the trace goes on forward from a line of a lot."""
    kind = {"trees": "tree", "deliveries": "delivery", "tanks": "tank", "batches": "batch"}[level]
    return "" if kind == "tree" else f"{reverse('trace')}?{urlencode({kind: key})}"


def jars_of(lot: Lot, reader: Person) -> dict[str, Any]:

    stand, went = jars.whole([lot])[lot.pk], jars.out([lot])
    holders = tracing.issues_out([lot]) if access.holds(reader, "lot.holders") else []
    return {
        "here": sized(stand),
        "out": sized({size: n for (_pk, size), n in went.items()}),
        "holders": [(issue, tracing.holder_words(issue, reader)) for issue in holders],
    }


def _onward(request: SignedInRequest, begin: tracing.Beginning) -> HttpResponse:
    found = tracing.forward(begin, request.user)
    page = page_of(found.lots, request, 20)
    context = {
        "begin": begin,
        "found": found,
        "page": page,
        "rows": [
            {
                "at": row,
                "here": sized(row.here),
                "out": sized(row.out),
                "holders": [(issue, tracing.holder_words(issue, request.user)) for issue in row.holders],
            }
            for row in page.object_list
        ],
        "now": [(vessel, round(ml)) for vessel, ml in found.now[:20] if ml >= 1],
        "unpacked": [(vessel, tracing.per_cent_words(share)) for vessel, share in found.unpacked],
        "sees_holders": access.holds(request.user, "lot.holders"),
        "may_recall": access.holds(request.user, "recall.open") and not begin.season.is_closed,
        "query": urlencode({begin.kind: _key(begin)}),
        "total_ml": round(found.forth.total_ml),
    }
    return render(request, "lots/trace_onward.html", context)


def _key(begin: tracing.Beginning) -> str:
    return begin.subject.code if begin.kind == "tree" else str(begin.subject.pk)


@signed_in
@require_safe
def trace_csv(request: SignedInRequest) -> HttpResponseBase:
    """The same rows to take away, either way."""
    access.require(request.user, "lot.trace", anywhere=True)
    if request.GET.get("lot"):
        lot = get_object_or_404(Lot.objects.select_related("vessel", "season"), pk=asked_uuid(request.GET["lot"]))
        level = _level(request)
        traced = tracing.back_from(lot, request.user, by_tree=level == "trees")
        if level != "collections":
            rows = sums_of(traced, level)
            name_sums(rows, level, everything=access.scope(request.user, "lot.trace").everything)
            return list_taken(request, f"trace-{lot.code}-{level}", tables.sums(), rows)
        head = (
            "lot",
            "share",
            "ml_of_lot",
            "tree",
            "address",
            "person",
            "collected_at",
            "ml_collected",
            "way",
            "permission",
        )
        return table_taken(request, f"trace-{lot.code}", head, _csv_back(lot, traced))
    begin = beginning(request)
    if begin is None:
        raise Http404
    found = tracing.forward(begin, request.user)
    head = ("from", "lot", "share", "state", "size_ml", "jars", "where", "holder", "since", "purpose")
    return table_taken(request, f"trace-{begin.label}", head, _csv_onward(found, request.user))


def _csv_back(lot: Lot, traced: tracing.LotTrace) -> Iterator[Sequence[Any]]:
    for start in range(0, len(traced.parts), 500):
        for row in tracing.entries(traced, traced.parts[start : start + 500]):
            yield (
                lot.code,
                round(row.share, 9),
                round(row.ml, 3),
                row.act.tree.code if row.act.tree else "",
                row.act.tree.address if row.act.tree else "",
                str(row.act.person or ""),
                timezone.localtime(row.act.happened_at),
                row.came_ml,
                " > ".join(step.label for step in row.way),
                ", ".join(slip.number for slip in row.permissions),
            )
    for share, ml, words in (
        (traced.hidden_share, traced.hidden_share * traced.back.total_ml, _("other groups")),
        (traced.unknown_share, traced.back.unknown_ml, _("measured over: origin not known")),
    ):
        if share > 0:
            yield (lot.code, round(share, 9), round(ml, 3), words, "", "", "", "", "", "")


def _csv_onward(found: tracing.Onward, reader: Person) -> Iterator[Sequence[Any]]:
    for row in found.lots:
        head = (found.begin.label, row.lot.code, round(row.share, 9), row.lot.state)
        for size, n in row.here.items():
            yield (*head, size, n, "here", "", "", "")
        for issue in row.holders:
            yield (
                *head,
                issue.size_ml,
                issue.left,  # type: ignore[attr-defined]
                "out",
                tracing.holder_words(issue, reader),
                timezone.localtime(issue.happened_at),
                issue.purpose,
            )
        if not row.holders:
            for size, n in row.out.items():
                yield (*head, size, n, "out", "", "", "")
