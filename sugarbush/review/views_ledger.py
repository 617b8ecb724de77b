"""The ledger, movement by movement: which one to look at, who made it, and what was left after it."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import Http404
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from sugarbush.parts.paging import PAGE_KEY, page_of
from sugarbush.review import asked as asking
from sugarbush.review import exports, movement_rows
from sugarbush.review.chain import reason_words
from sugarbush.review.views import find_season
from sugarbush.sap.models import ActKind, Cause, Movement, Standing, VesselKind
from sugarbush.volunteers import access
from sugarbush.volunteers.taking_home import table_taken, wants_file
from sugarbush.volunteers.views_help import SignedInRequest, signed_in

PER_PAGE = 50


def may_read(request: SignedInRequest) -> bool:
    return access.scope(request.user, "audit.see").everything


@signed_in
@require_safe
def season_ledger(request: SignedInRequest) -> HttpResponseBase:
    """Movements of a season: of a vessel, a person, a cause, a kind of act, a day, one act."""
    season = find_season(request)
    if not may_read(request):
        access.require(request.user, "audit.see", anywhere=True)
        raise Http404
    if season is None:
        raise Http404
    asked = asking.read(season, request.GET)
    if wants_file(request) and not asked.wrong:
        table = exports.movements(season, asked.rows())
        return table_taken(request, f"ledger-{season.year}", table.heads, table.rows)
    page = _page(request, asked)
    lines = movement_rows.shown(list(page.object_list), asked)
    context = {
        "season": season,
        "asked": asked,
        "page": page,
        "lines": lines,
        "together": movement_rows.together(asked),
        "chips": _chips(asked),
        "causes": Cause.choices,
        "kinds": ActKind.choices,
        "typed_vessel": asked.vessel.code if asked.vessel and asked.vessel.code else asked.typed.get("vessel", ""),
    }
    return render(request, "review/ledger.html", context, status=422 if asked.wrong else 200)


def _page(request: SignedInRequest, asked: asking.Asked) -> Page[Movement]:
    """The page asked for; where a movement is named and no page, the page it is on."""
    rows = movement_rows.with_all(asked.rows())
    if asked.at is None or PAGE_KEY in request.GET:
        return page_of(rows, request, per_page=PER_PAGE)
    before = asked.rows().order_by().filter(seq__lt=asked.at).count()
    paginator = Paginator(rows, PER_PAGE)
    return paginator.page(min(before // PER_PAGE + 1, paginator.num_pages))


def _chips(asked: asking.Asked) -> list[tuple[str, str]]:
    """What narrows the list and has no field of its own above it, in words, each with the address without it."""
    chips: list[tuple[Any, str]] = []
    if asked.place:
        chips.append((VesselKind(asked.place).label, "place"))
    if asked.detail:
        chips.append((reason_words(asked.detail), "detail"))
    if asked.standing:
        chips.append((Standing(asked.standing).label, "standing"))
    if asked.act is not None:
        chips.append((_("one act"), "act"))
    if asked.kept:
        chips.append((_("until the season closed"), "kept"))
    return [(str(words), asked.without(name)) for words, name in chips]
