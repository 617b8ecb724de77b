"""Round steps for an axis that begins at nothing, in the reader's own unit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sugarbush.core.units import ML_PER, from_ml
from sugarbush.parts.shown import dressed, system_of

MOST_LINES = 5


@dataclass(frozen=True, slots=True)
class Tick:
    """A ruled line. at: the value it stands for, in the stored unit.  words: what stands beside it."""

    at: float
    words: str


def step_of(largest: float, most: int = MOST_LINES) -> float:
    """The distance between ruled lines: 1, 2 or 5 times a power of ten, at most so many of them.

    largest: above 0.

    >>> step_of(356), step_of(8), step_of(0.3), step_of(356, most=12)
    (100.0, 2.0, 0.1, 50.0)
    """
    size = 10.0**-3
    while True:
        for factor in (1, 2, 5):
            if largest / (size * factor) <= most:
                return round(size * factor, 6)
        size *= 10


def number_words(value: float) -> str:
    """A tick's number: as few decimals as it has, marks between thousands.

    >>> number_words(0.5), number_words(1500.0)
    ('0.5', '1,500')
    """
    return dressed(f"{value:.6f}".rstrip("0").rstrip("."))


def volume_unit(units: object) -> str:
    """ "L" or "gal", as this reader counts volumes."""
    return "gal" if system_of(units) == "us" else "L"


def volume_ticks(largest_ml: int, units: object, most: int = MOST_LINES) -> list[Tick]:
    r"""Ruled lines above nothing up to the largest volume; the uppermost names the unit.

    largest_ml: mL, above 0.

    >>> [(tick.at, tick.words) for tick in volume_ticks(25_000, "metric")]
    [(5000.0, '5'), (10000.0, '10'), (15000.0, '15'), (20000.0, '20'), (25000.0, '25\xa0L')]
    """
    unit = volume_unit(units)
    step = step_of(float(from_ml(largest_ml, unit)), most)
    step_ml = float(Decimal(str(step)) * ML_PER[unit])
    count = int(largest_ml / step_ml + 1e-9)
    return [
        Tick(n * step_ml, number_words(n * step) + (f"\u00a0{unit}" if n == count else "")) for n in range(1, count + 1)
    ]
