"""Keying a round sheet by keyboard alone, in the sheet's own order."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from sugarbush.papers.keying import (
    Line,
    already_keyed,
    judge,
    keep_typed,
    key_sheet,
    lines_of,
    sheets_for,
    walkers,
    why_not_key,
)
from sugarbush.papers.models import RoundSheet
from sugarbush.papers.numbers import number_of, seq_of
from sugarbush.papers.sheet_lines import LETTERS
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.volunteers.models import Person
from sugarbush.volunteers.views_help import SignedInRequest, member

HEAD = ("begun", "walker")


def find_sheet(request: SignedInRequest, number: str) -> RoundSheet:
    """A sheet of a group the person may see; 404 otherwise."""
    seq = seq_of(number)
    found = sheets_for(request.user).filter(document__seq=seq).first() if seq is not None else None
    if found is None:
        raise Http404
    return found


@member
@require_safe
def paper_sheet_scan(request: SignedInRequest) -> HttpResponse:
    """The square of every round sheet: where its number is typed."""
    return redirect("paper-find")


@never_cache
@member
@require_http_methods(["GET", "HEAD", "POST"])
def paper_sheet(request: SignedInRequest, number: str) -> HttpResponse:
    """The sheet's lines, to be keyed. What is typed is kept with every press, whatever comes of it."""
    sheet = find_sheet(request, number)
    if str(sheet.document.number) != number:
        return redirect("paper-sheet", sheet.document.number)
    if request.method != "POST":
        return sheet_page(request, sheet, lines_of(sheet))
    if why := why_not_key(request.user, sheet):
        raise PermissionDenied(why)
    if sheet.keyed_at is not None:
        return sheet_page(request, sheet, [], status=409)
    typed = {
        name: str(value) for name, value in request.POST.items() if name.startswith(("sap-", "note-", "agreed-", *HEAD))
    }
    keep_typed(sheet, typed, request.user)
    if request.POST.get("act") == "keep":
        if request.headers.get("X-Kept") == "quietly":
            return HttpResponse(status=204)
        messages.success(request, _("What is typed is kept. Go on whenever you like."))
        return redirect("paper-sheet", sheet.document.number)
    return _into_the_book(request, sheet)


def _into_the_book(request: SignedInRequest, sheet: RoundSheet) -> HttpResponse:
    lines = lines_of(sheet)
    begun, walker = begun_at(sheet), walker_of(request, sheet)
    judge(sheet, lines, begun=begun, walker=walker)
    if any(line.wrong or line.open_question for line in lines):
        return sheet_page(request, sheet, lines, status=422)
    try:
        entries = key_sheet(sheet=sheet, by=request.user, walker=walker, begun=begun, lines=lines)
    except Refused as why:
        again = find_sheet(request, sheet.document.number)
        return sheet_page(request, again, lines, status=409 if again.keyed_at else 422, reasons=why.reasons)
    total = volume_words(sum(entry.volume_ml for entry in entries), sheet.units)
    messages.success(
        request,
        ngettext(
            "Sheet %(number)s is in the book: %(n)d tree, %(total)s.",
            "Sheet %(number)s is in the book: %(n)d trees, %(total)s.",
            len(entries),
        )
        % {"number": sheet.document.number, "n": len(entries), "total": total},
    )
    return redirect("paper-sheet", sheet.document.number)


def begun_at(sheet: RoundSheet) -> dt.time:
    """The time written at the head of the sheet, else the round's latest start."""
    text = str(sheet.typed.get("begun", "")).strip()
    try:
        return dt.time.fromisoformat(text if ":" in text else f"{text[:2]}:{text[2:]}")
    except ValueError:
        return sheet.run.round.latest_start


def walker_of(request: SignedInRequest, sheet: RoundSheet) -> Person:
    there = walkers(request.user, sheet)
    return next((one for one in there if str(one.pk) == sheet.typed.get("walker")), there[0])


def sheet_page(
    request: SignedInRequest, sheet: RoundSheet, lines: list[Line], *, status: int = 200, **given: Any
) -> HttpResponse:
    looked = [line for line in lines if line.wrong or line.open_question]
    context: dict[str, Any] = {
        "sheet": sheet,
        "number": number_of(sheet.document.seq),
        "run": sheet.run,
        "lines": lines,
        "to_look": len(looked),
        "first": next(iter(looked or [line for line in lines if not line.typed] or lines), None),
        "keyed": already_keyed(sheet),
        "why_not": why_not_key(request.user, sheet),
        "walkers": walkers(request.user, sheet),
        "walker": walker_of(request, sheet),
        "begun": sheet.typed.get("begun") or time_format(sheet.run.round.latest_start, "H:i"),
        "letters": [(letter, words) for letter, words in LETTERS.items()],
        "unit": _("gal") if sheet.units == "us" else "L",
        "reasons": list[Reason](),
        **given,
    }
    return render(request, "papers/sheet.html", context, status=status)
