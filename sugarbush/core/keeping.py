"""How long sap keeps: the programme's own boil-by policy. A design choice, no food-safety standard.

Three clocks run and the earliest rules: seven days since collection; 168 equivalent hours at 3.33 °C (38 °F), where
warm hours count more and cold ones never less; and 24 hours above 10 °C by a log of the sap itself.
Cloudy, ropy or sour sap is tipped out whatever the clocks say.
Source of the seven days: several pages repeat "38 °F or colder, within 7 days" without naming an origin [R2]; of the
slow and quick growth below 4.4 °C and above 10 °C: OSU Extension [R]; the square-root growth law and its -5 °C [M].
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from sugarbush.core.errors import Missing, check_range

REFERENCE_C = 10 / 3  # 38 °F
NO_GROWTH_C = -5.0
LIMIT_H = 168.0
SOON_H = 120.0
WARM_C = 10.0
WARM_LIMIT_H = 24.0

Standing = Literal["keeps", "boil soon", "late"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch of time at one temperature.

    hours: 0 or more.  temperature_c: -40 to 60; of the sap where logged, else the day's mean air or the depot's usual.
    sap_logged: whether the sap's own temperature was written down.
    frozen_solid: a person says it was frozen right through; only then do the clocks stand still.
    """

    hours: float
    temperature_c: float
    sap_logged: bool = False
    frozen_solid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SapAge:
    """Where the three clocks of one lot stand, in hours."""

    elapsed_h: float = 0.0
    equivalent_h: float = 0.0
    warm_h: float = 0.0

    @property
    def standing(self) -> Standing:
        """ "keeps", "boil soon" (from 120 h) or "late" (past a limit; exactly at it is still allowed)."""
        if self.equivalent_h > LIMIT_H or self.elapsed_h > LIMIT_H or self.warm_h > WARM_LIMIT_H:
            return "late"
        return "boil soon" if max(self.equivalent_h, self.elapsed_h) >= SOON_H else "keeps"


def growth_weight(temperature_c: float) -> float:
    """Hours at 3.33 °C that one hour at this temperature counts for; never under 1.

    temperature_c: -40 to 60.  Raises OutOfRange.  Source: square-root growth law [M], see the module.

    >>> growth_weight(0), round(growth_weight(10), 2), round(growth_weight(20), 2)
    (1.0, 3.24, 9.0)
    """
    check_range(temperature_c, low=-40, high=60, quantity="temperature", unit="°C")
    # Below -5 °C the parabola would rise again; there as everywhere under 38 °F an hour counts as an hour.
    if temperature_c <= REFERENCE_C:
        return 1.0
    return ((temperature_c - NO_GROWTH_C) / (REFERENCE_C - NO_GROWTH_C)) ** 2


def sap_age(spells: Iterable[Spell], *, start: SapAge | None = None) -> SapAge:
    """Let the clocks run through spells, from the moment the sap left the tree (or from start).

    Raises OutOfRange for hours below 0 or a temperature outside -40 to 60 °C.  Source: the policy of this module.

    >>> age = sap_age([Spell(hours=48, temperature_c=2), Spell(hours=12, temperature_c=10, sap_logged=True),
    ...     Spell(hours=6, temperature_c=15, sap_logged=True)])
    >>> round(age.equivalent_h, 2), age.warm_h, age.standing
    (121.44, 6.0, 'boil soon')
    """
    age = start or SapAge()
    elapsed_h, equivalent_h, warm_h = age.elapsed_h, age.equivalent_h, age.warm_h
    for spell in spells:
        check_range(spell.hours, low=0, high=100_000, quantity="time", unit="h")
        weight = growth_weight(spell.temperature_c)
        if spell.frozen_solid:
            continue
        elapsed_h += spell.hours
        equivalent_h += weight * spell.hours
        if spell.sap_logged and spell.temperature_c > WARM_C:
            warm_h += spell.hours
    return SapAge(elapsed_h=elapsed_h, equivalent_h=equivalent_h, warm_h=warm_h)


def pooled_age(ages: Iterable[SapAge]) -> SapAge:
    """The age of sap poured together: the worst of each clock among its parts.

    Raises Missing for no parts.

    >>> pooled_age([SapAge(elapsed_h=10, equivalent_h=30), SapAge(elapsed_h=20, equivalent_h=20)])
    SapAge(elapsed_h=20, equivalent_h=30, warm_h=0.0)
    """
    parts = list(ages)
    if not parts:
        raise Missing(quantity="time", value=None)
    return SapAge(
        elapsed_h=max(part.elapsed_h for part in parts),
        equivalent_h=max(part.equivalent_h for part in parts),
        warm_h=max(part.warm_h for part in parts),
    )


def hours_left(age: SapAge, *, temperature_c: float, sap_logged: bool = False) -> float:
    """Hours until the earliest clock runs out if it stays at this temperature; 0 when it is out.

    temperature_c: -40 to 60.  sap_logged: whether the sap's own temperature is being written down; without a log the
    24 warm hours do not run.  Raises OutOfRange.

    >>> round(hours_left(SapAge(), temperature_c=10), 1)
    51.9
    """
    left = [LIMIT_H - age.elapsed_h, (LIMIT_H - age.equivalent_h) / growth_weight(temperature_c)]
    if age.warm_h > WARM_LIMIT_H:
        return 0.0
    if sap_logged and temperature_c > WARM_C:
        left.append(WARM_LIMIT_H - age.warm_h)
    return max(0.0, min(left))


def boil_by(age: SapAge, *, now: datetime, temperature_c: float, sap_logged: bool = False) -> datetime:
    """The moment by which it should be in the pan, if it stays at this temperature from now on.

    now: with its time zone.  Other arguments and errors as hours_left. For sap already late this is now; how late it
    is, standing and the clocks tell.

    >>> from datetime import UTC
    >>> boil_by(SapAge(), now=datetime(2026, 3, 1, 8, tzinfo=UTC), temperature_c=3).isoformat()
    '2026-03-08T08:00:00+00:00'
    """
    return now + timedelta(hours=hours_left(age, temperature_c=temperature_c, sap_logged=sap_logged))
