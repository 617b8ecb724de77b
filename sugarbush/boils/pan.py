"""The pan as it stands: where water boils today, when to draw off, what is in it, what is still to go."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.boils.looks import last_look_at, require_watch
from sugarbush.boils.models import Batch, BoilDay
from sugarbush.boils.models_pan import PanReading
from sugarbush.boils.pan_moves import pan_moves
from sugarbush.boils.plan import Rate, rate_for
from sugarbush.core.boiling import (
    boils_above_water_c,
    finished_at_c,
    pressure_from_boiling_pa,
    standard_pressure_pa,
    water_boils_c,
)
from sugarbush.core.boilplan import StillToGo, still_to_go
from sugarbush.core.errors import CoreError
from sugarbush.core.sugar import TankFold, density_kg_m3, mass_kg, sugar_kg
from sugarbush.core.syrup import syrup_from_sugar_ml
from sugarbush.sap.ledger import balance_ml
from sugarbush.sap.models import Cause
from sugarbush.sap.tanks import assumed_brix
from sugarbush.volunteers.models import Person

MEASURED_COUNTS = dt.timedelta(hours=24)
LEAST_RISE_C = 0.5  # below this a thermometer says nothing about sugar: about 24 Brix
THICKEST_BRIX = 75.0


@dataclass(frozen=True, kw_only=True)
class Water:
    """Where water boils today, and whether somebody boiled some to see."""

    boils_c: float
    measured_at: dt.datetime | None
    finish_c: float
    pressure_pa: float
    syrup_brix: float

    @property
    def is_measured(self) -> bool:
        return self.measured_at is not None


def water_today(day: BoilDay, now: dt.datetime | None = None) -> Water:
    """Boiling water as typed within the last day, else by the height above the sea and standard air."""
    now = now or timezone.now()
    syrup_brix = float(day.season.syrup_brix)
    typed, at = day.water_boils_c, day.water_boils_at
    if typed is not None and at is not None and now - at < MEASURED_COUNTS:
        boils_c = float(typed)
        return Water(
            boils_c=boils_c,
            measured_at=at,
            finish_c=finished_at_c(syrup_brix=syrup_brix, water_boils_at_c=boils_c),
            pressure_pa=pressure_from_boiling_pa(boils_c),
            syrup_brix=syrup_brix,
        )
    pressure_pa = standard_pressure_pa(day.elevation_m)
    return Water(
        boils_c=water_boils_c(pressure_pa),
        measured_at=None,
        finish_c=finished_at_c(syrup_brix=syrup_brix, pressure_pa=pressure_pa),
        pressure_pa=pressure_pa,
        syrup_brix=syrup_brix,
    )


@transaction.atomic
def measure_water(*, day: BoilDay, by: Person, boils_c: Decimal, at: dt.datetime | None = None) -> BoilDay:
    """Keep this morning's boiling water: it sets the thermometer right as well as the weather."""
    held = BoilDay.objects.select_for_update(of=("self",)).get(pk=day.pk)
    require_watch(by, held)
    old = held.water_boils_c
    held.water_boils_c, held.water_boils_at = boils_c, at or timezone.now()
    held.save()
    new = {"water_boils_c": str(boils_c)}
    record(by=by, act="measure boiling water", subject=held, old={"water_boils_c": str(old or "")}, new=new)
    return held


def brix_from_boiling(*, boils_c: float, water: Water) -> float | None:
    """Sugar of what boils at this temperature; None while it boils hardly above water."""
    rise_c = boils_c - water.boils_c
    if rise_c < LEAST_RISE_C:
        return None
    low, high = 0.0, THICKEST_BRIX
    if boils_above_water_c(brix=high, pressure_pa=water.pressure_pa) < rise_c:
        return high
    for _step in range(40):
        middle = (low + high) / 2
        if boils_above_water_c(brix=middle, pressure_pa=water.pressure_pa) < rise_c:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def brix_from_volume(*, volume_ml: float, sugar: float) -> float | None:
    """Sugar of a boiling pan by the stick: so many litres hold so many kilograms of it."""
    low, high = 0.0, 80.0
    if volume_ml <= 0 or sugar <= 0 or sugar_kg(volume_ml=volume_ml, brix=high, temperature_c=100) < sugar:
        return None
    for _step in range(40):
        middle = (low + high) / 2
        if sugar_kg(volume_ml=volume_ml, brix=middle, temperature_c=100) < sugar:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True, kw_only=True)
class Pan:
    """What a pan's page shows. Volumes at 20 °C; `basis` says where sugar and litres now come from."""

    in_ml: int
    out_ml: int
    syrup_to_come_ml: float
    brix_now: float
    brix_basis: str  # "reading", "boiling", "stick" or "filled"
    volume_ml: float
    volume_basis: str  # "stick" or "sugar"
    to_go: StillToGo | None
    ready_at: dt.datetime | None
    as_of: dt.datetime
    reading: PanReading | None
    looked_at: dt.datetime
    water: Water
    rate: Rate

    def depth_mm_on(self, area_cm2: int | None) -> int | None:
        """How deep it stands over the whole pan."""
        return round(self.volume_ml / area_cm2 * 10) if area_cm2 else None

    @property
    def shown_ml(self) -> int:
        return round(self.volume_ml)

    @property
    def to_come_ml(self) -> int:
        return round(self.syrup_to_come_ml)

    @property
    def to_go_ml(self) -> int | None:
        """Water still to drive off."""
        return None if self.to_go is None else round(self.to_go.water_l * 1000)

    def minutes_to_go(self, now: dt.datetime) -> int | None:
        return None if self.ready_at is None else max(0, round((self.ready_at - now).total_seconds() / 60))


