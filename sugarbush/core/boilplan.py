"""A boil while it runs, and a plan before it: what is still to go, which pans, how many people, how many taps.

Boil outdoors only: carbon monoxide kills. Hot syrup sticks and burns worse than water. Two adults at the pan at all
times, and never leave the fire. Local fire rules come first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from sugarbush.core.boiling import FLAT_PAN_L_H_M2, STEAM_KJ_KG, BoilNeed, boil_hours, boil_need
from sugarbush.core.errors import OutOfRange, check_range
from sugarbush.core.sugar import mass_kg, water_density_kg_m3
from sugarbush.core.syrup import LEAST_SYRUP_BRIX, syrup_from_sugar_ml

LITRES_PER_TAP_DAY = 4.0  # about 1 US gal per tap on a running day, several growers [R2], rounded up
RUNNING_DAYS_A_WEEK = 4  # 3 to 5 running days a week, as quoted [R2]
LEAST_ADULTS = 2  # at the pan at all times, common practice [M]
SHIFT_H = 4.0  # common practice [M]
PAN_DEPTH_MM = 50.0  # usual depth of liquid in a flat pan, common practice [M]


@dataclass(frozen=True, slots=True, kw_only=True)
class StillToGo:
    """What is left of a boil, at the pan's rate.

    water_kg: to drive off.  water_l: the same as litres at 20 °C.  syrup_ml: what will come, at 20 °C, not rounded.
    boiling_min: minutes at a steady rate, sap at the boil.  steam_mj: heat still to reach the pan.
    thicker: whether it is already thicker than the target (then all of this is 0: draw off, thin with sap).
    """

    water_kg: float
    water_l: float
    syrup_ml: float
    boiling_min: float
    steam_mj: float
    thicker: bool


def still_to_go(
    *,
    volume_ml: float,
    brix: float,
    volume_c: float = 20.0,
    pan_area_m2: float,
    syrup_brix: float = LEAST_SYRUP_BRIX,
    rate_l_h_m2: float = FLAT_PAN_L_H_M2,
) -> StillToGo:
    """Evaporation still to go, from what is in the pan now and its reading.

    volume_ml: 0 or more, measured with the liquid at volume_c (0 to 100 °C: a dipstick in the boiling pan is 100).
    brix: true sugar now, corrected, 0 to 80.  syrup_brix: 50 to 80.  pan_area_m2: wetted, 0.01 to 100.
    rate_l_h_m2: water driven off, 1 to 500; best measured on this very pan.  Raises OutOfRange.
    Error: the volume's own share, and near the end 1 Brix of reading is 1.5 % of what is in the pan.
    Source: sugar balance [C]; rate of a flat pan, farming magazine [R].

    >>> left = still_to_go(volume_ml=10_000, brix=30, pan_area_m2=0.6)
    >>> round(left.water_kg, 2), round(left.syrup_ml), round(left.boiling_min)
    (6.15, 3873, 15)
    """
    check_range(syrup_brix, low=50, high=80, quantity="sugar of the syrup", unit="Brix")
    check_range(brix, low=0, high=80, quantity="sugar", unit="Brix")
    check_range(pan_area_m2, low=0.01, high=100, quantity="area", unit="m²")
    check_range(rate_l_h_m2, low=1, high=500, quantity="rate", unit="L/h/m²")
    held_kg = mass_kg(volume_ml=volume_ml, brix=brix, temperature_c=volume_c)
    water_kg = max(0.0, held_kg * (1 - brix / syrup_brix))
    water_l = water_kg * 1000 / water_density_kg_m3(20)
    return StillToGo(
        water_kg=water_kg,
        water_l=water_l,
        syrup_ml=syrup_from_sugar_ml(sugar_kg=held_kg * brix / 100, syrup_brix=syrup_brix),
        boiling_min=water_l / (rate_l_h_m2 * pan_area_m2) * 60,
        steam_mj=water_kg * STEAM_KJ_KG / 1000,
        thicker=brix > syrup_brix,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pan:
    """A pan: its name, wetted area (0.01 to 100 m²) and what it drives off (1 to 500 L/h/m²).  Raises OutOfRange."""

    name: str
    area_m2: float
    rate_l_h_m2: float = FLAT_PAN_L_H_M2

    def __post_init__(self) -> None:
        check_range(self.area_m2, low=0.01, high=100, quantity="area", unit="m²")
        check_range(self.rate_l_h_m2, low=1, high=500, quantity="rate", unit="L/h/m²")

    @property
    def litres_an_hour(self) -> float:
        """Water driven off in an hour."""
        return self.area_m2 * self.rate_l_h_m2


@dataclass(frozen=True, slots=True, kw_only=True)
class PanPart:
    """One pan's part of a boil: sap that falls to it in mL (whole), and the litres it holds at the usual depth."""

    pan: Pan
    sap_ml: int
    holds_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilPlan:
    """A boil day laid out.

    need: water, heat, syrup.  boiling_h, heat_up_h: all pans at work together.  total_h: with making ready and
    clearing up.  parts: the sap split so that all pans end together; the sum is the sap, to the millilitre.
    shifts, people_each: at the pan.  people: different people if nobody does two shifts.
    too_little: less sap than covers the pans at the usual depth, so that they may burn: take fewer pans.
    """

    need: BoilNeed
    boiling_h: float
    heat_up_h: float
    total_h: float
    parts: tuple[PanPart, ...]
    shifts: int
    people_each: int
    people: int
    too_little: bool


