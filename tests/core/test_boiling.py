"""Boiling points, finishing temperature, heat, hours and fuel."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97

from sugarbush.core import boiling
from sugarbush.core.errors import OutOfRange


def f(celsius: float) -> float:
    return celsius * 1.8 + 32


@pytest.mark.parametrize(
    ("elevation_m", "pressure_pa", "boils_c"),
    [
        # Trade-facts item 5.1 [C]: US Standard Atmosphere 1976 and IAPWS-IF97; tolerance 0.005 C.
        (0, 101_325, 99.974), (100, 100_129.5, 99.642), (250, 98_357.6, 99.144), (300, 97_772.6, 98.977),
        (500, 95_460.9, 98.313), (1000, 89_874.8, 96.649), (1500, 84_556.3, 94.983), (2000, 79_495.5, 93.315),
    ],
)  # fmt: skip
def test_water_boils_sooner_higher_up(elevation_m: float, pressure_pa: float, boils_c: float) -> None:
    standard = boiling.standard_pressure_pa(elevation_m)
    # The table's pressures were made with today's gas constant, the standard with its own of 1976: 0.3 Pa at 2000 m.
    assert standard == pytest.approx(pressure_pa, abs=0.35)
    assert boiling.water_boils_c(standard) == pytest.approx(boils_c, abs=0.001)


@pytest.mark.parametrize(
    ("hpa", "boils_c"),
    [
        # Trade-facts item 5.1, by station pressure; the last four are 28.5, 29.5, 30.0, 30.5 inHg.
        (950, 98.178), (980, 99.042), (1000, 99.606), (1013.25, 99.974), (1030, 100.434),
        (965.12, 98.616), (998.98, 99.578), (1015.92, 100.048), (1032.85, 100.512),
    ],
)  # fmt: skip
def test_water_boils_by_the_barometer(hpa: float, boils_c: float) -> None:
    assert boiling.water_boils_c(hpa * 100) == pytest.approx(boils_c, abs=0.001)


@pytest.mark.parametrize("pressure_pa", [60_000, 80_000, 95_000, 101_325, 110_000])
def test_water_boils_where_the_steam_tables_say(pressure_pa: float) -> None:
    # IAPWS-IF97 by the iapws library.
    reference = IAPWS97(P=pressure_pa / 1e6, x=0).T - 273.15
    assert boiling.water_boils_c(pressure_pa) == pytest.approx(reference, abs=0.001)


@given(st.floats(min_value=60_000, max_value=120_000))
def test_the_boiling_pot_is_a_barometer(pressure_pa: float) -> None:
    assert boiling.pressure_from_boiling_pa(boiling.water_boils_c(pressure_pa)) == pytest.approx(pressure_pa, rel=1e-6)


def test_the_heat_of_steam_is_that_of_the_steam_tables() -> None:
    # 2256.5 kJ/kg at 100 C: IAPWS-IF97 by the iapws library.
    steam, water = IAPWS97(T=373.15, x=1), IAPWS97(T=373.15, x=0)
    assert steam.h - water.h == pytest.approx(boiling.STEAM_KJ_KG, abs=0.1)


def test_a_weather_report_is_brought_up_the_hill() -> None:
    # Trade-facts item 5.1, trap: reports are reduced to sea level.
    at_pan = boiling.station_pressure_pa(reported_hpa=1030, elevation_m=300)
    assert at_pan == pytest.approx(boiling.standard_pressure_pa(300) * 1030 / 1013.25)


@pytest.mark.parametrize(
    ("brix", "above_c", "above_f", "low_pressure_c", "norrish_c"),
    [
        # Trade-facts item 5.2: Starzak and Peacock [R2] at 101325 Pa and 85000 Pa; Norrish k = 5.0. Tolerance 0.005 C.
        (2, 0.030, 0.05, 0.029, 0.030), (10, 0.169, 0.30, 0.164, 0.168), (20, 0.393, 0.71, 0.382, 0.390),
        (30, 0.702, 1.26, 0.682, 0.695), (40, 1.146, 2.06, 1.115, 1.131), (50, 1.823, 3.28, 1.774, 1.797),
        (60, 2.938, 5.29, 2.861, 2.905), (65.5, 3.894, 7.01, 3.794, 3.870), (66.0, 3.999, 7.20, 3.897, 3.977),
        (66.5, 4.108, 7.39, 4.003, 4.088), (66.9, 4.198, 7.56, 4.090, 4.180), (67.0, 4.221, 7.60, 4.113, 4.204),
        (68.0, 4.458, 8.03, 4.345, 4.448), (68.9, 4.687, 8.44, 4.568, 4.684), (70.0, 4.989, 8.98, 4.863, 4.997),
    ],
)  # fmt: skip
def test_sugar_raises_the_boiling_point(
    brix: float, above_c: float, above_f: float, low_pressure_c: float, norrish_c: float
) -> None:
    assert boiling.boils_above_water_c(brix=brix) == pytest.approx(above_c, abs=0.001)
    assert boiling.boils_above_water_c(brix=brix) * 1.8 == pytest.approx(above_f, abs=0.006)
    assert boiling.boils_above_water_c(brix=brix, pressure_pa=85_000) == pytest.approx(low_pressure_c, abs=0.001)
    assert boiling.norrish_above_water_c(brix=brix) == pytest.approx(norrish_c, abs=0.001)


def test_syrup_of_66_brix_finishes_about_71_f_above_water_as_the_trade_prints_it() -> None:
    # 7.1 F: printed chart and extension-derived notes [R2]; allowed 0.2 F.
    assert boiling.boils_above_water_c(brix=66.0) * 1.8 == pytest.approx(7.1, abs=0.2)


@pytest.mark.parametrize(("brix", "printed_c"), [(20, 0.3), (30, 0.6), (40, 1.0), (50, 1.8), (60, 3.0), (70, 5.1)])
def test_the_classical_sugar_handbook_row_is_met_within_a_sixth_of_a_degree(brix: float, printed_c: float) -> None:
    # From memory [M]; trade-facts item 5.2, agreement within 0.15 C.
    assert boiling.boils_above_water_c(brix=brix) == pytest.approx(printed_c, abs=0.15)


@pytest.mark.parametrize(("brix", "freezes_c"), [(10, -0.63), (20, -1.46), (30, -2.64), (40, -4.45)])
def test_the_water_activity_freezes_where_the_handbook_says(brix: float, freezes_c: float) -> None:
    # Handbook freezing points from memory [M]; trade-facts item 5.2, check (i). Ice and water: heat of fusion
    # 6008 J/mol and a heat capacity step of 38.1 J/mol K (ordinary chemistry, from memory).
    from math import log

    t0, t = 273.15, 273.15 + freezes_c
    ideal = -6008 / 8.314462618 * (1 / t - 1 / t0) + 38.1 / 8.314462618 * (t0 / t - 1 - log(t0 / t))
    assert log(boiling.water_activity(brix=brix, temperature_c=freezes_c)) == pytest.approx(ideal, rel=0.025)


@pytest.mark.parametrize(
    ("hpa", "at_66_f", "at_669_f"),
    [
        # Trade-facts item 5.2, finish temperatures [C].
        (1013.25, 219.15, 219.51), (980, 217.44, 217.79), (950, 215.85, 216.21), (900, 213.11, 213.46),
        (850, 210.24, 210.59),
    ],
)  # fmt: skip
def test_syrup_is_finished_at_the_temperature_of_the_day(hpa: float, at_66_f: float, at_669_f: float) -> None:
    assert f(boiling.finished_at_c(pressure_pa=hpa * 100)) == pytest.approx(at_66_f, abs=0.01)
    assert f(boiling.finished_at_c(syrup_brix=66.9, pressure_pa=hpa * 100)) == pytest.approx(at_669_f, abs=0.01)


def test_the_whole_worked_job_finishes_at_2176_f_at_250_m() -> None:
    # Trade-facts item 13, one whole job; tolerance 0.1 F.
    pressure_pa = boiling.standard_pressure_pa(250)
    assert f(boiling.water_boils_c(pressure_pa)) == pytest.approx(210.46, abs=0.01)
    assert f(boiling.finished_at_c(pressure_pa=pressure_pa)) == pytest.approx(217.6, abs=0.1)


def test_water_that_boils_at_991_finishes_at_1031_and_1033() -> None:
    # The programme's own acceptance figure for the draw-off helper.
    assert round(boiling.finished_at_c(water_boils_at_c=99.1), 1) == 103.1
    assert round(boiling.finished_at_c(syrup_brix=66.9, water_boils_at_c=99.1), 1) == 103.3


def test_a_finish_needs_the_pressure_or_the_pot_and_not_both() -> None:
    with pytest.raises(TypeError):
        boiling.finished_at_c()
    with pytest.raises(TypeError):
        boiling.finished_at_c(pressure_pa=101_325, water_boils_at_c=100)


@pytest.mark.parametrize(
    ("sap_l", "brix", "sap_kg", "syrup_l", "water_kg", "heat_mj", "mj_per_l"),
    [
        # Trade-facts item 6 [C], sap at 4 C to 66.0 Brix; tolerance 0.5 %.
        (40, 2.0, 40.32, 0.924, 39.09, 104.3, 112.9), (100, 1.5, 100.59, 1.728, 98.31, 261.9, 151.5),
        (100, 2.0, 100.79, 2.309, 97.74, 260.6, 112.9), (100, 2.5, 100.99, 2.892, 97.17, 259.3, 89.7),
        (200, 2.0, 201.58, 4.618, 195.47, 521.3, 112.9),
    ],
)  # fmt: skip
def test_a_boil_takes_so_much_heat(
    sap_l: float, brix: float, sap_kg: float, syrup_l: float, water_kg: float, heat_mj: float, mj_per_l: float
) -> None:
    need = boiling.boil_need(sap_ml=sap_l * 1000, sap_brix=brix)
    assert need.sap_kg == pytest.approx(sap_kg, abs=0.006)
    assert need.water_kg == pytest.approx(water_kg, abs=0.006)
    assert need.syrup_ml / 1000 == pytest.approx(syrup_l, abs=0.001)
    assert need.heat_mj == pytest.approx(heat_mj, rel=0.005)
    assert need.heat_mj / (need.syrup_ml / 1000) == pytest.approx(mj_per_l, rel=0.005)


def test_a_gallon_of_syrup_from_2_per_cent_sap_takes_about_400000_btu() -> None:
    # OSU Extension, ohiomaple fuel page [R]: 400,000 BTU; ours 405,000 (trade-facts item 6), so within 2 %.
    need = boiling.boil_need(sap_ml=100_000, sap_brix=2, sap_c=(40 - 32) / 1.8)
    btu_per_gallon = need.heat_mj / 1.055056e-3 / (need.syrup_ml / 3785.411784)
    assert btu_per_gallon == pytest.approx(400_000, rel=0.02)


def test_a_hundred_litres_on_eight_square_feet_boil_323_hours_beside_the_heat_up() -> None:
    # Trade-facts item 6 [C]: 0.7432 m2 at 40.75 L/h/m2.
    need = boiling.boil_need(sap_ml=100_000, sap_brix=2)
    hours = boiling.boil_hours(need, pan_area_m2=0.7432, rate_l_h_m2=40.75)
    assert hours.boiling_h == pytest.approx(3.23, abs=0.005)
    assert 0.4 < hours.heat_up_h < 0.7
    assert hours.total_h == hours.boiling_h + hours.heat_up_h


def test_three_hundred_litres_on_06_m2_take_about_twelve_and_a_quarter_hours() -> None:
    # The programme's own acceptance figure for the boil-day plan: about 12 h 15, net of the heat-up.
    need = boiling.boil_need(sap_ml=300_000, sap_brix=2)
    assert boiling.boil_hours(need, pan_area_m2=0.6).boiling_h == pytest.approx(12.25, abs=0.1)


@pytest.mark.parametrize(
    ("fuel", "amount"),
    [("propane_l", 20.4), ("wood_kg", 54.3), ("wood_cord", 0.041), ("natural_gas_m3", 13.5)],
)
def test_a_hundred_litres_take_so_much_fuel(fuel: str, amount: float) -> None:
    # Trade-facts item 6 [C] for 260.6 MJ; heats of the US EIA [R], wood per kg [M]; tolerance 1 %.
    needed = boiling.fuel_needed(heat_mj=260.6, fuel=boiling.FUELS[fuel])
    assert needed == pytest.approx(amount, rel=0.01)


def test_a_cord_of_dry_wood_makes_22_gallons_at_446_per_cent() -> None:
    # OSU Extension [R]: 22 gal syrup per cord; trade-facts item 13, example 3: efficiency 44.6 % at 20 MBTU.
    cords = boiling.fuel_needed(heat_mj=22 * 405_000 * 1.055056e-3, fuel=boiling.WOOD_CORD, efficiency=0.446)
    assert cords == pytest.approx(1.0, rel=0.005)


def test_a_boil_outside_all_reason_is_refused() -> None:
    for act in (
        lambda: boiling.water_boils_c(49_999),
        lambda: boiling.standard_pressure_pa(5_001),
        lambda: boiling.boils_above_water_c(brix=80.1),
        lambda: boiling.boil_need(sap_ml=-1, sap_brix=2),
        lambda: boiling.boil_hours(boiling.boil_need(sap_ml=1, sap_brix=2), pan_area_m2=0),
        lambda: boiling.fuel_needed(heat_mj=1, fuel=boiling.WOOD_KG, efficiency=1.01),
        lambda: boiling.finished_at_c(water_boils_at_c=85.9),
    ):
        with pytest.raises(OutOfRange):
            act()


@given(st.floats(0, 79), st.floats(0.01, 1), st.floats(70_000, 110_000))
def test_more_sugar_boils_hotter(brix: float, more: float, pressure_pa: float) -> None:
    thin = boiling.boils_above_water_c(brix=brix, pressure_pa=pressure_pa)
    assert thin < boiling.boils_above_water_c(brix=brix + more, pressure_pa=pressure_pa)


@given(st.floats(0, 1e6), st.floats(0.1, 12), st.floats(60, 70), st.floats(0, 40))
def test_the_sap_is_the_water_driven_off_and_the_syrup(
    sap_ml: float, sap_brix: float, syrup_brix: float, sap_c: float
) -> None:
    from sugarbush.core.sugar import mass_kg

    need = boiling.boil_need(sap_ml=sap_ml, sap_brix=sap_brix, syrup_brix=syrup_brix, sap_c=sap_c)
    syrup_kg = mass_kg(volume_ml=need.syrup_ml, brix=syrup_brix)
    assert need.water_kg + syrup_kg == pytest.approx(need.sap_kg, rel=1e-9, abs=1e-9)
