"""One tap: its record, its marks, pulling it, settling it."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.taps.actions import let_stand, mark_tap, take_out
from sugarbush.taps.facts import read_facts
from sugarbush.taps.forms import OutForm, StandForm
from sugarbush.taps.models import Shavings, Tap, TapState
from sugarbush.taps.telling import history_of, who_settles
from sugarbush.taps.trunk import side_words
from sugarbush.trees.queries import may_see
from sugarbush.volunteers.access import require, why_not
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


def tap_page(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Give the view its tap; another group's is not found."""

    @signed_in
    @wraps(view)
    def page(request: SignedInRequest, tap_id: uuid.UUID) -> HttpResponseBase:
        rows = Tap.objects.select_related("tree__group", "tree__species", "season", "by", "out_by", "settled_by")
        found = rows.select_related("container").filter(pk=tap_id).first()
        if found is None or not may_see(request.user, found.tree):
            raise Http404
        return view(request, found)

    return page


@tap_page
@require_GET
def tap(request: SignedInRequest, found: Tap) -> HttpResponse:
    return _shown(request, found)


def _shown(request: SignedInRequest, found: Tap, *, status: int = 200, **more: Any) -> HttpResponse:
    units, tree = units_of(request), found.tree
    facts = read_facts([tree.pk])[tree.pk]
    brown = found.shavings == Shavings.BROWN and found.spout_in
    context = {
        "tap": found,
        "tree": tree,
        "side": side_words(found.aspect_deg),
        "out_form": OutForm(units=units),
        "stand_form": StandForm(units=units),
        "why_not_pull": why_not(request.user, "tap.pull", group_id=tree.group_id),
        "may_settle": not why_not(request.user, "tap.settle", group_id=tree.group_id),
        "own": found.by_id == request.user.pk,
        "to_settle": found.state == TapState.TO_SETTLE,
        "settler": who_settles(tree, found.by_id) if found.state == TapState.TO_SETTLE else "",
        "brown": brown,
        "left": facts.allowance(timezone.localdate()).left if brown else 0,
        "history": history_of(found),
        **more,
    }
    return render(request, "taps/tap.html", context, status=status)


@tap_page
@require_POST
def tap_pull(request: SignedInRequest, found: Tap) -> HttpResponse:
    """The spout is out: pulled, or lost with a reason."""
    require(request.user, "tap.pull", group_id=found.tree.group_id)
    form = OutForm(request.POST, units=units_of(request))
    if not form.is_valid():
        return _shown(request, found, out_form=form, status=422)
    said = form.cleaned_data
    was_in = found.spout_in
    try:
        take_out(tap=found, by=request.user, lost=said["lost"], reason=said["reason"], out_at=said["out_at"])
    except Refused as refused:
        return _shown(request, found, out_form=form, out_reasons=refused.reasons, status=422)
    code = found.tree.code
    if not was_in:
        messages.info(request, _("The spout of %(code)s was out already.") % {"code": code})
    elif said["lost"]:
        messages.success(request, _("The spout of %(code)s is written down as lost.") % {"code": code})
    else:
        messages.success(request, _("Pulled: %(code)s. Leave the hole open, and bring the pail back.") % {"code": code})
    return redirect(_back(request) or found.tree.get_absolute_url())


@tap_page
@require_POST
def tap_mark(request: SignedInRequest, found: Tap) -> HttpResponse:
    """Dry, leaking, or neither."""
    require(request.user, "tap.pull", group_id=found.tree.group_id)
    mark_tap(tap=found, by=request.user, dry="dry" in request.POST, leaking="leaking" in request.POST)
    messages.success(request, _("Noted."))
    return redirect("tap", tap_id=found.pk)


@tap_page
@require_POST
def tap_settle(request: SignedInRequest, found: Tap) -> HttpResponse:
    """Let a tap that broke a rule stand, where the gate agrees now."""
    require(request.user, "tap.settle", group_id=found.tree.group_id)
    form = StandForm(request.POST, units=units_of(request))
    if not form.is_valid():
        return _shown(request, found, stand_form=form, status=422)
    try:
        let_stand(tap=found, by=request.user, note=form.cleaned_data["note"])
    except Refused as refused:
        return _shown(request, found, stand_form=form, stand_reasons=refused.reasons, status=409)
    messages.success(request, _("The tap in %(code)s stands.") % {"code": found.tree.code})
    return redirect(_back(request) or "taps-settle")


def _back(request: SignedInRequest) -> str:
    back = request.POST.get("back", "")
    return back if back.startswith("/") and url_has_allowed_host_and_scheme(back, allowed_hosts=None) else ""
