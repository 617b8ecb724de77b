"""The pictures of a season's page, each from the very rows of the table beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.drawing import bars, spread
from sugarbush.parts.drawing.spread import Column, Spread
from sugarbush.review import boiled, chain, chart, running, streams
from sugarbush.review.counting import QUARTER_S, QuarterHour, zone_of
from sugarbush.review.totals import Row, Totals
from sugarbush.seasons.models import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the table of the spread: its taps, and mL of the trees they are in."""

    column: Column
    taps: int
    sap_ml: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PerTap:
    """Litres for each tap. mean_ml: of all these taps.  bare_ml: sap of trees without a hole on record."""

    spread: Spread
    steps: list[Step]
    taps: int
    sap_ml: int
    bare_ml: int

    @property
    def mean_ml(self) -> int:
        return round((self.sap_ml - self.bare_ml) / self.taps)


def visited_days(season: Season, zone: ZoneInfo) -> set[dt.date]:
    """Local days on which somebody logged a visit, with sap or without; one query."""
    rows = Collection.objects.filter(season=season).exclude(state=CollectionState.VOID).order_by()
    quarters = rows.annotate(quarter=QuarterHour("happened_at")).values_list("quarter", flat=True).distinct()
    return {dt.datetime.fromtimestamp(quarter * QUARTER_S, zone).date() for quarter in quarters}


def per_tap(rows: Sequence[Row], units: str) -> PerTap | None:
    """Each tree's sap shared evenly among its taps, every tap counted once. rows: the trees the reader may open."""
    trees = [(round(row.sums.out_ml / row.taps), row) for row in rows if row.taps]
    found = spread.of_volumes([ml for ml, row in trees for _tap in range(row.taps)], units)
    if found is None:
        return None
    sap_ml = [0] * len(found.columns)
    taps = [0] * len(found.columns)
    for ml, row in trees:
        n = next((n for n, column in enumerate(found.columns) if ml < column.to_ml), len(found.columns) - 1)
        sap_ml[n] += row.sums.out_ml
        taps[n] += row.taps
    whole_ml = sum(row.sums.out_ml for row in rows)
    return PerTap(
        spread=found,
        steps=[Step(column=c, taps=taps[n], sap_ml=sap_ml[n]) for n, c in enumerate(found.columns)],
        taps=sum(taps),
        sap_ml=whole_ml,
        bare_ml=whole_ml - sum(sap_ml),
    )


def of(season: Season, kept: Totals, tree_rows: Sequence[Row], units: str) -> dict[str, Any]:
    """Everything the page draws; three queries besides those of the totals."""
    until = season.closed_at if season.is_closed else None
    visited = visited_days(season, zone_of())
    others = _("all others")
    sheets = (chart.WIDE, chart.NARROW)
    days = [chart.draw(kept.days, units, sheet, visited) for sheet in sheets]
    lines = [running.draw(kept.days, visited, units, sheet) for sheet in sheets]
    return {
        "charts": [form for form in days if form is not None],
        "lines": [form for form in lines if form is not None],
        "days_without_visit": sum(row.day not in visited for row in kept.days),
        "stream": streams.stream(kept, units),
        "group_bars": bars.of_volumes(_volumes(kept.groups, _("no group")), units, others),
        "species_bars": bars.of_volumes(_volumes(kept.species, _("not known")), units, others),
        "loss_bars": bars.of_volumes([(name, ml, ml) for name, ml in chain.losses(kept)], units, others),
        "per_tap": per_tap(tree_rows, units),
        "boiled": boiled.boiled_days(season, until),
    }


def _volumes(rows: Sequence[Row], unnamed: str) -> list[tuple[str, int, int]]:
    return [(row.name or unnamed, row.sums.out_ml, row.sums.tipped_ml) for row in rows]
