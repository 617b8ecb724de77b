"""The seasons of one tree: its holes, its sap and sugar from the ledger, how the wounds closed, when it rested."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Q
from django.utils.translation import gettext as _

from sugarbush.core.sugar import sugar_kg
from sugarbush.parts.drawing import bars
from sugarbush.parts.drawing.bars import Bars
from sugarbush.parts.drawing.scale import volume_ticks
from sugarbush.parts.shown import in_words
from sugarbush.sap.ledger import signed_ml
from sugarbush.sap.models import Cause, Movement, Standing
from sugarbush.seasons.models import Season
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.models import Tap
from sugarbush.taps.trunk import side_words
from sugarbush.trees.models import Life, Tree
from sugarbush.trees.past import PastYield
from sugarbush.trees.records import HealthCheck, HoleClosure


@dataclass(frozen=True, kw_only=True)
class SeasonRow:
    """One season of the tree."""

    year: int
    holes: tuple[tuple[Tap, str], ...]
    sap_ml: int
    sugar_brix: Decimal | None
    sugar_g: int | None
    measured_ml: int
    wound: str
    wound_on: dt.date | None
    rested: bool


@dataclass(frozen=True, kw_only=True)
class Seasons:
    """All seasons, newest first, and their sum."""

    rows: tuple[SeasonRow, ...]
    sap_ml: int
    sugar_g: int


@dataclass
class _Sap:
    ml: int = 0
    measured_ml: int = 0
    brix_ml: Decimal = Decimal(0)


def seasons_of(facts: TreeFacts, checks: list[HealthCheck], lives: list[tuple[dt.date, str]]) -> Seasons:
    """The table. checks: newest first. lives: (day, life) of each change, oldest first. Two queries."""
    sap = _sap_by_year(facts.tree)
    holes: dict[int, list[Tap]] = defaultdict(list)
    for tap in facts.taps:
        holes[tap.season.year].append(tap)
    spans = {season.year: season for season in Season.objects.all()}
    rested = {year for year, season in spans.items() if _rested(season, lives)}
    shown = set(sap) | set(holes) | {year for year in rested if year in spans}
    if facts.season is not None and (shown or facts.assignment):
        shown.add(facts.season.year)
    rows = []
    for year in sorted(shown, reverse=True):
        known, taps = sap.get(year, _Sap()), holes.get(year, [])
        brix, grams = _sugar(known)
        check = _wound(year, checks) if taps else None
        rows.append(
            SeasonRow(
                year=year,
                holes=tuple((tap, side_words(tap.aspect_deg)) for tap in taps),
                sap_ml=known.ml,
                sugar_brix=brix,
                sugar_g=grams,
                measured_ml=known.measured_ml,
                wound=check.get_old_holes_display() if check else "",
                wound_on=check.date if check else None,
                rested=year in rested and not taps,
            )
        )
    return Seasons(
        rows=tuple(rows), sap_ml=sum(row.sap_ml for row in rows), sugar_g=sum(row.sugar_g or 0 for row in rows)
    )


def bars_of(seasons: Seasons, units: str) -> Bars | None:
    """The litres of each season as bars, a season without a hole as a gap with its word; None before any sap."""
    largest_ml = max((row.sap_ml for row in seasons.rows), default=0)
    if largest_ml <= 0:
        return None

    def words(row: SeasonRow) -> str:
        if row.sap_ml:
            return in_words("volume", row.sap_ml, units)
        return _("none") if row.holes else _("rested") if row.rested else _("not tapped")

    rows = [bars.Row(name=str(row.year), value=max(0, row.sap_ml), words=words(row)) for row in seasons.rows]
    ticks = [(tick.at, tick.words) for tick in volume_ticks(largest_ml, units, bars.FEW_TICKS)]
    return bars.draw(rows[: bars.MOST_BARS], largest=largest_ml, ticks=ticks)


def past_of(tree: Tree) -> list[PastYield]:
    """What older lists say of it and of entries merged into it, newest first. One query."""
    rows = PastYield.objects.filter(Q(tree=tree) | Q(tree__merged_into=tree))
    return list(rows.select_related("run", "tree").order_by("-year", "tree__code"))


def _sap_by_year(tree: Tree) -> dict[int, _Sap]:
    """What came out of the tree and counts, by year; what was taken back comes off again. One query."""
    rows = (
        Movement.objects.filter(act__tree=tree, act__standing=Standing.COUNTED, cause=Cause.OUT_OF_TREE)
        .values_list("season__year", "sugar_brix")
        .annotate(ml=signed_ml())
        .order_by()
    )
    found: dict[int, _Sap] = defaultdict(_Sap)
    for year, brix, ml in rows:
        found[year].ml += ml
        if brix is not None:
            found[year].measured_ml += ml
            found[year].brix_ml += brix * ml
    return {year: known for year, known in found.items() if known.ml}


def _sugar(known: _Sap) -> tuple[Decimal | None, int | None]:
    """The mean of what was measured, by litres, and the sugar in all of it at that mean."""
    if known.measured_ml <= 0:
        return None, None
    brix = (known.brix_ml / known.measured_ml).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return brix, round(sugar_kg(volume_ml=known.ml, brix=float(brix)) * 1000)


def _wound(year: int, checks: list[HealthCheck]) -> HealthCheck | None:
    """The latest check after that season's tapping that says how the old holes do."""
    later = [check for check in checks if check.date.year > year or (check.date.year == year and check.date.month > 5)]
    return next((check for check in later if check.old_holes != HoleClosure.NONE), None)


def _rested(season: Season, lives: list[tuple[dt.date, str]]) -> bool:
    """Whether the tree rested through the season's tapping days."""
    life = ""
    for on, changed in lives:
        if on > season.tapping_to:
            break
        if on > season.tapping_from and life == Life.RESTING:
            return changed == Life.RESTING
        life = changed
    return life == Life.RESTING
