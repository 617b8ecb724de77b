"""The panels under the numbers of a boiling day and of the pan: formula, what went in, source, what would change it."""

from __future__ import annotations

from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.boils.models import BoilDay
from sugarbush.boils.pan import Pan, Water
from sugarbush.boils.plan import (
    FILTER_ML,
    READY_H,
    SAP_C,
    SHIFT_H,
    DayPlan,
    area_words,
    fuel_words,
    jar_words,
    rate_words,
    time_words,
)
from sugarbush.boils.tally import Tally
from sugarbush.parts.shown import in_words
from sugarbush.parts.worked import Working, working


def _brix(value: float) -> str:
    return in_words("brix", Decimal(str(round(value, 2))), "metric", exact=True)


def _temperature(value: float, units: str) -> str:
    return in_words("temperature", Decimal(str(round(value, 1))), units)


def assumed_note(sap: Tally, units: str) -> list[str]:
    """What was not measured and had to be taken as something."""
    if not sap.unmeasured_ml:
        return []
    words = _("%(volume)s of it was not measured and is taken as %(brix)s.")
    return [
        words % {"volume": in_words("volume", sap.unmeasured_ml, units), "brix": _brix(sap.sugar_brix or 0)},
    ]


def plan_panels(day: BoilDay, plan: DayPlan, units: str) -> dict[str, Working]:
    """Hours, syrup, fuel and what to have on hand, by the number's name."""
    found = {}
    sap = plan.sap
    if sap.syrup_ml and sap.sugar_brix:
        found["syrup"] = working(
            "syrup.syrup_from_sugar_ml",
            "syrup.sap_per_syrup",
            "sugar.pool",
            of=_("syrup to expect"),
            units=units,
            rows=[
                (_("sap, all together"), in_words("volume", sap.volume_ml, units)),
                (_("its sugar, pooled by mass"), _brix(sap.sugar_brix)),
                (_("sugar in it"), in_words("mass", sap.sugar_g, units, exact=True)),
                (_("syrup finished at"), _brix(sap.syrup_brix)),
            ],
            sums=[f"{sap.sugar_kg:.3f} kg ÷ {sap.syrup_brix:.1f} % = {in_words('volume', sap.syrup_ml, units)}"],
            notes=[*assumed_note(sap, units), _("No loss is counted: filter, foam and pan keep some.")],
        )
    boil = plan.boil
    if boil is None or not day.pan_area_cm2:
        return found
    water = in_words("volume", round(boil.need.water_kg / 0.998203 * 1000), units)
    found["hours"] = working(
        "boiling.boil_hours",
        "boiling.boil_need",
        of=_("hours"),
        units=units,
        rows=[
            (_("water to drive off"), water),
            (_("pan"), area_words(day.pan_area_cm2, units)),
            (_("it drives off"), f"{rate_words(plan.rate.l_h_m2, units)}: {plan.rate.said}"),
            (_("sap goes in at"), _temperature(SAP_C, units)),
        ],
        sums=[
            (
                f"{water} ÷ ({rate_words(plan.rate.l_h_m2, units)} × {area_words(day.pan_area_cm2, units)})"
                f" = {time_words(boil.boiling_h)}"
            ),
            _("heat-up at the same fire: %(time)s") % {"time": time_words(boil.heat_up_h)},
        ],
        notes=[_("Wind, wet fuel and cold sap poured in make it longer.")],
    )
    if plan.fuel:
        heat, share = boil.need.heat_mj, plan.fuel.efficiency
        found["fuel"] = working(
            "boiling.fuel_needed",
            of=_("fuel"),
            units=units,
            inputs={"heat_mj": f"{boil.need.heat_mj:,.0f}\u00a0MJ", "efficiency": f"{plan.fuel.efficiency:.0%}"},
            rows=[(plan.fuel.name, plan.fuel.source)],
            sums=[(f"{heat:,.0f} MJ ÷ {share:.2f} = {heat / share:,.0f} MJ → {fuel_words(plan.fuel, units)}")],
        )
    found["crew"] = working(
        "boilplan.boil_plan",
        of=_("shifts and people"),
        units=units,
        rows=[
            (_("boiling"), time_words(boil.boiling_h)),
            (_("heat-up"), time_words(boil.heat_up_h)),
            (_("lighting and clearing up"), time_words(READY_H)),
            (_("a shift"), time_words(SHIFT_H)),
            (_("adults at the pan"), str(boil.people_each)),
        ],
        sums=[
            f"{time_words(boil.total_h)} ÷ {time_words(SHIFT_H)} → {boil.shifts} × {boil.people_each} = {boil.people}"
        ],
    )
    found["hand"] = working(
        of=_("jars and filters"),
        units=units,
        rows=[
            (_("syrup to expect"), in_words("volume", plan.syrup_ml, units)),
            (_("a jar holds"), jar_words(units)),
        ],
        sums=[
            (f"{in_words('volume', plan.syrup_ml, units)} ÷ {jar_words(units)} + 10 % → {plan.jars(units)}"),
            _("filters: one for each %(each)s of syrup, and one more → %(n)d")
            % {"each": in_words("volume", FILTER_ML, units), "n": plan.filters},
        ],
        words=_("Worked out backwards from the syrup to expect, with some to spare."),
        source=_("what programmes keep ready; no study was found"),
        tag="common practice",
    )
    return found