def boil_plan(
    *,
    sap_ml: int,
    sap_brix: float,
    pans: Sequence[Pan],
    syrup_brix: float = LEAST_SYRUP_BRIX,
    sap_c: float = 4.0,
    shift_h: float = SHIFT_H,
    ready_h: float = 1.0,
    people_each: int = LEAST_ADULTS,
) -> BoilPlan:
    """Hours, the sap of each pan, and the people for one boil day.

    sap_ml: 1 or more.  sap_brix: 0 to syrup_brix.  pans: one or more.  syrup_brix, sap_c: as boil_need.
    shift_h: 1 to 12.  ready_h: lighting, clearing up, 0 to 12.  people_each: adults at the pan, 2 to 50.
    Raises OutOfRange.
    Source: heat and sugar balance [C]; rate [R]; two adults a shift, depth and shift length common practice [M].

    >>> plan = boil_plan(sap_ml=300_000, sap_brix=2, pans=[Pan(name="Long pan", area_m2=0.6)])
    >>> round(plan.boiling_h, 2), round(plan.total_h, 1), plan.shifts, plan.people
    (12.24, 15.5, 4, 8)
    """
    check_range(sap_ml, low=1, high=float("inf"), quantity="volume", unit="mL")
    check_range(shift_h, low=1, high=12, quantity="time", unit="h")
    check_range(ready_h, low=0, high=12, quantity="time", unit="h")
    check_range(people_each, low=LEAST_ADULTS, high=50, quantity="people", unit="people")
    if not pans:
        raise OutOfRange(quantity="pans", value=0, low=1, high="any", unit="pans")
    need = boil_need(sap_ml=sap_ml, sap_brix=sap_brix, syrup_brix=syrup_brix, sap_c=sap_c)
    rates = [pan.litres_an_hour for pan in pans]
    area_m2 = sum(pan.area_m2 for pan in pans)
    hours = boil_hours(need, pan_area_m2=area_m2, rate_l_h_m2=sum(rates) / area_m2)
    total_h = hours.total_h + ready_h
    shifts = ceil(total_h / shift_h - 1e-9)
    parts = tuple(
        PanPart(pan=pan, sap_ml=part_ml, holds_l=pan.area_m2 * PAN_DEPTH_MM)
        for pan, part_ml in zip(pans, _split(sap_ml, rates), strict=True)
    )
    return BoilPlan(
        need=need,
        boiling_h=hours.boiling_h,
        heat_up_h=hours.heat_up_h,
        total_h=total_h,
        parts=parts,
        shifts=shifts,
        people_each=people_each,
        people=shifts * people_each,
        too_little=any(part.sap_ml < part.holds_l * 1000 for part in parts),
    )


