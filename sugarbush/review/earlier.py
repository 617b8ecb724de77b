"""Years before the programme kept its own entries, from older lists. They are added to no season's totals."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from django.db.models import Count, QuerySet, Sum

from sugarbush.review.exports import Table
from sugarbush.review.reach import Reach
from sugarbush.seasons.models import Season
from sugarbush.trees.past import PastYield


class Year(NamedTuple):
    """One year, over the trees this reader may open."""

    year: int
    trees: int
    taps: int
    volume_ml: int
    per_tap_ml: int


def _open_to(mine: Reach) -> QuerySet[PastYield]:
    return PastYield.objects.filter(mine.litres.filter("tree__group"))


def years(mine: Reach) -> list[Year]:
    """Newest first. One query."""
    rows = (
        _open_to(mine)
        .values_list("year")
        .annotate(trees=Count("tree", distinct=True), taps=Sum("taps"), ml=Sum("volume_ml"))
        .order_by("-year")
    )
    return [Year(year, trees, taps, ml, round(ml / taps)) for year, trees, taps, ml in rows]


def file_of(_season: Season, mine: Reach) -> Table:
    """Each tree and year, as the older lists have it."""
    return Table(("year", "tree", "address", "taps", "sap_ml", "sugar_brix", "note", "file", "row"), _lines(mine))


def _lines(mine: Reach) -> Iterator[tuple[Any, ...]]:
    rows = _open_to(mine).select_related("tree", "run").order_by("-year", "tree__code")
    for one in rows.iterator(chunk_size=1000):
        yield (
            one.year, one.tree.code, one.tree.place, one.taps, one.volume_ml, one.sugar_brix, one.note,
            one.run.file_name, one.row_number,
        )  # fmt: skip