def sugar_in(batch: Batch) -> tuple[int, float, int]:
    """Sap that went in (mL), sugar still there by what is known (kg), and what left (mL).

    Syrup takes the sugar of its own density, so this is not the mixture's share that a tank would give.
    """
    season = batch.pan.season
    fold = TankFold(assumed_brix=float(assumed_brix(season)))
    gone_kg, out_ml = 0.0, 0
    rows = pan_moves(batch.pan)
    for row in rows:
        if row.to_vessel_id == batch.pan_id:
            fold.add(row.volume_ml, float(row.sugar_brix) if row.sugar_brix is not None else None)
    came = fold.state()
    target = float(season.syrup_brix)
    for row in rows:
        if row.from_vessel_id != batch.pan_id:
            continue
        out_ml += row.volume_ml
        usual = target if row.cause == Cause.MOVED else came.sugar_brix or 0.0
        thick = float(row.sugar_brix) if row.sugar_brix is not None else usual
        gone_kg += sugar_kg(volume_ml=row.volume_ml, brix=thick)
    return came.volume_ml, max(0.0, came.sugar_kg - gone_kg), out_ml


def sugar_promise(batch: Batch) -> float:
    """Syrup in mL that the sap put in this batch holds, nothing lost; so 200 L at 2.2 Brix hold 5.07 L at 66.0."""
    fold = TankFold(assumed_brix=float(assumed_brix(batch.pan.season)))
    for row in pan_moves(batch.pan):
        if row.to_vessel_id == batch.pan_id:
            fold.add(row.volume_ml, float(row.sugar_brix) if row.sugar_brix is not None else None)
    return syrup_from_sugar_ml(sugar_kg=fold.state().sugar_kg, syrup_brix=float(batch.pan.season.syrup_brix))


def pan_now(batch: Batch, now: dt.datetime | None = None) -> Pan:
    """The pan by its last reading; until there is one, as it was filled."""
    now = now or timezone.now()
    day = batch.boil_day
    water, rate = water_today(day, now), rate_for(day)
    in_ml, sugar, out_ml = sugar_in(batch)
    reading = (
        batch.readings.exclude(temperature_c=None, sugar_brix=None, volume_ml=None).order_by("-happened_at").first()
    )
    brix, basis, as_of = _brix_now(reading, water, sugar)
    volume_basis = "sugar"
    if brix is None:
        left_ml = max(0, balance_ml(batch.pan))
        brix, basis, as_of = _filled(sugar, left_ml), "filled", batch.opened_at
    if reading is not None and reading.volume_ml and as_of == reading.happened_at:
        held_kg, volume_basis = mass_kg(volume_ml=reading.volume_ml, brix=min(brix, 80), temperature_c=100), "stick"
    else:
        held_kg = sugar / (brix / 100) if brix else 0.0
    volume_ml = held_kg / density_kg_m3(min(brix, 80)) * 1_000_000
    to_go = ready_at = None
    if day.pan_area_cm2 and volume_ml > 0:
        try:
            to_go = still_to_go(
                volume_ml=volume_ml,
                brix=brix,
                pan_area_m2=day.pan_area_cm2 / 10_000,
                syrup_brix=water.syrup_brix,
                rate_l_h_m2=rate.l_h_m2,
            )
        except CoreError:
            to_go = None
        else:
            ready_at = as_of + dt.timedelta(minutes=to_go.boiling_min)
    return Pan(
        in_ml=in_ml,
        out_ml=out_ml,
        syrup_to_come_ml=syrup_from_sugar_ml(sugar_kg=sugar, syrup_brix=water.syrup_brix),
        brix_now=brix,
        brix_basis=basis,
        volume_ml=volume_ml,
        volume_basis=volume_basis,
        to_go=to_go,
        ready_at=ready_at,
        as_of=as_of,
        reading=reading,
        looked_at=last_look_at(batch),
        water=water,
        rate=rate,
    )


def _filled(sugar: float, left_ml: int) -> float:
    """Brix of the sap as it was poured in, what left since taken off."""
    if left_ml <= 0 or sugar <= 0:
        return 0.0
    low, high = 0.0, 80.0
    for _step in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if sugar_kg(volume_ml=left_ml, brix=middle) < sugar else (low, middle)
    return (low + high) / 2


def _brix_now(reading: PanReading | None, water: Water, sugar: float) -> tuple[float | None, str, dt.datetime]:
    """Sugar by hydrometer before thermometer before stick, and when that was."""
    if reading is None:
        return None, "", timezone.now()
    if reading.sugar_brix is not None:
        return float(reading.sugar_brix), "reading", reading.happened_at
    if reading.temperature_c is not None:
        found = brix_from_boiling(boils_c=float(reading.temperature_c), water=water)
        if found is not None:
            return found, "boiling", reading.happened_at
    if reading.volume_ml:
        found = brix_from_volume(volume_ml=reading.volume_ml, sugar=sugar)
        if found is not None:
            return found, "stick", reading.happened_at
    return None, "", reading.happened_at
