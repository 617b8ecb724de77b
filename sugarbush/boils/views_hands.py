"""Sap handed from one person to another, and a second person's own word on a large difference."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.boils import approvals
from sugarbush.boils.forms_depot import HandOverForm
from sugarbush.boils.handover import hand_over, partners
from sugarbush.boils.models import Delivery
from sugarbush.boils.views_depot import no_season
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import balance_ml, hands_of
from sugarbush.sap.models import Act, ActKind, Movement
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

SHOWN = 20


@signed_in
@require_http_methods(["GET", "POST"])
def hand_over_page(request: SignedInRequest) -> HttpResponse:
    """Write down that sap changed hands; the last times it did."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    me, units, people = request.user, request.user.units, partners(request.user)
    keeps = access.holds(me, "delivery.accept")
    held_ml = balance_ml(hands_of(me, season))
    start: dict[str, Any] = {"act": uuid.uuid4(), "giver": request.GET.get("from") or (None if keeps else me.pk)}
    if held_ml and not keeps:
        start["volume"] = held_ml
    form = HandOverForm(request.POST or None, initial=start, people=people, units=units)
    reasons: list[Reason] = []
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            data = form.cleaned_data
            try:
                hand_over(
                    giver=data["giver"],
                    taker=data["taker"],
                    volume_ml=data["volume"],
                    by=me,
                    happened_at=data["when"],
                    note=data["note"],
                    act_id=data["act"],
                )
            except Refused as refused:
                reasons, status = list(refused.reasons), 409
            except PermissionDenied as denied:
                reasons, status = [Reason(code="two", fact=str(denied))], 403
            else:
                messages.success(
                    request,
                    _("%(taker)s carries it now: %(volume)s.")
                    % {"taker": data["taker"], "volume": volume_words(data["volume"], units)},
                )
                return redirect("hand-over")
    rows = Movement.objects.filter(season=season, act__kind=ActKind.HAND_OVER)
    if not keeps:
        rows = rows.filter(Q(from_vessel__person=me) | Q(to_vessel__person=me))
    context = {
        "form": form,
        "reasons": reasons,
        "held_ml": held_ml,
        "keeps": keeps,
        "rows": rows.select_related("from_vessel__person", "to_vessel__person", "act__author").order_by("-seq")[:SHOWN],
    }
    return render(request, "boils/hand_over.html", context, status=status)


@signed_in
@require_http_methods(["GET", "POST"])
def approvals_page(request: SignedInRequest) -> HttpResponse:
    """Large differences that name me as the one who has seen them: confirm, or say what is not so."""
    access.require(request.user, "delivery.see", anywhere=True)
    season = Season.current()
    if season is None:
        return no_season(request)
    reasons: list[Reason] = []
    status = 200
    if request.method == "POST":
        try:
            asked = uuid.UUID(request.POST.get("act", ""))
        except ValueError:
            asked = uuid.UUID(int=0)
        act = get_object_or_404(approvals.named(season), pk=asked, approver=request.user)
        confirmed = request.POST.get("answer") == "yes"
        try:
            approvals.answer(act=act, by=request.user, confirmed=confirmed, words=request.POST.get("words", "")[:400])
        except Refused as refused:
            reasons, status = list(refused.reasons), 422
        else:
            messages.success(request, _("Confirmed.") if confirmed else _("Your words stand beside it now."))
            return redirect("approvals")
    waiting = approvals.to_answer(request.user, season)
    everybodys = [
        (act, answer)
        for act, answer in approvals.open_or_contested(season)
        if act not in waiting and (act.approver == request.user or access.holds(request.user, "correction.approve"))
    ]
    context = {
        "waiting": [_shown(act) for act in waiting],
        "others": [_shown(act) | {"answer": answer} for act, answer in everybodys],
        "reasons": reasons,
        "typed": request.POST.get("words", "") if reasons else "",
        "me": request.user,
    }
    return render(request, "boils/approvals.html", context, status=status)


def _shown(act: Act) -> dict[str, Any]:
    delivery = None
    if act.origin_kind == "delivery" and act.origin_uuid:
        delivery = Delivery.objects.filter(pk=act.origin_uuid).first()
    return {"act": act, "delivery": delivery, "difference_ml": delivery.difference_ml if delivery else None}
