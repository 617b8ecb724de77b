"""Entering a tree: the form, the likely doubles, then the tree."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.parts.shown import in_words
from sugarbush.trees.actions_looks import Seen, record_look
from sugarbush.trees.actions_trees import add_tree, saved_before
from sugarbush.trees.duplicates import Double, likely_doubles
from sugarbush.trees.forms import NewTreeForm
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import trees_for
from sugarbush.trees.views.finding import to_tree
from sugarbush.volunteers.access import require
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

MOST_AT_ADDRESS = 12


def size_words(seen: Seen, units: str) -> str:
    """ "Girth 141 cm is 44.9 cm across.", for the page after saving."""
    if seen.size is None:
        return ""
    across = in_words("diameter", seen.size.judged_um, units)
    return _("%(given)s: %(across)s across counts.") % {"given": seen.size.as_given, "across": across}


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def tree_new(request: SignedInRequest) -> HttpResponse:
    require(request.user, "tree.scout", anywhere=True)
    if request.method != "POST":
        return _asked(request)
    form = NewTreeForm(request.POST, request.FILES, person=request.user, units=units_of(request))
    if not form.is_valid():
        return _page(request, form, status=422)
    data, seen = form.cleaned_data, form.seen
    before = saved_before(data["uuid"])
    if before is not None:
        return to_tree(before, request, _("%(code)s was saved already. It is entered once.") % {"code": before.code})
    doubles = likely_doubles(
        person=request.user,
        longitude_deg=data["longitude"],
        latitude_deg=data["latitude"],
        species_id=seen.species.pk if seen.species else None,
        inventory_number=data["inventory_number"],
    )
    if "same" in request.POST:
        return _it_is_this_one(request, form, doubles)
    named_apart = set(request.POST.getlist("apart"))
    if any(double.tree.code not in named_apart for double in doubles):
        return _page(request, form, status=422, doubles=doubles)
    return _save(request, form, [double.tree.pk for double in doubles])


def _save(request: SignedInRequest, form: NewTreeForm, apart: list[int]) -> HttpResponse:
    data, seen = form.cleaned_data, form.seen
    try:
        tree = add_tree(
            by=request.user,
            tree_uuid=data["uuid"],
            longitude_deg=data["longitude"],
            latitude_deg=data["latitude"],
            seen=seen,
            address=data["address"],
            side=data["side"],
            nth=data["nth"],
            land=data["land"],
            land_said_by=data["land_said_by"],
            access_note=data["access_note"],
            inventory_number=data["inventory_number"],
            group=data["group"],
            apart_from=apart,
        )
    except Refused as refused:
        return _page(request, form, status=422, reasons=refused.reasons)
    form.photo_saved()
    said = _("%(code)s is entered.") % {"code": tree.code}
    return to_tree(tree, request, " ".join(filter(None, [said, size_words(seen, units_of(request))])))


def _it_is_this_one(request: SignedInRequest, form: NewTreeForm, doubles: list[Double]) -> HttpResponse:
    """The tree is there already: what was typed becomes a look at it, so that nothing is lost."""
    chosen = next((double for double in doubles if double.tree.code == request.POST["same"]), None)
    if chosen is None:
        return _page(request, form, status=422, doubles=doubles)
    if not chosen.open_to_you:
        messages.warning(
            request,
            _("%(code)s is in the care of another group. Nothing was entered twice; tell its lead what you saw.")
            % {"code": chosen.tree.code},
        )
        return redirect("trees")
    seen = form.seen
    if seen.size or seen.species or seen.photo or seen.note:
        record_look(by=request.user, tree=chosen.tree, seen=seen)
        form.photo_saved()
        said = _("Nothing was entered twice. Your look is kept with %(code)s.") % {"code": chosen.tree.code}
    else:
        said = _("Nothing was entered twice. This is %(code)s.") % {"code": chosen.tree.code}
    return to_tree(chosen.tree, request, said)


def _asked(request: SignedInRequest) -> HttpResponse:
    """The empty form, at the place or the address that was asked for."""
    initial: dict[str, Any] = {}
    for name, key in (("longitude", "lon"), ("latitude", "lat")):
        try:
            initial[name] = float(request.GET.get(key, ""))
        except ValueError:
            continue
    address = " ".join(request.GET.get("address", "").split())[:120]
    there: list[Tree] = []
    if address:
        initial["address"] = address
        found = trees_for(request.user).filter(address__istartswith=address).select_related("species")
        there = list(found.order_by("address", "nth", "pk")[:MOST_AT_ADDRESS])
        if there and "longitude" not in initial:
            initial["longitude"], initial["latitude"] = there[0].longitude, there[0].latitude
    form = NewTreeForm(person=request.user, units=units_of(request), initial=initial)
    return _page(request, form, there=there, address=address)


def _page(request: SignedInRequest, form: NewTreeForm, *, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, "trees/new.html", {"form": form, **more}, status=status)
