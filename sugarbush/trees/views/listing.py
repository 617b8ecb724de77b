"""The list of trees."""

from __future__ import annotations

from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from sugarbush.parts.context import units_of
from sugarbush.parts.places import PLACES
from sugarbush.parts.sheets.answer import asked_kind
from sugarbush.trees.codes import looks_like_tag
from sugarbush.trees.forms import ListForm
from sugarbush.trees.listing import csv_header, csv_rows, page_of_trees, spots
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.queries import filtered, first_tap_um, trees_for
from sugarbush.trees.taking.acts import ACT as BRING
from sugarbush.volunteers.access import holds
from sugarbush.volunteers.taking_home import places_taken, table_taken
from sugarbush.volunteers.views_help import SignedInRequest, member

OWN, ALL, NARROWED = "own", "all", "narrowed"


def in_scope(trees: QuerySet[Tree], form: ListForm) -> tuple[QuerySet[Tree], str]:
    """The list opens on the programme's own trees; whoever looks for something looks among all.

    While no tree is considered yet, it opens on the town's list.
    """
    if form.is_narrowed:
        return trees, NARROWED
    own = trees.filter(shown_state__gt=Shown.LISTED)
    if form.data.get("all") or not own.exists():
        return trees, ALL
    return own, OWN


@member
@require_GET
def tree_list(request: SignedInRequest) -> HttpResponse:
    form = ListForm(request.GET, person=request.user)
    chosen = form.filters
    trees, scope = in_scope(filtered(trees_for(request.user), **chosen), form)
    if looks_like_tag(chosen["q"]):
        # A second entry's tag finds the tree it was merged into.
        alias = Tree.objects.filter(code=chosen["q"].strip().upper()).exclude(merged_into=None).first()
        if alias is not None and alias.merged_into is not None:
            return redirect(alias.merged_into.get_absolute_url())
    query = request.GET.copy()
    query.pop("page", None)
    if scope == OWN:
        query["own"] = "1"
    context = {
        "form": form,
        "scope": scope,
        "page": page_of_trees(trees, request, sort=form.cleaned_data.get("sort", "")),
        "first_tap_um": first_tap_um(),
        "may_scout": holds(request.user, "tree.scout"),
        "may_merge": holds(request.user, "tree.merge"),
        "may_bring": holds(request.user, BRING),
        "csv_query": urlencode(list(query.lists()), doseq=True),
    }
    return render(request, "trees/list.html", context)


@member
@require_GET
def tree_csv(request: SignedInRequest) -> StreamingHttpResponse:
    form = ListForm(request.GET, person=request.user)
    trees = filtered(trees_for(request.user), **form.filters)
    if request.GET.get("own"):
        trees = trees.filter(shown_state__gt=Shown.LISTED)
    return trees_taken(request, "trees", trees)


def trees_taken(request: SignedInRequest, name: str, trees: QuerySet[Tree]) -> StreamingHttpResponse:
    """These trees as a table or as places on a map, whichever the address asks for."""
    if asked_kind(request, *PLACES) in PLACES:
        return places_taken(request, name, _("Trees"), spots(trees))
    unit = "in" if units_of(request) == "us" else "cm"
    return table_taken(request, f"{name}-{timezone.localdate()}", csv_header(unit), csv_rows(trees, unit))
