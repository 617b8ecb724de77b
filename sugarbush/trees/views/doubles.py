"""Likely doubles, and making two entries one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.trees.duplicates import MOST_PAIRS, pairs_to_look_at, say_apart
from sugarbush.trees.forms import MergeForm
from sugarbush.trees.merging import merge, reasons_against
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import checks_of, find_tree, looks_at, treatments_of, trees_for
from sugarbush.trees.tiles import metres_between
from sugarbush.trees.views.finding import to_tree, tree_page
from sugarbush.volunteers.access import require
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def tree_doubles(request: SignedInRequest) -> HttpResponse:
    require(request.user, "tree.merge", anywhere=True)
    if request.method == "POST":
        codes = request.POST.getlist("apart")[:2]
        pair = list(Tree.objects.filter(code__in=codes))
        if len(pair) != 2 or not trees_for(request.user).filter(pk__in=[tree.pk for tree in pair]).exists():
            raise Http404
        say_apart(by=request.user, one=pair[0].pk, others=[pair[1].pk])
        said = _("Kept: %(one)s and %(two)s are two trees.") % {"one": pair[0].code, "two": pair[1].code}
        messages.success(request, said)
        return redirect("tree-doubles")
    pairs, more = pairs_to_look_at(request.user)
    return render(request, "trees/doubles.html", {"pairs": pairs, "more": more, "most": MOST_PAIRS})


def _side(tree: Tree) -> dict[str, Any]:
    looks = looks_at(tree)
    return {
        "tree": tree,
        "looks": looks,
        "photo": next((look for look in looks if look.photo), None),
        "checks": checks_of(tree),
        "treatments": treatments_of(tree),
    }


@tree_page("tree.merge")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_merge(request: SignedInRequest, tree: Tree) -> HttpResponse:
    asked = request.POST.get("with") or request.GET.get("with") or ""
    if not asked.strip():
        return render(request, "trees/merge_which.html", {"tree": tree})
    other = find_tree(request.user, asked.strip())
    require(request.user, "tree.merge", group_id=other.group_id)
    if other.pk == tree.pk:
        return to_tree(tree, request, _("%(code)s is one entry already.") % {"code": tree.code})
    posted = request.POST if request.method == "POST" else None
    form = MergeForm(posted, codes=(tree.code, other.code), units=units_of(request))
    reasons = reasons_against(other, tree)
    status = 200
    if posted is not None:
        status = 422
        if form.is_valid():
            kept, loser = (tree, other) if form.cleaned_data["keep"] == tree.code else (other, tree)
            try:
                merge(by=request.user, kept=kept, loser=loser, reason=form.cleaned_data["reason"])
                said = _("One tree now: %(kept)s. The tag %(gone)s finds it too.")
                return to_tree(kept, request, said % {"kept": kept.code, "gone": loser.code})
            except Refused as refused:
                reasons = list(refused.reasons)
    metres = metres_between(lon1=tree.longitude, lat1=tree.latitude, lon2=other.longitude, lat2=other.latitude)
    context = {
        "tree": tree,
        "other": other,
        "sides": [_side(tree), _side(other)],
        "form": form,
        "reasons": reasons,
        "metres": f"{metres:.1f}",
    }
    return render(request, "trees/merge.html", context, status=status)
