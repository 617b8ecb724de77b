"""How the trunk grew: readings by day, growth of the rings, and a small drawing of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.errors import CoreError
from sugarbush.core.taphole import hole_volume_cm3
from sugarbush.core.trunk import girth_from_diameter_um
from sugarbush.core.wounding import (
    COLUMN_TIMES,
    COLUMN_TIMES_CAUTIOUS,
    DEPTH_MM,
    GrowthAdvice,
    dead_share,
    growth_advice,
    ring_growth,
)
from sugarbush.parts.shown import dressed, in_words
from sugarbush.parts.worked import Working, working
from sugarbush.trees.models import TreeObservation

WIDTH, HEIGHT = 560, 180
LEFT, RIGHT, TOP, BOTTOM = 64.0, 540.0, 24.0, 140.0
BIT_UM = 7_938  # 5/16 in
LEAST_DAYS = 180
"""Two readings nearer than half a year tell more about the tape than about the tree."""


@dataclass(frozen=True, kw_only=True)
class Dot:
    """One reading in the drawing."""

    x: str
    y: str
    year: str


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """Readings oldest first; ring_um: the mean width of a year's ring, None with too little to go by.

    advice: what the growth says of tapping on; growth_working, loss_working: how both came about. lost: the wood out
    of use in the long run, in words.
    """

    readings: tuple[TreeObservation, ...]
    ring_um: int | None
    years: Decimal | None
    dots: tuple[Dot, ...]
    line: str
    low_um: int
    high_um: int
    advice: str = ""
    growth_working: Working | None = None
    lost: str = ""
    loss_working: Working | None = None


def sizes_of(looks: list[TreeObservation], *, units: str = "metric", taps: int = 1) -> Sizes | None:
    """The readings among the looks (newest first); None without any. taps: the tree's number a season."""
    readings = [look for look in reversed(looks) if look.diameter_um]
    if not readings:
        return None
    ring_um, years = _ring(readings)
    growth = _growth(readings)
    lost, loss_working = _lost(readings[-1], growth, units, taps) if growth else ("", None)
    sizes = [look.diameter_um or 0 for look in readings]
    dots = _dots(readings, min(sizes), max(sizes))
    return Sizes(
        readings=tuple(readings),
        ring_um=ring_um,
        years=years,
        dots=dots,
        line="M" + "L".join(f"{dot.x} {dot.y}" for dot in dots) if len(dots) > 1 else "",
        low_um=min(sizes),
        high_um=max(sizes),
        advice=_advice(growth) if growth else "",
        growth_working=_growth_working(readings, growth, units) if growth else None,
        lost=lost,
        loss_working=loss_working,
    )


def _growth(readings: list[TreeObservation]) -> GrowthAdvice | None:
    """What the first and the last girth say; None where they are too near in time or outside the formula's range."""
    first, last = readings[0], readings[-1]
    years = (last.date - first.date).days / 365.25
    try:
        growth = ring_growth(first_girth_mm=_girth_mm(first), second_girth_mm=_girth_mm(last), years=years)
    except CoreError:
        return None
    return growth_advice(growth)


def _girth_mm(look: TreeObservation) -> float:
    return girth_from_diameter_um(look.diameter_um or 0) / 1000


def _advice(found: GrowthAdvice) -> str:
    return {
        "sustainable": _("It grows enough new wood for a tap each year, as far as two girths can tell."),
        "look": _(
            "Too early to say whether it grows enough for a tap each year; the readings are too near each other."
        ),
        "rest": _("It grows too little new wood for a tap each year. Rest it, and ask an arborist."),
        "measure": _("The second girth is smaller than the first. Measure again at the same height."),
    }[found.advice]


def _mm(number: float) -> str:
    """Ring widths are told in mm everywhere: a ring in inches would be all noughts."""
    return f"{dressed(f'{number:.2f}')}\u00a0mm"


