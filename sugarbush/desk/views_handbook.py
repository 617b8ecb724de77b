"""The handbook: every formula the pages use, with its range, its source and how far that source was checked."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from sugarbush.core.handbook import Entry
from sugarbush.core.register import fire, sap, sharing, trees
from sugarbush.parts.context import units_of
from sugarbush.parts.worked import anchor, limits_in_words


@dataclass(frozen=True, kw_only=True)
class Row:
    """One formula in the reader's language."""

    anchor: str
    title: str
    words: str
    inputs: list[tuple[str, str]]
    gives: str
    source: str
    standing: str
    checked: bool
    changes: str


def row(entry: Entry, units: str) -> Row:
    return Row(
        anchor=anchor(entry),
        title=_(entry.title),
        words=_(entry.words),
        inputs=[(_(one.said), limits_in_words(one, units) or one.unit) for one in entry.inputs],
        gives=_(entry.gives),
        source=_(entry.source),
        standing=_(entry.standing),
        checked=entry.checked,
        changes=_(entry.changes),
    )


@require_safe
def handbook(request: HttpRequest) -> HttpResponse:
    """Every entry of the core's handbook, by subject. Nothing in it is about anybody, so anybody may read it."""
    subjects = [
        (_("Trees, taps and holes"), trees.ENTRIES),
        (_("Sap and syrup"), sap.ENTRIES),
        (_("Fire and boiling"), fire.ENTRIES),
        (_("Weather, rounds and shares"), sharing.ENTRIES),
    ]
    units = units_of(request)
    context = {"subjects": [(title, [row(entry, units) for entry in entries]) for title, entries in subjects]}
    return render(request, "desk/handbook.html", context)
