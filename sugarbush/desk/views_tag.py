"""What the square on a tree's tag opens: the round, the tree itself, or for strangers a word about it."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.queries import find_tree
from sugarbush.volunteers.access import why_not


@never_cache
@require_safe
def tag(request: HttpRequest, code: str) -> HttpResponse:
    """A scanned tag. A stranger learns no place, no owner, and nothing of a tag that is not on a tapped tree."""
    if request.user.is_authenticated:
        try:
            tree = find_tree(request.user, code)
        except Http404:
            return _for_strangers(request, code)
        if not why_not(request.user, "collection.log", group_id=tree.group_id):
            return redirect("log-tree", tree.code)
        return redirect("tree", tree.code)
    return _for_strangers(request, code)


def _for_strangers(request: HttpRequest, code: str) -> HttpResponse:
    """The same page for every tag; only of a tree that is tapped with a live permission it says that it is."""
    tapped = Tree.objects.standing_alone().filter(code=code.upper(), shown_state=Shown.TAPPED).exists()
    return render(request, "desk/tag.html", {"code": code.upper(), "tapped": tapped})
