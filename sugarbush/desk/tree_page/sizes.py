"""How the trunk grew: readings by day, growth of the rings, and a small drawing of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from sugarbush.trees.models import TreeObservation

WIDTH, HEIGHT = 560, 180
LEFT, RIGHT, TOP, BOTTOM = 64.0, 540.0, 24.0, 140.0
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
    """Readings oldest first; ring_um: the mean width of a year's ring, None with too little to go by."""

    readings: tuple[TreeObservation, ...]
    ring_um: int | None
    years: Decimal | None
    dots: tuple[Dot, ...]
    line: str
    low_um: int
    high_um: int


def sizes_of(looks: list[TreeObservation]) -> Sizes | None:
    """The readings among the looks (newest first); None without any."""
    readings = [look for look in reversed(looks) if look.diameter_um]
    if not readings:
        return None
    ring_um, years = _ring(readings)
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
    )


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
