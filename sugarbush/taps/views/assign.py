"""Giving many trees to a group at once, and taking one back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from sugarbush.parts.context import units_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.taps.actions import assign_trees, end_assignment
from sugarbush.taps.forms import AssignForm
from sugarbush.taps.models import Assignment, AssignmentState
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import may_see
from sugarbush.trees.views.finding import tree_page
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Group, Person
from sugarbush.volunteers.views_help import SignedInRequest, signed_in


@dataclass(frozen=True)
class Stays:
    """A tree that was not given, with every reason."""

    code: str
    reasons: list[Reason]
    place: str = ""

    @property
    def title(self) -> str:
        return ", ".join(part for part in (self.code, self.place) if part)


def _find(person: Person, codes: list[str]) -> tuple[list[Tree], list[Stays]]:
    """The trees behind the tags, and the tags behind which this person finds none. Two queries."""
    found = {tree.code: tree for tree in Tree.objects.filter(code__in=codes).select_related("merged_into")}
    trees: dict[int, Tree] = {}
    unknown = []
    for code in codes:
        tree = found.get(code)
        tree = tree.merged_into if tree is not None and tree.merged_into is not None else tree
        if tree is None or not may_see(person, tree):
            reason = Reason(
                code="unknown", fact=_("No tree of yours has this tag."), next_text=_("Look at the tag again")
            )
            unknown.append(Stays(code, [reason]))
        else:
            trees[tree.pk] = tree
    return list(trees.values()), unknown


def _posted(request: SignedInRequest) -> QueryDict:
    """The map sends each tag on its own, the form all in one box; here they become one text."""
    data = request.POST.copy()
    data["codes"] = "\n".join(request.POST.getlist("codes"))
    return data


def _no_other_group(request: SignedInRequest) -> None:
    """A group that is there but not this person's to give to is 403, not a slip of the pen."""
    wanted = request.POST.get("group", "")
    if wanted.isascii() and wanted.isdigit() and len(wanted) < 18:
        group = Group.objects.filter(pk=int(wanted)).first()
        if group is not None:
            require(request.user, "assign", group_id=group.pk)


@signed_in
@require_http_methods(["GET", "HEAD", "POST"])
def assign(request: SignedInRequest) -> HttpResponse:
    require(request.user, "assign", anywhere=True)
    if request.method != "POST":
        initial = {"codes": "\n".join(request.GET.getlist("code"))}
        form = AssignForm(by=request.user, units=units_of(request), initial=initial)
        return render(request, "taps/assign.html", {"form": form})
    _no_other_group(request)
    form = AssignForm(_posted(request), by=request.user, units=units_of(request))
    if not form.is_valid():
        return render(request, "taps/assign.html", {"form": form}, status=422)
    said = form.cleaned_data
    trees, stays = _find(request.user, said["codes"])
    try:
        given = assign_trees(trees=trees, group=said["group"], person=said["person"], by=request.user)
    except Refused as refused:
        return render(request, "taps/assign.html", {"form": form, "reasons": refused.reasons}, status=409)
    stays = [Stays(tree.code, reasons, tree.place) for tree, reasons in given.refused] + stays
    count = len(given.done)
    context: dict[str, Any] = {
        "done": ngettext("%(n)d tree given to %(who)s", "%(n)d trees given to %(who)s", count)
        % {"n": count, "who": _whom(said["group"], said["person"])},
        "given": given.done,
        "stays": stays,
        "back": _back(request),
    }
    return render(request, "taps/assigned.html", context, status=200 if given.done else 409)


def _whom(group: Group, person: Person | None) -> str:
    return _("%(person)s, %(group)s") % {"person": person, "group": group} if person else str(group)


def _back(request: SignedInRequest) -> str:
    back = request.POST.get("back", "")
    safe = url_has_allowed_host_and_scheme(back, allowed_hosts=None) and back.startswith("/")
    return back if safe else ""


@tree_page()
@require_POST
def assign_end(request: SignedInRequest, tree: Tree) -> HttpResponse:
    """Take the tree back from the group that has it."""
    live = Assignment.objects.filter(tree=tree).exclude(state=AssignmentState.ENDED).exclude(season__state="closed")
    given = live.select_related("group", "season").order_by("-season__year").first()
    if given is None:
        require(request.user, "assign", group_id=tree.group_id)
        messages.info(request, _("%(code)s is given to nobody.") % {"code": tree.code})
        return redirect(tree.get_absolute_url())
    try:
        end_assignment(assignment=given, by=request.user, reason=request.POST.get("reason", "")[:300])
    except Refused as refused:
        context = {"tree": tree, "reasons": refused.reasons}
        return render(request, "taps/not_taken_back.html", context, status=409)
    messages.success(request, _("%(code)s is taken back from %(group)s.") % {"code": tree.code, "group": given.group})
    return redirect(tree.get_absolute_url())
