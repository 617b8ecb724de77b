"""What a season keeps when it closes, and why it may not yet."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.review import culprits, recount, totals
from sugarbush.seasons.models import Season
from sugarbush.taps.said import url

NAMED = 5


def keep_totals(season: Season) -> dict[str, Any]:
    """The totals that stand from now on. Refused, with the first findings named, while a recount disagrees."""
    findings = list(recount.findings(season))
    if findings:
        reasons = [
            Reason(
                code=found.code,
                fact=found.sentence,
                next_text=_("Look at the movement") if (link := culprits.link_of(season, found)) else "",
                next_url=link,
            )
            for found in findings[:NAMED]
        ]
        more = len(findings) - len(reasons)
        reasons[-1] = Reason(
            code=reasons[-1].code,
            fact=reasons[-1].fact,
            detail=_("And %(n)d more. The command check_ledger names them all.") % {"n": more} if more else "",
            next_text=reasons[-1].next_text or _("The command check_ledger names them all"),
            next_url=reasons[-1].next_url or url("season-review"),
        )
        raise Refused(reasons)
    return totals.count(season).totals.kept()
