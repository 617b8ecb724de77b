"""A plain drawing of a tank's temperatures, worked out here so that the page needs no script."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.formats import date_format

from sugarbush.boils.models_pan import TankTemperature
from sugarbush.core.keeping import REFERENCE_C, WARM_C
from sugarbush.parts.shown import in_words

WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 640, 200, 64, 28, 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A ruled line across the drawing, or a day below it, with its words."""

    at: float
    words: str
    is_warm: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Points of the line, and marks for degrees and days, in the drawing's own coordinates."""

    line: str
    dots: tuple[tuple[float, float], ...]
    degrees: tuple[Mark, ...]
    days: tuple[Mark, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    foot: int = HEIGHT - BOTTOM


def temperature_chart(readings: Sequence[TankTemperature], units: str) -> Chart | None:
    """The drawing of these readings, oldest to newest; None where two are not enough for a line."""
    rows = sorted(readings, key=lambda row: row.happened_at)
    if len(rows) < 2:
        return None
    first, last = rows[0].happened_at, rows[-1].happened_at
    span_s = max((last - first).total_seconds(), 1.0)
    celsius = [float(row.temperature_c) for row in rows]
    low, high = min(-1.0, min(celsius) - 1), max(WARM_C + 1, max(celsius) + 1)

    def across(at: dt.datetime) -> float:
        return round(LEFT + (WIDTH - LEFT - 8) * (at - first).total_seconds() / span_s, 1)

    def up(temperature_c: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (high - temperature_c) / (high - low), 1)

    points = [(across(row.happened_at), up(float(row.temperature_c))) for row in rows]
    degrees = [
        Mark(at=up(mark), words=in_words("temperature", Decimal(str(round(mark, 1))), units), is_warm=mark == WARM_C)
        for mark in (0.0, REFERENCE_C, WARM_C)
    ]
    return Chart(
        line=" ".join(f"{x},{y}" for x, y in points),
        dots=tuple(points) if len(points) <= 60 else (),
        degrees=tuple(degrees),
        days=tuple(_days(first, last, across)),
    )


def _days(first: dt.datetime, last: dt.datetime, across: Callable[[dt.datetime], float]) -> list[Mark]:
    """Midnights on the programme's clock, at most eight of them."""
    zone = timezone.get_current_timezone()
    day = timezone.localtime(first).date() + dt.timedelta(days=1)
    found = []
    while (at := dt.datetime.combine(day, dt.time(), tzinfo=zone)) <= last:
        if across(at) <= WIDTH - 24:  # its words would be cut off
            found.append(Mark(at=across(at), words=date_format(day, "j M")))
        day += dt.timedelta(days=1)
    step = -(-len(found) // 8) or 1
    return found[::step]