def _growth_working(readings: list[TreeObservation], found: GrowthAdvice, units: str) -> Working:
    first, last, growth = readings[0], readings[-1], found.growth
    return working(
        "wounding.ring_growth",
        "wounding.growth_advice",
        of=_("ring a year"),
        units=units,
        inputs={
            "first_girth_mm": in_words("girth", first.diameter_um, units),
            "second_girth_mm": in_words("girth", last.diameter_um, units),
            "years": f"{dressed(f'{growth.years:.1f}')}\u00a0" + _("years"),
            "tape_mm": _mm(1.0),
        },
        rows=[
            (
                _("Ring a year"),
                _("%(ring)s, give or take %(error)s") % {"ring": _mm(growth.ring_mm), "error": _mm(growth.error_mm)},
            ),
            (_("Least ring for a tapped tree"), _mm(found.limit_mm)),
        ],
        notes=[_("Two years between the readings, at least, before growth alone rests a tree.")],
    )


def _lost(look: TreeObservation, found: GrowthAdvice, units: str, taps: int) -> tuple[str, Working | None]:
    """The share of dead wood in the drill's reach in the long run, at both ends of the range of the multiple."""
    diameter_mm, ring_mm = (look.diameter_um or 0) / 1000, max(0.0, found.growth.ring_mm)
    hole_cm3 = hole_volume_cm3(bit_um=BIT_UM, depth_mm=DEPTH_MM)
    if taps < 1 or found.advice == "measure":
        return "", None
    try:
        low, high = (
            100 * dead_share(diameter_mm=diameter_mm, ring_mm=ring_mm, hole_cm3=hole_cm3, taps=taps, times=times)
            for times in (COLUMN_TIMES, COLUMN_TIMES_CAUTIOUS)
        )
    except CoreError:
        return "", None
    count = ngettext("%(n)d tap", "%(n)d taps", taps) % {"n": taps}
    said = _(
        "Estimate: at %(taps)s a year, about %(low).0f to %(high).0f %% of the wood a drill can reach carries no sap "
        "in the long run."
    ) % {"taps": count, "low": low, "high": high}
    panel = working(
        "wounding.dead_share",
        "wounding.column_volume_cm3",
        "taphole.hole_volume_cm3",
        of=_("wood lost and grown"),
        units=units,
        inputs={
            "diameter_mm": in_words("diameter", look.diameter_um, units),
            "ring_mm": _mm(ring_mm),
            "hole_cm3": f"{dressed(f'{hole_cm3:.2f}')}\u00a0cm³",
            "taps": count,
            "times": _("%(low).0f to %(high).0f times the hole") % {"low": COLUMN_TIMES, "high": COLUMN_TIMES_CAUTIOUS},
        },
        rows=[
            (_("Drill bit"), in_words("bit", BIT_UM, units)),
            (_("Depth of the hole"), in_words("length", round(DEPTH_MM), units)),
        ],
        notes=[
            _("The multiple is from memory: the closing of the holes, the girth and an arborist outrank this share.")
        ],
    )
    return said, panel


def _ring(readings: list[TreeObservation]) -> tuple[int | None, Decimal | None]:
    """Half the growth across, by years between the first and the last reading: one ring lies on each side."""
    first, last = readings[0], readings[-1]
    days = (last.date - first.date).days
    if days < LEAST_DAYS or first.diameter_um is None or last.diameter_um is None:
        return None, None
    years = Decimal(days) / Decimal("365.25")
    ring = (Decimal(last.diameter_um - first.diameter_um) / 2 / years).to_integral_value(ROUND_HALF_UP)
    return int(ring), years.quantize(Decimal("0.1"), ROUND_HALF_UP)


def _dots(readings: list[TreeObservation], low: int, high: int) -> tuple[Dot, ...]:
    start, days = readings[0].date, max(1, (readings[-1].date - readings[0].date).days)
    # A few millimetres of slip in the tape must not look like a landslide: at least 5 cm are shown.
    span = max(high - low, 50_000)
    floor = (high + low - span) / 2

    def dot(on: dt.date, size: int) -> Dot:
        x = LEFT + (on - start).days / days * (RIGHT - LEFT) if len(readings) > 1 else (LEFT + RIGHT) / 2
        return Dot(x=f"{x:.1f}", y=f"{BOTTOM - (size - floor) / span * (BOTTOM - TOP):.1f}", year=str(on.year))

    return tuple(dot(look.date, look.diameter_um or 0) for look in readings)
