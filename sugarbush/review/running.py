"""Sap so far, day by day, as a rising line: unbroken on days somebody went round, dotted where nobody did."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from itertools import accumulate

from sugarbush.parts.drawing.scale import volume_ticks
from sugarbush.parts.shown import in_words
from sugarbush.review.chart import WIDE, Mark, Sheet, dates
from sugarbush.review.totals import DayRow

FLOOR, HEIGHT = 190.0, 240
TOP = 34.0


@dataclass(slots=True)
class Running:
    """The picture. gone, waited: the paths of days with and without a visit.  thaws: where freeze-thaw days stand."""

    sheet: Sheet
    gone: str = ""
    waited: str = ""
    under: str = ""
    rules: list[Mark] = field(default_factory=list)
    dates: list[Mark] = field(default_factory=list)
    thaws: list[float] = field(default_factory=list)
    end_x: float = 0.0
    end_y: float = 0.0
    words: str = ""

    @property
    def floor(self) -> float:
        return FLOOR

    @property
    def height(self) -> int:
        return HEIGHT


def so_far(days: Sequence[DayRow]) -> list[int]:
    """mL out of the trees up to and with each day."""
    return list(accumulate(row.sums.out_ml for row in days))


def draw(days: Sequence[DayRow], visited: Collection[dt.date], units: str, sheet: Sheet = WIDE) -> Running | None:
    """The line of these days; None where no sap came. visited: the days on which somebody logged a visit."""
    sums_ml = so_far(days)
    if not sums_ml or max(sums_ml) <= 0:
        return None
    found = Running(sheet)
    per_ml = (FLOOR - TOP) / max(sums_ml)
    found.rules = [Mark(round(FLOOR - tick.at * per_ml, 1), tick.words) for tick in volume_ticks(max(sums_ml), units)]
    points = [(sheet.middle(n, len(days)), round(FLOOR - ml * per_ml, 1)) for n, ml in enumerate(sums_ml)]
    found.under = f"M{points[0][0]} {FLOOR}" + "".join(f"L{x} {y}" for x, y in points) + f"V{FLOOR}Z"
    before = (sheet.left, FLOOR)
    for row, point in zip(days, points, strict=True):
        piece = f"M{before[0]} {before[1]}L{point[0]} {point[1]}"
        # Sap without a visit on record is drawn as what it is: it came.
        if row.day in visited or row.sums.out_ml:
            found.gone += piece
        else:
            found.waited += piece
        before = point
        if row.crosses:
            found.thaws.append(point[0])
    found.end_x, found.end_y = points[-1]
    found.words = in_words("volume", sums_ml[-1], units, exact=True)
    found.dates = dates([row.day for row in days], sheet)
    return found
