"""What is done with chosen trees: ask for permission, put into a group, take into sight."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from sugarbush.desk.map.forms import NO_GROUP, groups_for
from sugarbush.desk.map.rows import MANY, seen_by
from sugarbush.owners.queries import MOST_TREES
from sugarbush.trees.group_actions import CHANGE, SCOUT, Outcome, consider, put_into_group
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.views_help import SignedInRequest, member

IN_AN_ADDRESS = 150
"""As many tags as fit one address, whatever server stands in front; more go on as a form."""


def _chosen(request: SignedInRequest) -> list[Tree]:
    """The trees whose tags were sent, of those the person may see. Others are left out as if they were not there."""
    codes = {code.strip().upper() for code in request.POST.getlist("codes")}
    return list(seen_by(request.user).filter(code__in=sorted(codes)[:MANY]).order_by("code")) if codes else []


def _back(request: HttpRequest) -> str:
    """To the view of the map the person came from."""
    back = request.POST.get("back", "")
    safe = url_has_allowed_host_and_scheme(back, allowed_hosts=None) and back.startswith(reverse("map"))
    return back if safe else reverse("map")


def _not_done(request: SignedInRequest, why: str) -> HttpResponse:
    return render(request, "desk/map/not_done.html", {"why": why, "back": _back(request)}, status=422)


def _told(request: SignedInRequest, outcome: Outcome, done: str) -> HttpResponse:
    """Back to the map when all went well, else a page that names each refused tree with its reasons."""
    if not outcome.refused:
        messages.success(request, done)
        return redirect(_back(request))
    context = {"outcome": outcome, "done": done if outcome.done else "", "back": _back(request)}
    return render(request, "desk/map/outcome.html", context, status=200 if outcome.done else 422)


@require_POST
@member
def group_trees(request: SignedInRequest) -> HttpResponse:
    """Put the chosen trees into a group, or out of any."""
    access.require(request.user, CHANGE, anywhere=True)
    trees = _chosen(request)
    if not trees:
        return _not_done(request, _("No tree was chosen. Choose trees on the map or in the list first."))
    wanted = request.POST.get("group", "")
    group = next((group for group in groups_for(request.user, CHANGE) if str(group.pk) == wanted), None)
    if group is None and wanted != NO_GROUP:
        return _not_done(request, _("No group was chosen. Choose one beside the act."))
    outcome = put_into_group(trees=trees, group=group, by=request.user)
    count, where = len(outcome.done) + len(outcome.unchanged), group or _("no group")
    done = ngettext("%(count)d tree is now in %(group)s.", "%(count)d trees are now in %(group)s.", count)
    return _told(request, outcome, done % {"count": count, "group": where})


@require_POST
@member
def consider_trees(request: SignedInRequest) -> HttpResponse:
    """Take the chosen trees of the town's list into the programme's sights."""
    access.require(request.user, SCOUT, anywhere=True)
    trees = _chosen(request)
    if not trees:
        return _not_done(request, _("No tree was chosen. Choose trees on the map or in the list first."))
    outcome = consider(trees=trees, by=request.user)
    count = len(outcome.done) + len(outcome.unchanged)
    done = ngettext("%(count)d tree is now considered.", "%(count)d trees are now considered.", count)
    return _told(request, outcome, done % {"count": count})


@require_POST
@member
def ask_for_trees(request: SignedInRequest) -> HttpResponse:
    """On to a new permission for the chosen trees."""
    access.require(request.user, "permission.draft", anywhere=True)
    trees = _chosen(request)
    if not trees:
        return _not_done(request, _("No tree was chosen. Choose trees on the map or in the list first."))
    if len(trees) > MOST_TREES:
        return _not_done(
            request,
            _("One permission can name %(most)d trees at once; %(count)d were chosen. Choose fewer, owner by owner.")
            % {"most": MOST_TREES, "count": len(trees)},
        )
    if len(trees) > IN_AN_ADDRESS:
        # 307: the browser sends the same form on to the slip's page, which takes tags by POST as well.
        return HttpResponseRedirect(reverse("permission-new"), status=307)
    return redirect(reverse("permission-new") + "?" + urlencode([("tree", tree.code) for tree in trees]))
