"""A boiling day worked out: hours, fuel, syrup, people, and what must be on hand, from the core's arithmetic."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, Sum
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from sugarbush.boils.models import Batch, BatchState, BoilDay
from sugarbush.boils.tally import Tally, tally, tanks_of
from sugarbush.core import units as core_units
from sugarbush.core.boiling import FLAT_PAN_L_H_M2, FUELS, boil_need, fuel_needed
from sugarbush.core.boilplan import BoilPlan, Pan, boil_plan
from sugarbush.core.errors import CoreError
from sugarbush.core.sugar import pool
from sugarbush.sap.models import Cause, Movement
from sugarbush.sap.tanks import TankState, assumed_brix, tank_state
from sugarbush.seasons.models import Season

SAP_C = 4.0  # cold sap, as the core's own plan takes it
SHIFT_H = 4.0
READY_H = 1.0
# Rates outside these come from a slip in a batch's hours or litres, not from a pan.
LEAST_RATE, MOST_RATE = 5.0, 200.0
BATCHES_LOOKED_AT = 8
# Common practice, no source: a filter for about every gallon of syrup and one more, a tenth more jars than worked out.
FILTER_ML = 4_000
JARS_MORE = 1.1
JAR_ML = {"metric": 500, "us": 473}  # half a litre; a US pint is 473.176 mL (NIST SP 811)


def jar_words(units: str) -> str:
    """The usual jar, as people call it."""
    return _("1 pint (473\u00a0mL)") if units == "us" else _("500\u00a0mL")


FUEL_NAMES = {
    "wood_kg": gettext_lazy("wood, by weight"),
    "wood_cord": gettext_lazy("wood, by the cord"),
    "propane_l": gettext_lazy("propane"),
    "natural_gas_m3": gettext_lazy("natural gas"),
}


def time_words(hours: float, *, step_min: int = 5) -> str:
    """Hours as people say them, to five minutes: "12 h 15 min"."""
    minutes = round(hours * 60 / step_min) * step_min
    whole, rest = divmod(minutes, 60)
    nb = "\u00a0"
    parts = [f"{whole}{nb}{_('h')}"] if whole else []
    if rest or not whole:
        parts.append(f"{rest}{nb}{_('min')}")
    return nb.join(parts)


@dataclass(frozen=True, kw_only=True)
class Rate:
    """Water a square metre of pan drives off in an hour, and where that figure comes from."""

    l_h_m2: float
    basis: str  # "typed", "measured" or "flat"
    batches: int = 0
    same_pan: bool = False

    @property
    def said(self) -> str:
        """Where the figure comes from, as the page says it."""
        if self.basis == "typed":
            return _("as written down for this pan")
        if self.basis == "measured" and self.same_pan:
            words = ngettext("measured on this pan, %(n)d batch", "measured on this pan, %(n)d batches", self.batches)
            return words % {"n": self.batches}
        if self.basis == "measured":
            words = ngettext("measured on our pans, %(n)d batch", "measured on our pans, %(n)d batches", self.batches)
            return words % {"n": self.batches}
        return _("the usual flat pan: our own batches have not been measured yet")


def rate_words(l_h_m2: float, units: str) -> str:
    """A steam rate in the reader's units, figure and unit."""
    if units == "us":
        gallons = core_units.from_ml(round(l_h_m2 * 1000), "gal") * Decimal("0.09290304")
        return f"{gallons:.2f}\u00a0{_('gal/h per sq ft')}"
    return f"{l_h_m2:.0f}\u00a0{_('L/h per m²')}"


def area_words(area_cm2: int, units: str) -> str:
    """A pan's area in the reader's units."""
    if units == "us":
        return f"{area_cm2 / 929.0304:.2f}\u00a0{_('sq ft')}"
    return f"{area_cm2 / 10_000:.2f}\u00a0{_('m²')}"


def measured_rate(batches: Iterable[tuple[float, float, float, float]]) -> tuple[float, int] | None:
    """Litres an hour and square metre over several batches, and how many of them count.

    Each batch: sap in mL, driven off in mL, hours, pan in m². The hours hold the heat-up too; its part is taken out
    at the same fire, as the core's hours have it on a line of its own. A batch that gives a figure no pan reaches is
    left out.
    """
    litres = area_hours = 0.0
    count = 0
    for sap_ml, gone_ml, hours, area_m2 in batches:
        if hours <= 0 or area_m2 <= 0 or gone_ml <= 0:
            continue
        need = boil_need(sap_ml=sap_ml, sap_brix=2.0, sap_c=SAP_C)
        boiling_h = hours * need.steam_mj / need.heat_mj
        if not LEAST_RATE <= gone_ml / 1000 / (boiling_h * area_m2) <= MOST_RATE:
            continue
        litres += gone_ml / 1000
        area_hours += boiling_h * area_m2
        count += 1
    return (litres / area_hours, count) if count else None


def rate_for(day: BoilDay) -> Rate:
    """What this pan drives off: written down for the day, else measured on our batches, else the usual flat pan."""
    if day.pan_ml_h_m2:
        return Rate(l_h_m2=day.pan_ml_h_m2 / 1000, basis="typed")
    closed = Batch.objects.filter(state=BatchState.CLOSED, closed_at__isnull=False, boil_day__pan_area_cm2__gt=0)
    for same_pan in (True, False):
        rows = closed.order_by("-closed_at").select_related("boil_day")
        if same_pan:
            rows = rows.filter(boil_day__site=day.site, boil_day__pan_area_cm2=day.pan_area_cm2)
        found = measured_rate(_measured(list(rows[:BATCHES_LOOKED_AT])))
        if found:
            return Rate(l_h_m2=found[0], basis="measured", batches=found[1], same_pan=same_pan)
    return Rate(l_h_m2=FLAT_PAN_L_H_M2, basis="flat")


