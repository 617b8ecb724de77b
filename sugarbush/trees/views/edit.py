"""Changing a tree, with the other person's change in sight when two did it at once."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Refused
from sugarbush.trees.actions_trees import change_tree, set_life
from sugarbush.trees.forms import EditTreeForm, LifeForm
from sugarbush.trees.keeping import ChangedMeanwhile
from sugarbush.trees.models import Tree
from sugarbush.trees.views.finding import to_tree, tree_page
from sugarbush.volunteers.views_help import SignedInRequest


def told(tree: Tree, name: str) -> Any:
    """One value of a tree as people read it."""
    if name in {"land", "life"}:
        return getattr(tree, f"get_{name}_display")()
    value = getattr(tree, name)
    return _("nothing") if value in (None, "") else value


def differing(tree: Tree, form: EditTreeForm | LifeForm) -> list[tuple[str, Any]]:
    """What stands in the tree now where it is not what was typed: label and value."""
    found = []
    for name, typed in form.cleaned_data.items():
        if name in {"edition", "land_said_by", "reason"} or not hasattr(tree, name):
            continue
        if getattr(tree, name) != typed:
            found.append((str(form[name].label), told(tree, name)))
    return found


def with_edition(form: Any, edition: int) -> None:
    """Let the next saving of this form go over the edition that is shown beside it."""
    data = form.data.copy()
    data["edition"] = str(edition)
    form.data = data


@tree_page("tree.change")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_edit(request: SignedInRequest, tree: Tree) -> HttpResponse:
    posted = request.POST if request.method == "POST" else None
    form = EditTreeForm(posted, person=request.user, units=units_of(request), tree=tree)
    context: dict[str, Any] = {"tree": tree, "form": form}
    status = 200
    if posted is not None:
        status = 422
        if form.is_valid():
            try:
                change_tree(
                    by=request.user,
                    tree=tree,
                    edition=form.cleaned_data["edition"],
                    changes=form.changes,
                    land_said_by=form.cleaned_data["land_said_by"],
                )
                return to_tree(tree, request, _("%(code)s is changed.") % {"code": tree.code})
            except ChangedMeanwhile as meanwhile:
                context["now"] = differing(meanwhile.now, form)
                with_edition(form, meanwhile.now.edition)
                status = 409
            except Refused as refused:
                context["reasons"] = refused.reasons
    return render(request, "trees/edit.html", context, status=status)


@tree_page("tree.life")
@require_http_methods(["GET", "HEAD", "POST"])
def tree_life(request: SignedInRequest, tree: Tree) -> HttpResponse:
    posted = request.POST if request.method == "POST" else None
    form = LifeForm(posted, tree=tree, units=units_of(request))
    context: dict[str, Any] = {"tree": tree, "form": form}
    status = 200
    if posted is not None:
        status = 422
        if form.is_valid():
            try:
                kept = set_life(
                    by=request.user,
                    tree=tree,
                    life=form.cleaned_data["life"],
                    reason=form.cleaned_data["reason"],
                    edition=form.cleaned_data["edition"],
                )
                said = _("%(code)s: %(life)s.") % {"code": tree.code, "life": kept.get_life_display()}
                return to_tree(tree, request, said)
            except ChangedMeanwhile as meanwhile:
                context["now"] = [(_("State of its life"), told(meanwhile.now, "life"))]
                with_edition(form, meanwhile.now.edition)
                status = 409
            except Refused as refused:
                context["reasons"] = refused.reasons
    return render(request, "trees/life.html", context, status=status)
