"""The list of trees."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from sugarbush.parts.context import units_of
from sugarbush.parts.csvfile import csv_response
from sugarbush.trees.codes import looks_like_tag
from sugarbush.trees.forms import ListForm
from sugarbush.trees.listing import csv_header, csv_rows, page_of_trees
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import filtered, first_tap_um, trees_for
from sugarbush.trees.taking.acts import ACT as BRING
from sugarbush.volunteers.access import holds
from sugarbush.volunteers.views_help import SignedInRequest, member


@member
@require_GET
def tree_list(request: SignedInRequest) -> HttpResponse:
    form = ListForm(request.GET, person=request.user)
    chosen = form.filters
    trees = filtered(trees_for(request.user), **chosen)
    if looks_like_tag(chosen["q"]):
        # A second entry's tag finds the tree it was merged into.
        alias = Tree.objects.filter(code=chosen["q"].strip().upper()).exclude(merged_into=None).first()
        if alias is not None and alias.merged_into is not None:
            return redirect(alias.merged_into.get_absolute_url())
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "form": form,
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
    unit = "in" if units_of(request) == "us" else "cm"
    return csv_response(f"trees-{timezone.localdate()}", csv_header(unit), csv_rows(trees, unit))