def water_panel(water: Water, day: BoilDay, units: str) -> Working:
    """When to draw off, from today's boiling water."""
    boils, finish = _temperature(water.boils_c, units), _temperature(water.finish_c, units)
    step = in_words("temperature_step", Decimal(str(round(water.finish_c - water.boils_c, 1))), units)
    if water.measured_at is not None:
        at = timezone.localtime(water.measured_at)
        origin = _("measured at %(time)s") % {"time": f"{at:%H:%M}"}
        where = ["boiling.finished_at_c", "boiling.boils_above_water_c"]
        note = _("Measured with the same thermometer, its own fault falls out.")
    else:
        origin = _("by the height above the sea, in standard air; nobody has boiled water today")
        where = ["boiling.finished_at_c", "boiling.boils_above_water_c", "boiling.standard_pressure_pa"]
        note = _("Weather moves it by a degree or two: boil some water and write it down.")
    return working(
        *where,
        of=_("draw off at"),
        units=units,
        inputs={"syrup_brix": water.syrup_brix, "water_boils_at_c": f"{boils}, {origin}"},
        sums=[f"{boils} + {step} = {finish}"],
        notes=[note, _("The thermometer finds the moment to look. Density decides.")],
    )


def to_go_panel(pan: Pan, day: BoilDay, units: str) -> Working | None:
    """Litres and minutes still to go."""
    if pan.to_go is None or not day.pan_area_cm2:
        return None
    water = in_words("volume", round(pan.to_go.water_l * 1000), units)
    at = timezone.localtime(pan.as_of)
    basis = {
        "reading": _("by hydrometer or refractometer"),
        "boiling": _("by how far the pan boils above water"),
        "stick": _("by the stick and the sugar put in"),
        "filled": _("as the pan was filled: nobody has logged a reading"),
    }[pan.brix_basis]
    held = in_words("volume", round(pan.volume_ml), units)
    stick = _("by the stick") if pan.volume_basis == "stick" else _("by the sugar put in")
    return working(
        "boilplan.still_to_go",
        of=_("still to go"),
        units=units,
        inputs={
            "volume_ml": f"{held}, {stick}",
            "brix": f"{_brix(pan.brix_now)}, {basis}, {at:%H:%M}",
            "volume_c": _temperature(20.0, units),
            "pan_area_m2": area_words(day.pan_area_cm2, units),
            "syrup_brix": pan.water.syrup_brix,
            "rate_l_h_m2": f"{rate_words(pan.rate.l_h_m2, units)}: {pan.rate.said}",
        },
        sums=[
            (
                f"{water} ÷ ({rate_words(pan.rate.l_h_m2, units)} × {area_words(day.pan_area_cm2, units)})"
                f" = {time_words(pan.to_go.boiling_min / 60)}"
            )
        ],
        notes=[_("Counted from that moment on, at a steady fire.")],
    )