def _split(whole_ml: int, rates: Sequence[float]) -> list[int]:
    """Cut a volume in proportion, the cuts rounded where they fall, so that the parts add up."""
    reached, cuts = 0.0, [0]
    for rate in rates:
        reached += rate
        cuts.append(round(whole_ml * reached / sum(rates)))
    return [after - before for before, after in pairwise(cuts)]


@dataclass(frozen=True, slots=True, kw_only=True)
class TapPlan:
    """Whether taps, store and pan fit together, at an average run.

    sap_day_l: on a running day.  store_days: running days until the store is full.  boil_h_week: over the fire in
    a week of running days.  safe_taps: taps whose sap both the store and the boiling hours can take.
    short_of: "store" or "boiling" where the taps are more than that, the tighter one; "" where they fit.
    """

    sap_day_l: float
    store_days: float
    boil_h_week: float
    safe_taps: int
    short_of: str


def tap_plan(
    *,
    taps: int,
    store_l: float,
    pan_area_m2: float,
    boil_h_week: float,
    days_between_boils: int = 2,
    litres_per_tap_day: float = LITRES_PER_TAP_DAY,
    running_days: int = RUNNING_DAYS_A_WEEK,
    sap_brix: float = 2.0,
    rate_l_h_m2: float = FLAT_PAN_L_H_M2,
) -> TapPlan:
    """How taps, store and boiling hours fit, and a number of taps that is safe.

    taps: 0 to 100,000.  store_l: cold store, 0 to 1,000,000.  pan_area_m2: 0.01 to 100.
    boil_h_week: hours over the fire people can give, 0 to 168.  days_between_boils: running days the store must
    hold, 1 to 7.  litres_per_tap_day: 0.1 to 40, the programme's own where it has one.  running_days: a week, 1 to 7.
    sap_brix: above 0, at most 12.  rate_l_h_m2: 1 to 500.  Raises OutOfRange.
    Error: the average hides the big day; 74 % of sap came on 20 % of the days in one study, iForest 17:323-330 [R].
    Source: litres and running days as quoted by growers [R2]; sugar balance [C]. Heat-up is not counted.

    >>> plan = tap_plan(taps=100, store_l=200, pan_area_m2=0.6, boil_h_week=24)
    >>> plan.store_days, round(plan.boil_h_week), plan.safe_taps, plan.short_of
    (0.5, 65, 25, 'store')
    """
    check_range(taps, low=0, high=100_000, quantity="taps", unit="taps")
    check_range(store_l, low=0, high=1_000_000, quantity="volume", unit="L")
    check_range(boil_h_week, low=0, high=168, quantity="time", unit="h")
    check_range(days_between_boils, low=1, high=7, quantity="time", unit="days")
    check_range(litres_per_tap_day, low=0.1, high=40, quantity="volume", unit="L")
    check_range(running_days, low=1, high=7, quantity="time", unit="days")
    check_range(sap_brix, low=0.01, high=12, quantity="sugar of the sap", unit="Brix")
    tap_week_ml = litres_per_tap_day * running_days * 1000
    per_tap_h = boil_hours(
        boil_need(sap_ml=tap_week_ml, sap_brix=sap_brix), pan_area_m2=pan_area_m2, rate_l_h_m2=rate_l_h_m2
    ).boiling_h
    store_taps = int(store_l / (litres_per_tap_day * days_between_boils) + 1e-9)
    boil_taps = int(boil_h_week / per_tap_h + 1e-9)
    safe_taps = min(store_taps, boil_taps)
    tighter = "store" if store_taps <= boil_taps else "boiling"
    day_l = taps * litres_per_tap_day
    return TapPlan(
        sap_day_l=day_l,
        store_days=store_l / day_l if day_l else float("inf"),
        boil_h_week=taps * per_tap_h,
        safe_taps=safe_taps,
        short_of=tighter if taps > safe_taps else "",
    )
