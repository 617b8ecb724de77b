"""A season does not close while shares are in the air."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.lots.jars import pool
from sugarbush.parts.reasons import Reason
from sugarbush.seasons.models import Season
from sugarbush.shares import rules, runs
from sugarbush.shares.models import ShareQuery, Taken
from sugarbush.taps.gate import url


def open_queries(season: Season) -> list[Reason]:
    """Questions that nobody answered, also those of a working-out that was dropped since."""
    asked = ShareQuery.objects.filter(share__run__season=season, answered_at=None)
    count = asked.count()
    if not count:
        return []
    run_id = asked.values_list("share__run_id", flat=True)[0]
    return [
        Reason(
            code="share-query",
            fact=ngettext(
                "%(n)d question about a share is not answered.", "%(n)d questions about shares are not answered.", count
            )
            % {"n": count},
            next_text=_("Answer them"),
            next_url=url("share-run", run_id),
        )
    ]


def run_underway(season: Season) -> list[Reason]:
    run = runs.underway_of(season)
    if run is None:
        return []
    return [
        Reason(
            code="share-run",
            fact=_("Working-out %(n)d of the shares is not final.") % {"n": run.number},
            next_text=_("Make it final, or drop it"),
            next_url=url("share-run", run.pk),
        )
    ]


def not_shared_out(season: Season) -> list[Reason]:
    """A rule was published, jars stand here, and nobody has worked out whose they are."""
    if rules.in_force(season) is None or runs.final_of(season) is not None or runs.underway_of(season) is not None:
        return []
    jars = pool(season).count
    if not jars:
        return []
    return [
        Reason(
            code="not-shared",
            fact=ngettext("%(n)d jar is not shared out yet.", "%(n)d jars are not shared out yet.", jars) % {"n": jars},
            next_text=_("Work out the shares"),
            next_url=url("shares"),
        )
    ]


def jars_waiting(season: Season) -> list[Reason]:
    """Jars of final shares may stay when the season closes, but somebody says why and where."""
    run = runs.final_of(season)
    if run is None or run.left_reason:
        return []
    count = run.shares.filter(taken__in=(Taken.WAITING, Taken.DECLINED), given_ml__gt=0).count()
    if not count:
        return []
    return [
        Reason(
            code="jars-waiting",
            fact=ngettext(
                "The jars of %(n)d share are not handed out.", "The jars of %(n)d shares are not handed out.", count
            )
            % {"n": count},
            detail=_("After closing nothing can be handed out any more."),
            next_text=_("Hand them out, give them on, or write why they stay"),
            next_url=url("hand-out"),
        )
    ]
