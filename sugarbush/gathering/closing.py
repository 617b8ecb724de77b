"""A season does not close over an entry to review, and its tree asks to be looked at."""

from __future__ import annotations

from django.utils.translation import ngettext

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.reasons import Reason
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url


def entries_to_review(season: Season) -> list[Reason]:
    count = Collection.objects.filter(season=season, state=CollectionState.REVIEW).count()
    if not count:
        return []
    return [
        Reason(
            code="to-review",
            fact=ngettext("%(n)d entry is to review.", "%(n)d entries are to review.", count) % {"n": count},
            next_url=url("review-list"),
            next_text=ngettext("Settle it", "Settle them", count),
        )
    ]


def trees_to_look_at(tree_ids: list[int]) -> set[int]:
    rows = Collection.objects.filter(tree_id__in=tree_ids, state=CollectionState.REVIEW)
    return set(rows.values_list("tree_id", flat=True).distinct())