def _measured(batches: list[Batch]) -> list[tuple[float, float, float, float]]:
    pans = [batch.pan_id for batch in batches]
    sums = Movement.objects.filter(Q(to_vessel__in=pans) | Q(from_vessel__in=pans, cause=Cause.EVAPORATED))
    came: dict[object, int] = {}
    gone: dict[object, int] = {}
    for to_id, from_id, ml in sums.values_list("to_vessel", "from_vessel").annotate(ml=Sum("volume_ml")).order_by():
        if to_id in pans:
            came[to_id] = came.get(to_id, 0) + ml
        else:
            gone[from_id] = gone.get(from_id, 0) + ml
    return [
        (
            came.get(batch.pan_id, 0),
            gone.get(batch.pan_id, 0),
            (batch.closed_at - batch.opened_at).total_seconds() / 3600 if batch.closed_at else 0,
            (batch.boil_day.pan_area_cm2 or 0) / 10_000,
        )
        for batch in batches
    ]


@dataclass(frozen=True, kw_only=True)
class FuelNeed:
    """Fuel for the day in its own unit."""

    name: str
    amount: float
    unit: str
    source: str
    efficiency: float


def fuel_words(need: FuelNeed, units: str) -> str:
    """An amount of fuel, rounded up to what can be fetched."""
    if need.unit == "kg":
        text = core_units.from_g(round(need.amount * 1000), "lb") if units == "us" else Decimal(str(need.amount))
        return f"{math.ceil(text):,}\u00a0{_('lb') if units == 'us' else _('kg')}"
    if need.unit == "L" and units == "us":
        return f"{math.ceil(core_units.from_ml(round(need.amount * 1000), 'gal')):,}\u00a0{_('gal')}"
    if need.unit == "cord":
        return f"{math.ceil(need.amount * 20) / 20:.2f}\u00a0{_('cord')}"
    return f"{math.ceil(need.amount):,}\u00a0{need.unit}"


@dataclass(frozen=True, kw_only=True)
class DayPlan:
    """One boiling day worked out. `boil` is None while something it needs is not known; `missing` says what."""

    hand: Tally
    sap: Tally
    expected_ml: int
    rate: Rate
    boil: BoilPlan | None
    fuel: FuelNeed | None
    missing: str = ""

    @property
    def syrup_ml(self) -> int:
        return self.sap.syrup_ml or 0

    def jars(self, units: str) -> int:
        """Jars of the usual size, a tenth more than the syrup fills."""
        return math.ceil(self.syrup_ml / JAR_ML["us" if units == "us" else "metric"] * JARS_MORE)

    @property
    def filters(self) -> int:
        return math.ceil(self.syrup_ml / FILTER_ML) + 1

    @property
    def people(self) -> int:
        return self.boil.people if self.boil else 0

    def ends(self, day: BoilDay) -> dt.datetime | None:
        """When the fire should be out, by this plan."""
        if day.starts_at is None or self.boil is None:
            return None
        # In UTC: a day on which the clocks change is an hour shorter or longer on the wall.
        return day.starts_at.astimezone(dt.UTC) + dt.timedelta(hours=self.boil.total_h)


def _expected(expected_ml: int, season: Season, brix: float | None) -> TankState:
    """Sap that is still to come: as sweet as what is in the tanks, else as the season assumes."""
    sugar_brix = brix or float(assumed_brix(season))
    state = pool([(expected_ml, sugar_brix)])
    return TankState(
        volume_ml=expected_ml,
        sugar_kg=state.sugar_kg,
        sugar_brix=sugar_brix if expected_ml else None,
        unmeasured_ml=expected_ml,
        oldest_at=None,
    )


def plan_of(day: BoilDay) -> DayPlan:
    """What this day takes: the sap in the tanks and in this day's open pans, and what is still expected."""
    season = day.season
    vessels = tanks_of(season)
    pans = [batch.pan for batch in day.batches.filter(state=BatchState.OPEN).select_related("pan")]
    states = [tank_state(vessel, season) for vessel in [*vessels, *pans]]
    return worked_out(day, states, rate=rate_for(day))


def worked_out(day: BoilDay, states: list[TankState], *, rate: Rate) -> DayPlan:
    """The plan for these states of tanks."""
    season = day.season
    hand = tally(states, season)
    sap = tally([*states, _expected(day.expected_ml, season, hand.sugar_brix)], season)
    boil, fuel, missing = None, None, ""
    if not sap.volume_ml or not sap.sugar_brix:
        missing = _("No sap is in the tanks and none is expected yet.")
    elif not day.pan_area_cm2:
        missing = _("The pan’s area is not written down.")
    else:
        pan = Pan(name=day.site or "pan", area_m2=day.pan_area_cm2 / 10_000, rate_l_h_m2=rate.l_h_m2)
        try:
            boil = boil_plan(
                sap_ml=sap.volume_ml,
                sap_brix=sap.sugar_brix,
                pans=[pan],
                syrup_brix=float(season.syrup_brix),
                sap_c=SAP_C,
                shift_h=SHIFT_H,
                ready_h=READY_H,
            )
        except CoreError as refusal:
            missing = refusal.sentence(_)
    if boil and day.fuel in FUELS:
        kind = FUELS[day.fuel]
        fuel = FuelNeed(
            name=str(FUEL_NAMES[day.fuel]),
            amount=fuel_needed(heat_mj=boil.need.heat_mj, fuel=kind),
            unit=kind.unit,
            source=kind.source,
            efficiency=kind.efficiency,
        )
    return DayPlan(hand=hand, sap=sap, expected_ml=day.expected_ml, rate=rate, boil=boil, fuel=fuel, missing=missing)
