"""When water boils today, when syrup is finished, and the heat, hours and fuel that takes.

A thermometer finds the moment to look, no more: one Brix near the finish is worth about 0.4 °F (0.2 °C). A batch
passes by its density. Boil outdoors only: carbon monoxide kills; hot syrup burns worse than water.
"""

from dataclasses import dataclass
from math import exp, log, sqrt

from sugarbush.core.errors import check_range
from sugarbush.core.sugar import mass_kg, water_density_kg_m3
from sugarbush.core.syrup import LEAST_SYRUP_BRIX, syrup_ml

STANDARD_PRESSURE_PA = 101_325.0
ZERO_C_IN_K = 273.15

# IAPWS-IF97, region 4: the line between water and steam.
_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip

# Starzak and Peacock, water activity of sucrose solutions.
_Q_J_MOL, _A, _B = -17_638.0, -1.0038, -0.24653
_GAS_J_MOL_K = 8.314462618
_SUCROSE_G_MOL, _WATER_G_MOL = 342.30, 18.015

STEAM_KJ_KG = 2256.5  # heat of evaporation at 100 °C, iapws library [C]
# A flat pan drives off about 1 US gal per hour and square foot = 40.7 L/h/m2, farming magazine [R]; rounded down.
FLAT_PAN_L_H_M2 = 40.0


def standard_pressure_pa(elevation_m: float) -> float:
    """Air pressure of the standard atmosphere at a height above the sea.

    elevation_m: -500 to 5,000.  Raises OutOfRange.
    Source: US Standard Atmosphere 1976, lower layer; compared with the fluids library [C].

    >>> round(standard_pressure_pa(250))
    98358
    """
    check_range(elevation_m, low=-500, high=5_000, quantity="elevation", unit="m")
    return float(STANDARD_PRESSURE_PA * (1 - 0.0065 * elevation_m / 288.15) ** 5.25588)


def station_pressure_pa(*, reported_hpa: float, elevation_m: float) -> float:
    """Pressure at the pan from a weather report, which is reduced to sea level.

    reported_hpa: 850 to 1,100.  elevation_m: -500 to 5,000.  Raises OutOfRange.
    Source: standard pressure at the elevation, scaled by the report [C].

    >>> round(station_pressure_pa(reported_hpa=1013.25, elevation_m=250))
    98358
    """
    check_range(reported_hpa, low=850, high=1_100, quantity="pressure", unit="hPa")
    return standard_pressure_pa(elevation_m) * reported_hpa * 100 / STANDARD_PRESSURE_PA


