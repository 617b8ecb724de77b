"""Recalls: the list, opening one from a lot or from sap, whom to ring, and its end."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sugarbush.boils.views_depot import no_season
from sugarbush.lots import recalls as acts
from sugarbush.lots import tables, tracing
from sugarbush.lots.forms import CallForm, CloseRecallForm, RecallForm
from sugarbush.lots.jars import whole
from sugarbush.lots.models import JarIssue, Lot, LotState, Recall
from sugarbush.lots.sizes import size_words
from sugarbush.lots.views import sized
from sugarbush.lots.views_trace import asked_uuid, beginning
from sugarbush.owners.queries import owners_for
from sugarbush.parts.paging import page_of
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_safe
def recalls(request: SignedInRequest) -> HttpResponseBase:
    """The season's recalls, open ones first."""
    access.require(request.user, "lot.holders", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    rows = Recall.objects.filter(season=season).select_related("opened_by", "season").annotate(n_lots=Count("lots"))
    rows = rows.order_by("closed_at", "-opened_at")
    if wants_file(request):
        return list_taken(request, "recalls", tables.recalls(), rows)
    page = page_of(rows, request)
    context = {
        "season": season,
        "page": page,
        "may_open": access.holds(request.user, "recall.open") and not season.is_closed,
    }
    return render(request, "lots/recalls.html", context)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def recall_new(request: SignedInRequest) -> HttpResponse:
    """Call lots back: one lot, or every lot that some sap went into, each with its share."""
    access.require(request.user, "recall.open", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    offered, begin = _offered(request, season)
    words = {lot: _offer_words(lot, share) for lot, share in offered.items()}
    chosen = [lot.pk for lot, share in offered.items() if share is not None or len(offered) == 1]
    initial = {"lots": chosen if begin or request.GET.get("lot") else []}
    form = RecallForm(request.POST or None, lots=words, units=request.user.units, initial=initial)
    status, refused_by = 200, None
    if request.method == "POST":
        status = 422
        if form.is_valid():
            lots = {lot: offered[lot] for lot in form.cleaned_data["lots"]}
            try:
                made = acts.open_recall(
                    season=season,
                    lots=lots,
                    reason=form.cleaned_data["reason"],
                    by=request.user,
                    collection=begin.subject if begin and begin.kind == "collection" else None,
                    uuid=form.cleaned_data["entry"],
                )
            except Refused as refused:
                refused_by, status = refused.reasons, 409
            else:
                messages.warning(request, _("The lots are called back: nothing of them goes out. Ring the holders."))
                return redirect("recall", made.pk)
    context = {"form": form, "begin": begin, "offered": offered, "refused_by": refused_by}
    return render(request, "lots/recall_new.html", context, status=status)


def _offered(request: SignedInRequest, season: Season) -> tuple[dict[Lot, Decimal | None], tracing.Beginning | None]:
    """Lots to choose from: those the sap went into with their share, one lot by itself, or all of the season."""
    rows = Lot.objects.exclude(state=LotState.DESTROYED)
    if request.GET.get("lot"):
        return {get_object_or_404(rows, pk=asked_uuid(request.GET["lot"])): None}, None
    begin = beginning(request)
    if begin is not None:
        found = tracing.forward(begin, request.user)
        return {
            row.lot: Decimal(str(round(row.share, 6))) for row in found.lots if row.lot.state != LotState.DESTROYED
        }, begin
    return dict.fromkeys(rows.filter(season=season).order_by("-packed_at")[:200]), None


def _offer_words(lot: Lot, share: Decimal | None) -> str:
    words = {"lot": lot.code, "state": lot.get_state_display()}
    if share is None:
        return _("%(lot)s, %(state)s") % words
    return _("%(lot)s, %(state)s: %(pct)s of it") % {**words, "pct": tracing.per_cent_words(float(share))}


def _find(pk: uuid.UUID) -> Recall:
    return get_object_or_404(
        Recall.objects.select_related("season", "opened_by", "closed_by", "collection__tree"), pk=pk
    )


@signed_in
@require_safe
def recall(request: SignedInRequest, pk: uuid.UUID) -> HttpResponseBase:
    """One recall: lots, holders to ring, how it ended."""
    access.require(request.user, "lot.holders", anywhere=True)
    found = _find(pk)
    if wants_file(request):
        return list_taken(request, f"{found}-holders", tables.holders(request.user), acts.holders(found))
    return _page(request, found)


def _page(
    request: SignedInRequest, found: Recall, *, status: int = 200, close_form: Any = None, call: Any = None
) -> HttpResponse:
    reader = request.user
    people = acts.holders(found)
    page = page_of(sorted(people, key=lambda one: (one.is_done, str(one.issue.lot.code))), request, 50)
    lots = list(found.lots.select_related("lot"))
    stand = whole([row.lot for row in lots])
    is_open = found.closed_at is None
    reachable = set()
    owner_ids = {one.issue.owner_id for one in page.object_list if one.issue.owner_id}
    if owner_ids and access.holds(reader, "contact.see"):
        reachable = set(owners_for(reader, "contact.see").filter(Q(pk__in=owner_ids)).values_list("pk", flat=True))
    sees_people = access.scope(reader, "people.see").everything
    may_call = is_open and access.holds(reader, "recall.call")
    context = {
        "recall": found,
        "lots": [
            {
                "lot": row.lot,
                "pct": "" if row.part is None else tracing.per_cent_words(float(row.part)),
                "here": sized(stand[row.lot_id]),
            }
            for row in lots
        ],
        "page": page,
        "holders": [
            {
                "who": tracing.holder_words(one.issue, reader),
                "at": one,
                "size": size_words(one.issue.size_ml),
                "email": one.issue.person.email if one.issue.person and (sees_people or may_call) else "",
                "owner_id": one.issue.owner_id if one.issue.owner_id in reachable else None,
                "is_refused": call == one.issue.pk,
            }
            for one in page.object_list
        ],
        "left": sum(not one.is_done for one in people),
        "count": len(people),
        "out": sum(one.out for one in people),
        "may_call": may_call,
        "may_back": may_call and access.holds(reader, "lot.issue"),
        "close_form": close_form or CloseRecallForm(units=reader.units),
        "may_close": is_open and access.holds(reader, "recall.close"),
        "against": acts.why_not_closed(found, people) if is_open else [],
        "call_form": CallForm(units=reader.units),
    }
    return render(request, "lots/recall.html", context, status=status)


@signed_in
@require_POST
def recall_call(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """Tick off a holder: told, or tried."""
    access.require(request.user, "recall.call", anywhere=True)
    found = _find(pk)
    issue = get_object_or_404(JarIssue, pk=asked_uuid(request.POST.get("issue", "")), lot__recalls__recall=found)
    form = CallForm(request.POST, units=request.user.units)
    if not form.is_valid():
        return _page(request, found, status=422, call=issue.pk)
    data = form.cleaned_data
    try:
        acts.tick_off(recall=found, issue=issue, by=request.user, reached=data["reached"] == "yes", note=data["note"])
    except Refused as refused:
        messages.error(request, str(refused))
        return _page(request, found, status=422, call=issue.pk)
    messages.success(request, _("Written down."))
    return redirect("recall", found.pk)


@signed_in
@require_POST
def recall_close(request: SignedInRequest, pk: uuid.UUID) -> HttpResponse:
    """End the recall with its outcome."""
    access.require(request.user, "lot.holders", anywhere=True)
    found = _find(pk)
    if not access.holds(request.user, "recall.close"):
        raise PermissionDenied(access.why_not(request.user, "recall.close", anywhere=True))
    form = CloseRecallForm(request.POST, units=request.user.units)
    if not form.is_valid():
        return _page(request, found, status=422, close_form=form)
    try:
        acts.close_recall(
            recall=found, by=request.user, outcome=form.cleaned_data["outcome"], safe=form.cleaned_data["safe"]
        )
    except Refused as refused:
        form.add_error(None, [str(reason) for reason in refused.reasons])
        return _page(request, found, status=409, close_form=form)
    messages.success(request, _("The recall is over."))
    return redirect("recall", found.pk)
