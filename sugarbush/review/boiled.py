"""Sap to syrup, boil day by boil day: what each day's pans took and gave, and the picture of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import ExpressionWrapper, IntegerField, Q, Sum
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.parts.drawing import bars
from sugarbush.parts.drawing.bars import Bars
from sugarbush.parts.shown import dressed
from sugarbush.review import counting
from sugarbush.sap.models import Cause, VesselKind
from sugarbush.seasons.models import Season

MOST_DAYS = 24


@dataclass(slots=True, kw_only=True)
class Boiled:
    """One boil day: net mL out of tanks into its pans, and net mL of syrup out of them."""

    day: dt.date
    sap_ml: int = 0
    syrup_ml: int = 0

    @property
    def ratio(self) -> float | None:
        """Volumes of sap for one of syrup; None while nothing was drawn off."""
        return self.sap_ml / self.syrup_ml if self.syrup_ml > 0 and self.sap_ml > 0 else None


@dataclass(slots=True, kw_only=True)
class BoiledDays:
    """The table and its picture. None for the picture before the first syrup."""

    rows: list[Boiled]
    bars: Bars | None

    @property
    def sap_ml(self) -> int:
        return sum(row.sap_ml for row in self.rows)

    @property
    def syrup_ml(self) -> int:
        return sum(row.syrup_ml for row in self.rows)


def by_boil_day(season: Season, until: dt.datetime | None = None) -> list[Boiled]:
    """The season's boil days in order; one query, however many batches.

    Counted as `counting.poured` counts: what went back counts against its way.
    """
    pan, tank = VesselKind.PAN, VesselKind.TANK
    rows = counting.movements(season, until).filter(cause=Cause.MOVED)
    day = "batch__boil_day__day"
    ends = ("from_vessel__kind", "to_vessel__kind", f"from_vessel__{day}", f"to_vessel__{day}", "taken_back")
    moved = (
        rows.filter(Q(from_vessel__kind=pan) | Q(to_vessel__kind=pan))
        .annotate(taken_back=ExpressionWrapper(Q(reverses__isnull=False), output_field=IntegerField()))
        .values_list(*ends)
        .annotate(ml=Sum("volume_ml"))
    )
    found: dict[dt.date, Boiled] = {}
    for came, went, day_from, day_to, taken_back, ml in moved:
        on, other = (day_to, came) if went == pan else (day_from, went)
        row = found.setdefault(on, Boiled(day=on))
        # A reversal has its ends swapped, so it counts as what went back by itself.
        if other == tank and (went == tank or not taken_back):
            row.sap_ml += int(ml) if went == pan else -int(ml)
        elif other == VesselKind.LOT and (came == VesselKind.LOT or not taken_back):
            row.syrup_ml += int(ml) if went == VesselKind.LOT else -int(ml)
    return [row for _on, row in sorted(found.items()) if row.sap_ml or row.syrup_ml]


def boiled_days(season: Season, until: dt.datetime | None = None) -> BoiledDays | None:
    """The boil days with their picture; None before the first."""
    rows = by_boil_day(season, until)
    if not rows:
        return None
    drawn = [(date_format(row.day, "D j M"), row.ratio) for row in rows[-MOST_DAYS:]]
    found = BoiledDays(rows=rows, bars=None)
    whole = found.sap_ml / found.syrup_ml if found.syrup_ml > 0 else None
    found.bars = bars.of_numbers(
        [(name, ratio, _("%(n)s to 1") % {"n": dressed(f"{ratio:.1f}")}) for name, ratio in drawn if ratio is not None],
        line=whole,
        line_words=_("season: %(n)s to 1") % {"n": dressed(f"{whole:.1f}")} if whole else "",
    )
    return found
