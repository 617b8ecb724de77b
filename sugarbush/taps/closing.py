"""A season does not close over a spout."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.parts.reasons import Reason
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.taps.models import Tap, TapState

NAMED = 5


def taps_still_in(season: Season) -> list[Reason]:
    """One reason that names the first trees whose spouts are still in."""
    rows = Tap.objects.filter(season__year__lte=season.year, state__in=(TapState.IN, TapState.TO_SETTLE))
    count = rows.count()
    if not count:
        return []
    names = [tap.tree.code for tap in rows.select_related("tree").order_by("tree__code")[:NAMED]]
    more = _(" and more") if count > NAMED else ""
    return [
        Reason(
            code="taps-in",
            fact=ngettext("%(n)d tap is still in.", "%(n)d taps are still in.", count) % {"n": count},
            detail=", ".join(names) + more + ".",
            next_text=_("Pull them, or write how a spout was lost"),
            next_url=url("taps-in"),
        )
    ]
