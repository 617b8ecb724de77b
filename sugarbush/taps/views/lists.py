"""The taps still in, until there is none; and the taps to settle."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import Case, QuerySet, Value, When
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from sugarbush.owners.models import PermissionState, PermissionTree
from sugarbush.parts.paging import page_of
from sugarbush.parts.sheets.columns import in_pieces
from sugarbush.taps import tables
from sugarbush.taps.actions import take_out_many
from sugarbush.taps.models import Tap, TapState
from sugarbush.taps.trunk import side_words
from sugarbush.trees.models import Shown
from sugarbush.volunteers.access import holds, require, scope
from sugarbush.volunteers.models import Group, Person
from sugarbush.volunteers.taking_home import list_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

PULL_AT_ONCE = 500


def taps_seen(person: Person) -> QuerySet[Tap]:
    """The taps this person may see."""
    return Tap.objects.filter(scope(person, "trees.see").filter("tree__group"))


def still_in(person: Person) -> QuerySet[Tap]:
    """Spouts that are in, those to pull first, then by group and address."""
    rows = taps_seen(person).filter(state__in=(TapState.IN, TapState.TO_SETTLE))
    rows = rows.annotate(first=Case(When(tree__shown_state=Shown.PULL, then=Value(0)), default=Value(1)))
    return rows.select_related("tree__group", "by").order_by("first", "tree__group__name", "tree__address", "pk")


@dataclass(frozen=True)
class Line:
    """One line of the list: the tap, its side, and how long its permission has been over."""

    tap: Tap
    side: str
    ends: dt.date | None
    days_over: int
    taken_back: bool


def _lines(taps: Iterable[Tap], on: dt.date) -> list[Line]:
    taps = list(taps)
    ends: dict[int, dt.date] = {}
    back: set[int] = set()
    slips = PermissionTree.objects.filter(tree_id__in=[tap.tree_id for tap in taps]).select_related("permission")
    for line in slips:
        slip = line.permission
        if slip.is_live_kind and slip.date_to:
            ends[line.tree_id] = max(ends.get(line.tree_id, slip.date_to), slip.date_to)
        elif slip.state in {PermissionState.REVOKED, PermissionState.SUSPENDED}:
            back.add(line.tree_id)
    return [
        Line(
            tap=tap,
            side=side_words(tap.aspect_deg),
            ends=(end := ends.get(tap.tree_id)),
            days_over=max(0, (on - end).days) if end else 0,
            taken_back=end is None and tap.tree_id in back,
        )
        for tap in taps
    ]


@signed_in
@require_GET
def taps_in(request: SignedInRequest) -> HttpResponseBase:
    require(request.user, "trees.see", anywhere=True)
    return _in_page(request)


def _in_page(request: SignedInRequest, *, status: int = 200, **more: Any) -> HttpResponseBase:
    person = request.user
    rows = still_in(person)
    groups = list(Group.objects.filter(scope(person, "trees.see").filter("pk"), trees__taps__in=rows).distinct())
    chosen = request.GET.get("group", "")
    group = next((group for group in groups if str(group.pk) == chosen), None)
    if group is not None:
        rows = rows.filter(tree__group=group)
    if wants_file(request):
        today = timezone.localdate()
        lines = in_pieces(rows, lambda some: _lines(some, today))
        return list_taken(request, "spouts-in", tables.still_in(person.units), lines)
    page = page_of(rows, request)
    context = {
        "page": page,
        "lines": _lines(page.object_list, timezone.localdate()),
        "to_pull": rows.filter(tree__shown_state=Shown.PULL).count(),
        "to_settle": rows.filter(state=TapState.TO_SETTLE).count(),
        "groups": groups,
        "group": group,
        "tick_all": request.GET.get("tick") == "all",
        "may_pull": holds(person, "tap.pull"),
        "may_settle": holds(person, "tap.settle"),
        **more,
    }
    return render(request, "taps/taps_in.html", context, status=status)


@signed_in
@require_POST
def taps_pull(request: SignedInRequest) -> HttpResponseBase:
    """Pull the chosen spouts."""
    require(request.user, "tap.pull", anywhere=True)
    # The button beside a tap means that one alone, whatever is ticked.
    chosen = request.POST.getlist("only") or request.POST.getlist("taps")[:PULL_AT_ONCE]
    ids = [found for text in chosen if (found := _uuid(text))]
    taps = list(taps_seen(request.user).filter(pk__in=ids))
    if not taps:
        why = _("No tap was chosen. Tick those whose spout is out, then press the button.")
        return _in_page(request, why=why, status=422)
    result = take_out_many(taps=taps, by=request.user)
    done = len(result.done)
    if done:
        said = ngettext("%(n)d spout is out. Leave its hole open.", "%(n)d spouts are out. Leave the holes open.", done)
        messages.success(request, said % {"n": done})
    if result.before:
        count = len(result.before)
        said = ngettext("%(n)d was out already.", "%(n)d were out already.", count)
        messages.info(request, said % {"n": count})
    if result.refused:
        return _in_page(request, refused=result.refused, status=200 if done else 409)
    return redirect("taps-in")


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@signed_in
@require_GET
def taps_settle(request: SignedInRequest) -> HttpResponseBase:
    """Taps that broke a rule, with the reasons; each waits for a lead or coordinator who did not drill it."""
    require(request.user, "tap.settle", anywhere=True)
    rows = Tap.objects.filter(scope(request.user, "tap.settle").filter("tree__group"), state=TapState.TO_SETTLE)
    rows = rows.select_related("tree__group", "by").order_by("placed_at", "pk")
    if wants_file(request):
        return list_taken(request, "taps-to-settle", tables.to_settle(request.user.units), rows)
    page = page_of(rows, request, 20)
    context = {
        "page": page,
        "lines": [(tap, side_words(tap.aspect_deg), tap.by_id == request.user.pk) for tap in page.object_list],
    }
    return render(request, "taps/taps_settle.html", context)
