"""How a page about one tree finds it: seen or not found, allowed or told why not, and never at a merged code."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from sugarbush.trees.models import Tree
from sugarbush.trees.queries import find_tree
from sugarbush.volunteers.access import require
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

TreeView = Callable[..., HttpResponseBase]


def tree_page(act: str = "") -> Callable[[TreeView], TreeView]:
    """Give the view the tree of `code`. Not theirs to see: 404. Theirs to see but not to do `act` at: 403."""

    def with_tree(view: TreeView) -> TreeView:
        @signed_in
        @wraps(view)
        def page(request: SignedInRequest, code: str, **kwargs: Any) -> HttpResponseBase:
            tree = find_tree(request.user, code)
            if tree.code != code.upper() and request.method in {"GET", "HEAD"} and request.resolver_match:
                messages.info(
                    request,
                    _("%(gone)s is the same tree as %(kept)s.") % {"gone": code.upper(), "kept": tree.code},
                )
                return redirect(reverse(request.resolver_match.view_name, kwargs={"code": tree.code, **kwargs}))
            if act:
                require(request.user, act, group_id=tree.group_id)
            return view(request, tree, **kwargs)

        return page

    return with_tree


def to_tree(tree: Tree, request: HttpRequest, said: str) -> HttpResponse:
    """Back to the tree's own page with what was done."""
    messages.success(request, said)
    return redirect(tree.get_absolute_url())
