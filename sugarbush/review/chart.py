"""The day-by-day drawing: bars of sap, striped where it was tipped out, and the day's temperatures below.

Only geometry; the page draws it as SVG. Every figure in it stands in the tables beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from django.utils.formats import date_format

from sugarbush.parts.drawing.scale import volume_ticks
from sugarbush.review.totals import DayRow

HEIGHT = 372
TOP, FLOOR = 46.0, 216.0
WORDS_Y, WARM, COLD = 266.0, 284.0, 360.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One form of a picture of days, in CSS pixels. date_px: the room one date needs."""

    name: str
    width: int
    left: float
    right: float
    date_px: float = 64.0

    def middle(self, n: int, days: int) -> float:
        """Where the n-th of so many days stands, counted from 0."""
        return round(self.left + (n + 0.5) * (self.right - self.left) / days, 1)


WIDE = Sheet(name="wide", width=1120, left=88.0, right=1108.0)
NARROW = Sheet(name="narrow", width=344, left=62.0, right=338.0)


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
    """All that is drawn. dry: days on which somebody went and no sap came."""

    sheet: Sheet = WIDE
    bars: list[Bar] = field(default_factory=list)
    dry: list[float] = field(default_factory=list)
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


def draw(
    days: Sequence[DayRow], units: str, sheet: Sheet = WIDE, visited: Collection[dt.date] = frozenset()
) -> Chart | None:
    """The chart of these days; None where no sap came. visited: the days on which somebody logged a visit."""
    largest_ml = max((row.sums.out_ml for row in days), default=0)
    if largest_ml <= 0:
        return None
    chart = Chart(sheet)
    per_ml = (FLOOR - TOP) / largest_ml
    chart.rules = [Mark(round(FLOOR - tick.at * per_ml, 1), tick.words) for tick in volume_ticks(largest_ml, units)]
    pitch = (sheet.right - sheet.left) / len(days)
    width = min(40.0, max(2.0, pitch * 0.66))
    _bars(chart, days, width, per_ml)
    chart.dry = [
        sheet.middle(n, len(days)) for n, row in enumerate(days) if row.day in visited and row.sums.out_ml <= 0
    ]
    _weather(chart, days)
    chart.dates = dates([row.day for row in days], sheet)
    return chart


def _bars(chart: Chart, days: Sequence[DayRow], width: float, per_ml: float) -> None:
    best, wide = 0, chart.sheet is WIDE
    for n, row in enumerate(days):
        out_ml = max(0, row.sums.out_ml)
        if not out_ml:
            continue
        height = round(out_ml * per_ml, 1)
        tipped = round(min(max(0, row.sums.tipped_ml), out_ml) * per_ml, 1)
        x, y = round(chart.sheet.middle(n, len(days)) - width / 2, 1), round(FLOOR - height, 1)
        chart.bars.append(Bar(x, round(width, 1), y, height, tipped))
        if out_ml > best:
            best = out_ml
            # On the narrow sheet the words have the line above all bars to themselves.
            chart.best_end = wide and n >= len(days) / 2
            beside = round(x - 8 if chart.best_end else x + width + 8, 1)
            chart.best_x = beside if wide else chart.sheet.left
            chart.best_y = max(y - 8, 20.0) if wide else 20.0


def _weather(chart: Chart, days: Sequence[DayRow]) -> None:
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
            middle = chart.sheet.middle(n, len(days))
            chart.strokes.append(Stroke(middle, y(row.high_c), y(row.low_c), bool(row.crosses)))


def dates(days: Sequence[dt.date], sheet: Sheet) -> list[Mark]:
    """Dates below the days, a week or weeks apart, never so near that they touch or run out of the sheet."""
    room = int((sheet.right - sheet.left) // sheet.date_px)
    least = -(-len(days) // room)
    every = least if least <= 2 and len(days) <= 14 else -(-least // 7) * 7
    marks = [Mark(sheet.middle(n, len(days)), date_format(days[n], "j M")) for n in range(0, len(days), every)]
    return [mark for mark in marks if mark.at <= sheet.width - sheet.date_px / 3]
