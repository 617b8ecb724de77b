"""Seven weeks of invented weather: cold, then runs of frosty nights and mild days, then spring.

The rhythm (frost at night, thaw by day, a cold spell or a mild night between) is drawn by hand; a seed moves each
day a little. What counts as a running day here is the simplest definition of all: below 0 C and above 0 C on the
same day, the freeze-thaw event of the Ouranos consortium, Quebec.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sugarbush.demo.inventory import SEED

DAYS = 49
YEAR = 2026
# How many days, the usual night and the usual day in degrees Celsius.
_RHYTHM = (
    (3, -13.0, -4.5), (4, -6.5, 3.0),
    (4, -5.0, 5.0), (1, -9.5, -2.5), (2, -5.5, 3.5),
    (5, -4.5, 6.0), (1, 1.2, 8.0), (1, -3.5, 5.5),
    (2, -4.0, 5.0), (2, -8.0, -1.8), (3, -5.0, 5.0),
    (4, -4.0, 6.5), (1, 2.0, 9.0), (2, -3.0, 6.0),
    (3, -2.5, 7.0), (2, 1.5, 10.0), (2, -1.8, 8.0),
    (2, -1.2, 9.0), (5, 4.0, 13.0),
)  # fmt: skip


@dataclass(frozen=True)
class WeatherDay:
    """The coldest and the warmest of one local day, to a tenth of a degree."""

    day: date
    min_c: Decimal
    max_c: Decimal

    @property
    def crosses_freezing(self) -> bool:
        """Frost and thaw on the same day."""
        return self.min_c < 0 < self.max_c


def first_day_of(year: int) -> date:
    """The third Monday of February, on which the demo's seven weeks begin (16 February in 2026)."""
    day = date(year, 2, 15)
    return day + timedelta(days=(7 - day.weekday()) % 7)


def weather_days(year: int = YEAR, seed: int = SEED, *, first_day: date | None = None) -> list[WeatherDay]:
    """Every day of the seven weeks; the same seed gives the same days, whatever the year."""
    rng = random.Random(f"weather {seed}")  # noqa: S311
    start = first_day or first_day_of(year)
    days: list[WeatherDay] = []
    for count, night_c, noon_c in _RHYTHM:
        for _ in range(count):
            min_c, max_c = night_c + rng.gauss(0, 1.0), noon_c + rng.gauss(0, 1.3)
            if night_c < 0:
                min_c = min(min_c, -0.6)
            if noon_c > 0:
                max_c = max(max_c, 1.2)
            else:
                max_c = min(max_c, -0.5)
            if night_c > 0:
                min_c = max(min_c, 0.3)
            day = start + timedelta(days=len(days))
            days.append(WeatherDay(day, _tenth(min_c), _tenth(max(max_c, min_c + 2))))
    return days


def _tenth(value_c: float) -> Decimal:
    return Decimal(f"{value_c:.1f}")


def sap_strength(days: list[WeatherDay]) -> list[float]:
    """How hard the sap runs each day, about 1 on a good day; the demo's own guess, not a forecast method."""
    strengths: list[float] = []
    for day in days:
        min_c, max_c = float(day.min_c), float(day.max_c)
        if day.crosses_freezing:
            strengths.append(min(1.0, max(0.3, -min_c / 4.5)) * min(1.4, max(0.25, max_c / 5.5)))
        elif min_c >= 0 and strengths:
            # A night without frost: what the last thaw set going runs on for a day and dies away.
            strengths.append(0.35 * strengths[-1])
        else:
            strengths.append(0.0)
    return strengths
