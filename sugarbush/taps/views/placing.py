"""Recording a tap: the gate first, then the cautions and the form. What has been drilled is always kept."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.shown import in_words
from sugarbush.taps import holes
from sugarbush.taps.actions import place_tap
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.forms import TapForm
from sugarbush.taps.gate import gate, names_for
from sugarbush.taps.models import Tap, TapState
from sugarbush.taps.said import closed_title, open_title
from sugarbush.taps.trunk import trunk_of
from sugarbush.trees.models import Tree
from sugarbush.trees.views.finding import tree_page
from sugarbush.volunteers.access import holds, why_not
from sugarbush.volunteers.views_help import SignedInRequest

OF_THE_HOLE = {"hole-permit", "hole-depth", "hole-near", "food", "time"}
"""Reasons the person can mend in the form; all others shut the gate."""


@tree_page()
@require_http_methods(["GET", "HEAD", "POST"])
def tap_new(request: SignedInRequest, tree: Tree) -> HttpResponse:
    if not holds(request.user, "tap.place"):
        raise PermissionDenied(why_not(request.user, "tap.place", anywhere=True))
    facts, units = read_facts([tree.pk])[tree.pk], units_of(request)
    if request.method != "POST":
        drilled = request.GET.get("drilled") == "1"
        form = TapForm(facts=facts, units=units, drilled=drilled, initial=_asked(request))
        return _page(request, facts, form, gate_now(request, facts), drilled=drilled)
    drilled = request.POST.get("drilled") == "1"
    form = TapForm(request.POST, facts=facts, units=units, drilled=drilled)
    if not form.is_valid() or form.hole is None:
        return _page(request, facts, form, gate_now(request, facts), drilled=drilled, status=422)
    return _save(request, facts, form, drilled=drilled)


def gate_now(request: SignedInRequest, facts: TreeFacts) -> list[Reason]:
    """Every reason against one more tap by this person now."""
    names = names_for(request.user, facts.tree)
    return gate(facts.tree, "tap", by=request.user, facts=facts, units=units_of(request), names=names)


def _save(request: SignedInRequest, facts: TreeFacts, form: TapForm, *, drilled: bool) -> HttpResponse:
    said, hole = form.cleaned_data, form.hole
    assert hole is not None  # noqa: S101  # tap_new has looked
    before = Tap.objects.filter(pk=said["tap"]).values_list("recorded_at", flat=True).first()
    try:
        tap = place_tap(
            tree=facts.tree,
            by=request.user,
            hole=hole,
            shavings=said["shavings"],
            placed_at=said["placed_at"],
            drilled=drilled,
            confirmed=True,
            container=said["container"],
            container_ml=said["holds"] or 8_000,
            tap_id=said["tap"],
            note=said["note"],
        )
    except Refused as refused:
        shut = [reason for reason in refused.reasons if reason.code not in OF_THE_HOLE]
        place = [reason for reason in refused.reasons if reason.code in OF_THE_HOLE]
        # Somebody may have been faster, so the drawing is read anew.
        facts = read_facts([facts.tree.pk])[facts.tree.pk]
        return _page(request, facts, form, shut, drilled=drilled, place=place, status=409 if shut else 422)
    if before is not None:
        at = date_format(timezone.localtime(before), "H:i")
        messages.info(request, _("Already saved at %(time)s. It counts once.") % {"time": at})
    elif tap.state == TapState.TO_SETTLE:
        messages.warning(request, _("Kept, not counted yet. Please do not drill again."))
    else:
        messages.success(request, _("Saved: the tap in %(tree)s.") % {"tree": tap.tree.code})
    return redirect("tap", tap_id=tap.pk)


def _asked(request: SignedInRequest) -> dict[str, Any]:
    """A place chosen from the suggestions comes with the address."""
    initial: dict[str, Any] = {}
    for name, key, most in (("aspect_deg", "side", 360), ("height", "height", 3_000)):
        text = request.GET.get(key, "")
        if text.isascii() and text.isdigit() and len(text) < 6 and int(text) <= most:
            initial[name] = int(text)
    return initial


def _page(
    request: SignedInRequest,
    facts: TreeFacts,
    form: TapForm,
    reasons: list[Reason],
    *,
    drilled: bool,
    place: list[Reason] | None = None,
    status: int = 200,
) -> HttpResponse:
    on, units = timezone.localdate(), units_of(request)
    left = facts.allowance(on).left
    open_now = not reasons
    context = {
        "tree": facts.tree,
        "form": form,
        "reasons": reasons,
        "place_reasons": place or [],
        "title": open_title("tap", left) if open_now else closed_title(facts.tree.code, "tap", len(reasons)),
        "drilled": drilled,
        # Refused after typing: the form stays, with only the way that keeps what was really drilled.
        "show_form": open_now or drilled or request.method == "POST",
        # -5 °C: Ontario maple production report, 26 February 2015; 2 in: UVM Extension slides (both read there).
        "frozen": in_words("temperature", Decimal(-5), units),
        "deep": in_words("length", holes.MOST_DEPTH_MM, units),
        "trunk": trunk_of(facts, on, units, wanted=left if open_now else 0),
    }
    return render(request, "taps/tap_new.html", context, status=status)
