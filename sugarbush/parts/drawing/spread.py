"""How something is spread: a standing column for each equal step, with the quartiles marked below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from math import ceil

from sugarbush.core.units import ML_PER, from_ml
from sugarbush.parts.drawing.scale import number_words, step_of, volume_unit

TOP_PX, FLOOR_PX, HEIGHT_PX = 24, 150, 204
MOST_STEPS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One step: from_ml up to to_ml, which the last one includes. x_pct, width_pct: per cent of the picture's width."""

    from_ml: int
    to_ml: int
    count: int
    words: str
    x_pct: float
    middle_pct: float
    width_pct: float
    y_px: float
    height_px: float


@dataclass(slots=True, kw_only=True)
class Spread:
    """The picture, and its five numbers in mL."""

    columns: list[Column] = field(default_factory=list)
    edges: list[tuple[float, str, str]] = field(default_factory=list)
    count: int = 0
    lowest_ml: int = 0
    lower_ml: int = 0
    median_ml: int = 0
    upper_ml: int = 0
    highest_ml: int = 0
    median_pct: float = 0.0
    box_pct: tuple[float, float] = (0.0, 0.0)
    reach_pct: tuple[float, float] = (0.0, 0.0)


def quantile(ordered: Sequence[float], share: float) -> float:
    """The value that `share` of them lie below, straight lines between neighbours (Hyndman and Fan, definition 7).

    ordered: rising, not empty.  share: 0 to 1.

    >>> quantile([1, 2, 4, 8], 0.5), quantile([1, 2, 4, 8], 0.25)
    (3.0, 1.75)
    """
    at = share * (len(ordered) - 1)
    low = int(at)
    high = min(low + 1, len(ordered) - 1)
    return float(ordered[low] + (ordered[high] - ordered[low]) * (at - low))


def of_volumes(volumes_ml: Sequence[int], units: object) -> Spread | None:
    """Columns and quartiles of these volumes (mL, 0 or more); None where all are nothing."""
    ordered = sorted(volumes_ml)
    if not ordered or ordered[-1] <= 0:
        return None
    unit = volume_unit(units)
    highest = from_ml(ordered[-1], unit)
    step = Decimal(str(step_of(float(highest), MOST_STEPS)))
    steps = ceil(highest / step)
    edges_ml = [round(n * step * ML_PER[unit]) for n in range(steps + 1)]
    counts = [0] * steps
    n = 0
    for ml in ordered:
        while n < steps - 1 and ml >= edges_ml[n + 1]:
            n += 1
        counts[n] += 1
    return _placed(ordered, edges_ml, counts, [number_words(float(n * step)) for n in range(steps + 1)], unit)


def _placed(ordered: list[int], edges_ml: list[int], counts: list[int], words: list[str], unit: str) -> Spread:
    steps, whole_ml = len(counts), edges_ml[-1]
    pitch, per_one = 100 / steps, (FLOOR_PX - TOP_PX) / max(counts)

    def pct(ml: float) -> float:
        return round(100 * ml / whole_ml, 3)

    quarters = [quantile(ordered, share) for share in (0.25, 0.5, 0.75)]
    found = Spread(
        count=len(ordered),
        lowest_ml=ordered[0],
        lower_ml=round(quarters[0]),
        median_ml=round(quarters[1]),
        upper_ml=round(quarters[2]),
        highest_ml=ordered[-1],
        median_pct=pct(quarters[1]),
        box_pct=(pct(quarters[0]), round(pct(quarters[2]) - pct(quarters[0]), 3)),
        reach_pct=(pct(ordered[0]), pct(ordered[-1])),
    )
    for n, count in enumerate(counts):
        height = round(count * per_one, 2)
        found.columns.append(
            Column(
                from_ml=edges_ml[n],
                to_ml=edges_ml[n + 1],
                count=count,
                words=f"{words[n]}–{words[n + 1]}\u00a0{unit}",
                x_pct=round(n * pitch + pitch * 0.06, 3),
                middle_pct=round((n + 0.5) * pitch, 3),
                width_pct=round(pitch * 0.88, 3),
                y_px=round(FLOOR_PX - height, 2),
                height_px=height,
            )
        )
    found.edges = [
        (round(n * pitch, 3), word + (f"\u00a0{unit}" if n == steps else ""), _anchor(n, steps))
        for n, word in enumerate(words)
    ]
    return found


def _anchor(n: int, steps: int) -> str:
    return "start" if n == 0 else "end" if n == steps else "middle"