def water_boils_c(pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Boiling point of water.

    pressure_pa: at the pan, 50,000 to 200,000.  Raises OutOfRange.
    Source: IAPWS-IF97 region 4, backward equation; identical with the iapws library to 0.001 °C [C].

    >>> round(water_boils_c(), 3)
    99.974
    """
    check_range(pressure_pa, low=50_000, high=200_000, quantity="pressure", unit="Pa")
    beta = sqrt(sqrt(pressure_pa / 1e6))
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - sqrt(f * f - 4 * e * g))
    return (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2 - ZERO_C_IN_K


def pressure_from_boiling_pa(water_boils_at_c: float) -> float:
    """Air pressure on a day when water boils at this temperature: a pot of water is the best barometer.

    water_boils_at_c: 82 to 120 °C.  Raises OutOfRange.
    Source: IAPWS-IF97 region 4, basic equation.

    >>> round(pressure_from_boiling_pa(99.974) / 100, 1)
    1013.2
    """
    check_range(water_boils_at_c, low=82, high=120, quantity="temperature", unit="°C")
    kelvin = water_boils_at_c + ZERO_C_IN_K
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return float((2 * c / (-b + sqrt(b * b - 4 * a * c))) ** 4 * 1e6)


def water_activity(*, brix: float, temperature_c: float) -> float:
    """How much less readily water leaves a sugar solution than plain water, 0 to 1.

    brix: 0 to 80.  temperature_c: -10 to 130 °C.  Raises OutOfRange.
    Source: Starzak and Peacock; constants read in the abstract [R2], the form from memory [M], checked against
    handbook freezing points and the trade's finishing temperatures [C].

    >>> round(water_activity(brix=66, temperature_c=104), 4)
    0.8685
    """
    check_range(brix, low=0, high=80, quantity="sugar", unit="Brix")
    check_range(temperature_c, low=-10, high=130, quantity="temperature", unit="°C")
    sugar_mol = brix / _SUCROSE_G_MOL
    x = sugar_mol / (sugar_mol + (100 - brix) / _WATER_G_MOL)
    log_gamma = _Q_J_MOL / (_GAS_J_MOL_K * (temperature_c + ZERO_C_IN_K)) * (1 + _A * x + _B * x * x) * x * x
    return (1 - x) * exp(log_gamma)


def boils_above_water_c(*, brix: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """How far above the boiling point of water a sugar solution boils.

    brix: 0 to 80.  pressure_pa: at the pan, 60,000 to 120,000.  Raises OutOfRange.
    Source: water activity after Starzak and Peacock, see water_activity; the printed trade figure for 66.0 Brix is
    7.1 °F [R2], this gives 7.20 °F.

    >>> round(boils_above_water_c(brix=66.0), 2), round(boils_above_water_c(brix=66.9), 2)
    (4.0, 4.2)
    """
    check_range(pressure_pa, low=60_000, high=120_000, quantity="pressure", unit="Pa")
    water_c = solution_c = water_boils_c(pressure_pa)
    for _ in range(6):  # three rounds settle it; the rest cost nothing
        solution_c = water_boils_c(pressure_pa / water_activity(brix=brix, temperature_c=solution_c))
    return solution_c - water_c


def finished_at_c(
    *, syrup_brix: float = LEAST_SYRUP_BRIX, pressure_pa: float | None = None, water_boils_at_c: float | None = None
) -> float:
    """The thermometer reading at which to draw off and measure density.

    syrup_brix: 50 to 80.  Give one: pressure_pa at the pan (60,000 to 120,000), or what the thermometer showed in
    boiling water this morning (86 to 104 °C), which cancels the thermometer's own fault.
    Raises OutOfRange, TypeError when both or neither are given.  Source: as boils_above_water_c.

    >>> round(finished_at_c(water_boils_at_c=99.1), 1), round(finished_at_c(syrup_brix=66.9, water_boils_at_c=99.1), 1)
    (103.1, 103.3)
    """
    if (pressure_pa is None) == (water_boils_at_c is None):
        raise TypeError("finished_at_c: give pressure_pa or water_boils_at_c")
    check_range(syrup_brix, low=50, high=80, quantity="sugar of the syrup", unit="Brix")
    if water_boils_at_c is not None:
        check_range(water_boils_at_c, low=86, high=104, quantity="temperature", unit="°C")
        pressure = pressure_from_boiling_pa(water_boils_at_c)
        return water_boils_at_c + boils_above_water_c(brix=syrup_brix, pressure_pa=pressure)
    assert pressure_pa is not None  # noqa: S101 - told to the type checker; the first line refuses the rest
    return water_boils_c(pressure_pa) + boils_above_water_c(brix=syrup_brix, pressure_pa=pressure_pa)


def heat_capacity_kj_kg_k(*, brix: float, temperature_c: float) -> float:
    """Heat to warm a kilogram of pure sugar solution by one degree.

    brix: 0 to 85.  temperature_c: 0 to 130 °C.  Raises OutOfRange.
    Source: sugar technologists' formula, from memory [M].

    >>> round(heat_capacity_kj_kg_k(brix=2, temperature_c=4), 3)
    4.137
    """
    check_range(brix, low=0, high=85, quantity="sugar", unit="Brix")
    check_range(temperature_c, low=0, high=130, quantity="temperature", unit="°C")
    purity_pct = 100
    return 4.1868 - 0.0297 * brix + 4.6e-5 * brix * purity_pct + 7.5e-5 * brix * temperature_c


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilNeed:
    """What one boil takes. Masses in kg, heat in MJ that must reach the sap, syrup in mL at 20 °C (not rounded)."""

    sap_kg: float
    water_kg: float
    syrup_ml: float
    heat_up_mj: float
    steam_mj: float

    @property
    def heat_mj(self) -> float:
        """All the heat that must reach the sap."""
        return self.heat_up_mj + self.steam_mj


def boil_need(
    *,
    sap_ml: float,
    sap_brix: float,
    syrup_brix: float = LEAST_SYRUP_BRIX,
    sap_c: float = 4.0,
    boil_c: float = 100.0,
) -> BoilNeed:
    """Water to drive off and heat to do it, nothing lost.

    sap_ml: 0 or more, measured at sap_c (0 to 99 °C).  sap_brix: 0 to syrup_brix.  syrup_brix: 50 to 85.
    boil_c: 80 to 105.  Raises OutOfRange.
    Source: heat balance [C]; with it a US gallon of 66 Brix syrup from 2 % sap takes 405,000 BTU, OSU Extension says
    400,000 [R].

    >>> need = boil_need(sap_ml=100_000, sap_brix=2)
    >>> round(need.sap_kg, 2), round(need.water_kg, 2), round(need.heat_mj, 1)
    (100.79, 97.74, 260.6)
    """
    check_range(sap_c, low=0, high=99, quantity="temperature", unit="°C")
    check_range(boil_c, low=80, high=105, quantity="temperature", unit="°C")
    made_ml = syrup_ml(sap_ml=sap_ml, sap_brix=sap_brix, syrup_brix=syrup_brix, sap_c=sap_c)
    sap_kg = mass_kg(volume_ml=sap_ml, brix=sap_brix, temperature_c=sap_c)
    water_kg = sap_kg * (1 - sap_brix / syrup_brix)
    capacity = heat_capacity_kj_kg_k(brix=sap_brix, temperature_c=(sap_c + boil_c) / 2)
    return BoilNeed(
        sap_kg=sap_kg,
        water_kg=water_kg,
        syrup_ml=made_ml,
        heat_up_mj=sap_kg * capacity * (boil_c - sap_c) / 1000,
        steam_mj=water_kg * STEAM_KJ_KG / 1000,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilHours:
    """Hours of a boil: driving water off, and bringing the sap to the boil, which stands on a line of its own."""

    boiling_h: float
    heat_up_h: float

    @property
    def total_h(self) -> float:
        """Both together, from lighting to the last draw-off."""
        return self.boiling_h + self.heat_up_h


def boil_hours(need: BoilNeed, *, pan_area_m2: float, rate_l_h_m2: float = FLAT_PAN_L_H_M2) -> BoilHours:
    """Hours over the fire for a boil.

    pan_area_m2: wetted pan, 0.01 to 100.  rate_l_h_m2: water driven off, 1 to 500; a flat pan about 40.
    Heat-up counts the fire as strong as it is while boiling. The water's litres are those at 20 °C.
    Raises OutOfRange.  Source: rate, farming magazine [R]; heat balance [C].

    >>> hours = boil_hours(boil_need(sap_ml=300_000, sap_brix=2, sap_c=4), pan_area_m2=0.6)
    >>> round(hours.boiling_h, 2), round(hours.heat_up_h, 1)
    (12.24, 2.2)
    """
    check_range(pan_area_m2, low=0.01, high=100, quantity="area", unit="m²")
    check_range(rate_l_h_m2, low=1, high=500, quantity="rate", unit="L/h/m²")
    litres_an_hour = pan_area_m2 * rate_l_h_m2
    water_kg_l = water_density_kg_m3(20) / 1000
    fire_mj_h = litres_an_hour * water_kg_l * STEAM_KJ_KG / 1000
    return BoilHours(
        boiling_h=need.water_kg / water_kg_l / litres_an_hour,
        heat_up_h=need.heat_up_mj / fire_mj_h,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """A fuel: heat in one unit of it, and the share of that heat a street boil brings into the sap."""

    key: str
    unit: str
    mj_per_unit: float
    efficiency: float
    source: str
    tag: str


WOOD_KG = Fuel(
    key="wood_kg", unit="kg", mj_per_unit=16.0, efficiency=0.30, source="air-dry wood, common figure", tag="M"
)
WOOD_CORD = Fuel(
    key="wood_cord", unit="cord", mj_per_unit=21_101.0, efficiency=0.30,
    source="US Energy Information Administration, units and calculators, 20 million BTU a cord", tag="R",
)  # fmt: skip
PROPANE_L = Fuel(
    key="propane_l", unit="L", mj_per_unit=25.49, efficiency=0.50,
    source="US Energy Information Administration, 2019, 91,452 BTU a US gallon", tag="R",
)  # fmt: skip
NATURAL_GAS_M3 = Fuel(
    key="natural_gas_m3", unit="m³", mj_per_unit=38.6, efficiency=0.50,
    source="US Energy Information Administration, 2021, 1,036 BTU a cubic foot", tag="R",
)  # fmt: skip
FUELS = {fuel.key: fuel for fuel in (WOOD_KG, WOOD_CORD, PROPANE_L, NATURAL_GAS_M3)}


def fuel_needed(*, heat_mj: float, fuel: Fuel, efficiency: float | None = None) -> float:
    """Fuel for this heat, in the fuel's unit.

    heat_mj: what must reach the sap, 0 or more.  efficiency: 0.05 to 1, instead of the fuel's usual share.
    Raises OutOfRange.  Source: the fuel's heat as said there; efficiencies of a street boil assumed low [M].

    >>> round(fuel_needed(heat_mj=260.6, fuel=PROPANE_L), 1), round(fuel_needed(heat_mj=260.6, fuel=WOOD_KG), 1)
    (20.4, 54.3)
    """
    check_range(heat_mj, low=0, high=float("inf"), quantity="heat", unit="MJ")
    share = fuel.efficiency if efficiency is None else efficiency
    check_range(share, low=0.05, high=1, quantity="efficiency", unit="")
    return heat_mj / share / fuel.mj_per_unit


def norrish_above_water_c(*, brix: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """The short form beside boils_above_water_c: Norrish's equation with k = 5.0, 0 to 70 Brix.

    brix: 0 to 70.  pressure_pa: 60,000 to 120,000.  Raises OutOfRange.
    Source: Norrish form [M], k adjusted to a printed chart and within 0.034 °C of the published equation [C].

    >>> round(norrish_above_water_c(brix=66), 2)
    3.98
    """
    check_range(brix, low=0, high=70, quantity="sugar", unit="Brix")
    check_range(pressure_pa, low=60_000, high=120_000, quantity="pressure", unit="Pa")
    molality = brix / 342.2965 / ((100 - brix) / 1000)
    x = molality / (molality + 55.508)
    activity = exp(log(1 - x) - 5.0 * x * x)
    return water_boils_c(pressure_pa / activity) - water_boils_c(pressure_pa)
