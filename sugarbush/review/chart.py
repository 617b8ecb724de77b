"""The day-by-day drawing: bars of sap, striped where it was tipped out, and the day's temperatures below.

Only geometry; the page draws it as SVG. Every figure in it stands in the tables beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils.formats import date_format

from sugarbush.core.units import from_ml
from sugarbush.parts.shown import dressed
from sugarbush.review.totals import DayRow

WIDTH, HEIGHT = 1120, 350
LEFT, RIGHT = 70.0, 1108.0
TOP, FLOOR = 46.0, 216.0
WARM, COLD = 262.0, 338.0
MOST_LINES = 5


@dataclass(frozen=True, slots=True)
class Bar:
    """Sap of one day, and the striped part at its upper end."""

    x: float
    width: float
    y: float
    height: float
    tipped_height: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """Coldest to warmest of one day; heavy where the day passed the freezing point both ways."""

    x: float
    warm_y: float
    cold_y: float
    crosses: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """A number or date beside an axis."""

    at: float
    text: str


@dataclass(slots=True)
class Chart:
    """All that is drawn."""

    bars: list[Bar] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    rules: list[Mark] = field(default_factory=list)
    dates: list[Mark] = field(default_factory=list)
    freezing_y: float | None = None
    best_x: float = 0
    best_y: float = 0
    best_end: bool = False

    @property
    def height(self) -> int:
        """The sheet ends below the dates where no weather is drawn."""
        return HEIGHT if self.strokes else int(FLOOR) + 34


def step_of(largest: float) -> float:
    """The distance between ruled lines: 1, 2 or 5 times a power of ten, at most five lines.

    >>> step_of(356), step_of(8), step_of(0.3)
    (100.0, 2.0, 0.1)
    """
    size = 10.0**-3
    while True:
        for factor in (1, 2, 5):
            if largest / (size * factor) <= MOST_LINES:
                return round(size * factor, 6)
        size *= 10


def draw(days: Sequence[DayRow], units: str) -> Chart | None:
    """The chart of these days; None where no sap came."""
    largest_ml = max((row.sums.out_ml for row in days), default=0)
    if largest_ml <= 0:
        return None
    chart = Chart()
    unit = "gal" if units == "us" else "L"
    largest = float(from_ml(largest_ml, unit))
    per_unit = (FLOOR - TOP) / largest
    step = step_of(largest)
    n = 1
    while n * step <= largest:
        y = FLOOR - n * step * per_unit
        text = dressed(f"{n * step:.6f}".rstrip("0").rstrip("."))
        last = (n + 1) * step > largest
        chart.rules.append(Mark(round(y, 1), f"{text} {unit}" if last else text))
        n += 1
    pitch = (RIGHT - LEFT) / len(days)
    width = min(40.0, max(2.0, pitch * 0.66))
    _bars(chart, days, pitch, width, (FLOOR - TOP) / largest_ml)
    _weather(chart, days, pitch)
    _dates(chart, [row.day for row in days], pitch)
    return chart


def _middle(n: int, pitch: float) -> float:
    return round(LEFT + (n + 0.5) * pitch, 1)


def _bars(chart: Chart, days: Sequence[DayRow], pitch: float, width: float, per_ml: float) -> None:
    best = 0
    for n, row in enumerate(days):
        out_ml = max(0, row.sums.out_ml)
        if not out_ml:
            continue
        height = round(out_ml * per_ml, 1)
        tipped = round(min(max(0, row.sums.tipped_ml), out_ml) * per_ml, 1)
        x, y = round(_middle(n, pitch) - width / 2, 1), round(FLOOR - height, 1)
        chart.bars.append(Bar(x, round(width, 1), y, height, tipped))
        if out_ml > best:
            best = out_ml
            chart.best_end = n >= len(days) / 2
            chart.best_x = round(x if chart.best_end else x + width, 1) + (-8 if chart.best_end else 8)
            chart.best_y = max(y - 8, 20.0)


def _weather(chart: Chart, days: Sequence[DayRow], pitch: float) -> None:
    lows = [row.low_c for row in days if row.low_c is not None]
    highs = [row.high_c for row in days if row.high_c is not None]
    if not lows or not highs:
        return
    low, high = min(*lows, -1.0), max(*highs, 1.0)
    per_c = (COLD - WARM) / (high - low)

    def y(temperature_c: float) -> float:
        return round(WARM + (high - temperature_c) * per_c, 1)

    chart.freezing_y = y(0.0)
    for n, row in enumerate(days):
        if row.low_c is not None and row.high_c is not None:
            chart.strokes.append(Stroke(_middle(n, pitch), y(row.high_c), y(row.low_c), bool(row.crosses)))


def _dates(chart: Chart, days: Sequence[dt.date], pitch: float) -> None:
    every = max(1, round(len(days) / 42)) * 7 if len(days) > 14 else (2 if len(days) > 7 else 1)
    for n in range(0, len(days), every):
        chart.dates.append(Mark(_middle(n, pitch), date_format(days[n], "j M")))
