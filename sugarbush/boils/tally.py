"""What the depot and the boiling day show: litres, sugar, pooled Brix, and the syrup to expect."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sugarbush.core.errors import CoreError
from sugarbush.core.syrup import sap_per_syrup, syrup_from_sugar_ml
from sugarbush.sap.models import Vessel, VesselKind
from sugarbush.sap.tanks import TankState, assumed_brix, tank_states
from sugarbush.seasons.models import Season


@dataclass(frozen=True, kw_only=True)
class Tally:
    """Several vessels together."""

    volume_ml: int
    sugar_kg: float
    sugar_brix: float | None
    unmeasured_ml: int
    syrup_ml: int | None
    ratio: float | None
    syrup_brix: float
    assumed_brix: float

    @property
    def sugar_g(self) -> int:
        return round(self.sugar_kg * 1000)


def tanks_of(season: Season) -> list[Vessel]:
    rows = Vessel.objects.filter(season=season, kind=VesselKind.TANK, out_of_use=False)
    return list(rows.select_related("depot", "season").order_by("code"))


def tally(states: Iterable[TankState], season: Season) -> Tally:
    """Pool the states by mass: sugar adds, and so does the mass behind each Brix reading."""
    states = list(states)
    volume_ml = sum(state.volume_ml for state in states)
    sugar_kg = sum(state.sugar_kg for state in states)
    mass_kg = sum(state.sugar_kg / state.sugar_brix * 100 for state in states if state.sugar_brix)
    brix = 100 * sugar_kg / mass_kg if mass_kg else None
    target = float(season.syrup_brix)
    syrup_ml, ratio = None, None
    if brix:
        try:
            syrup_ml = round(syrup_from_sugar_ml(sugar_kg=sugar_kg, syrup_brix=target))
            ratio = sap_per_syrup(sap_brix=brix, syrup_brix=target)
        except CoreError:
            syrup_ml = ratio = None
    return Tally(
        volume_ml=volume_ml,
        sugar_kg=sugar_kg,
        sugar_brix=brix,
        unmeasured_ml=sum(state.unmeasured_ml for state in states),
        syrup_ml=syrup_ml,
        ratio=ratio,
        syrup_brix=target,
        assumed_brix=float(assumed_brix(season)),
    )


def tank_rows(season: Season) -> list[tuple[Vessel, TankState]]:
    """Every tank in use with what is in it; a fixed number of queries. How old it is, boils.keeping says."""
    tanks = tanks_of(season)
    states = tank_states(tanks, season, ages=False)
    return [(tank, states[tank.pk]) for tank in tanks]
