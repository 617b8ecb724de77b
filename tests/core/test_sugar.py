"""Density, pooling, the tank followed through its movements."""

import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95

from sugarbush.core import sugar
from sugarbush.core.errors import OutOfRange

BRIX = st.floats(min_value=0, max_value=70)


@pytest.mark.parametrize(
    ("brix", "density", "gravity", "g_per_l"),
    [
        # Trade-facts item 2.2 at 20 C [C], from the ICUMSA SPS-4 form; tolerance 0.001 kg/m3.
        (0, 998.203, 1.00000, 0), (1, 1002.068, 1.00387, 10.021), (2, 1005.961, 1.00777, 20.119),
        (3, 1009.881, 1.01170, 30.296), (5, 1017.805, 1.01964, 50.890), (10, 1038.115, 1.03998, 103.812),
        (20, 1080.977, 1.08292, 216.195), (40, 1176.518, 1.17864, 470.607), (60, 1286.611, 1.28893, 771.967),
        (65.5, 1319.603, 1.32198, 864.340), (66, 1322.662, 1.32504, 872.957), (66.9, 1328.191, 1.33058, 888.560),
        (67, 1328.807, 1.33120, 890.301), (68, 1334.992, 1.33739, 907.794), (68.9, 1340.591, 1.34300, 923.667),
    ],
)  # fmt: skip
def test_sugar_solution_has_the_density_of_the_table(
    brix: float, density: float, gravity: float, g_per_l: float
) -> None:
    assert sugar.density_kg_m3(brix) == pytest.approx(density, abs=0.001)
    assert sugar.density_kg_m3(brix) / sugar.density_kg_m3(0) == pytest.approx(gravity, abs=1e-5)
    assert 1000 * sugar.sugar_kg(volume_ml=1000, brix=brix) == pytest.approx(g_per_l, abs=0.001)


@pytest.mark.parametrize("temperature_c", [0.01, 4, 10, 20, 30, 50, 80])
def test_plain_water_has_the_density_of_the_international_formulation(temperature_c: float) -> None:
    # IAPWS-95 by the iapws library; within 0.006 kg/m3 from 0 to 80 C (trade-facts item 2.1 cross-check a).
    reference = IAPWS95(T=temperature_c + 273.15, P=0.101325).rho
    assert sugar.water_density_kg_m3(temperature_c) == pytest.approx(reference, abs=0.006)


def test_syrup_at_655_brix_weighs_at_least_eleven_pounds_a_gallon() -> None:
    # The 1967 US standard: at least 11 lb/gal at 68 F [R]; trade-facts 2.2 gives 11.0126 lb/US gal.
    pounds = sugar.mass_kg(volume_ml=3785.411784, brix=65.5) / 0.45359237
    assert pounds == pytest.approx(11.0126, abs=0.0001)
    assert pounds >= 11


@pytest.mark.parametrize("brix", [2, 10, 20, 30, 40])
def test_the_old_bureau_of_standards_polynomial_gives_the_brix_back(brix: float) -> None:
    # NBS Circular 440 fit as printed in encyclopaedias, in specific gravity 20/20; cross-check c of item 2.1.
    gravity = sugar.density_kg_m3(brix) / sugar.density_kg_m3(0)
    printed = 182.4601 * gravity**3 - 775.6821 * gravity**2 + 1262.7794 * gravity - 669.5622
    assert printed == pytest.approx(brix, abs=0.021)


def test_cold_sap_is_denser_than_warm_sap_once_past_the_turn_of_water() -> None:
    cold, warm = sugar.density_kg_m3(2, 4), sugar.density_kg_m3(2, 20)
    assert cold > warm
    # Item 4.2: sap measured at 4 C, ratio lower by about 0.2 % than at 20 C.
    assert cold / warm == pytest.approx(1.002, abs=0.0003)


@given(BRIX, st.floats(min_value=0, max_value=100))
def test_brix_comes_back_from_its_density(brix: float, temperature_c: float) -> None:
    density = sugar.density_kg_m3(brix, temperature_c)
    assert sugar.brix_from_density(density, temperature_c) == pytest.approx(brix, abs=1e-7)


@given(BRIX, BRIX)
def test_more_sugar_is_denser(one: float, other: float) -> None:
    thin, thick = sorted((one, other))
    assert sugar.density_kg_m3(thin) <= sugar.density_kg_m3(thick)


@pytest.mark.parametrize(("brix", "temperature_c"), [(-0.01, 20), (85.01, 20), (2, -0.01), (2, 100.01)])
def test_a_solution_outside_the_formula_is_refused(brix: float, temperature_c: float) -> None:
    with pytest.raises(OutOfRange):
        sugar.density_kg_m3(brix, temperature_c)


def test_three_pails_pool_by_mass_and_not_by_volume() -> None:
    # Trade-facts item 2.3 [C], tolerance 0.0005.
    state = sugar.pool([(12_000, 1.8), (8_000, 2.6), (20_000, 2.1)])
    assert state.mass_kg == pytest.approx(40.2557, abs=0.0005)
    assert state.sugar_kg == pytest.approx(0.84952, abs=0.00005)
    assert state.sugar_brix == pytest.approx(2.1103, abs=0.0005)
    assert state.volume_ml == 40_000


def test_sap_nobody_measured_is_counted_apart() -> None:
    state = sugar.pool([(10_000, 2.0), (5_000, None)])
    assert (state.volume_ml, state.unmeasured_ml) == (15_000, 5_000)
    assert state.sugar_brix == pytest.approx(2.0)
    assert state.sugar_kg == pytest.approx(0.20119, abs=0.00001)


def test_sap_nobody_measured_takes_the_sugar_the_caller_assumes() -> None:
    assumed = sugar.pool([(10_000, 2.0), (5_000, None)], assumed_brix=1.4)
    measured = sugar.pool([(10_000, 2.0), (5_000, 1.4)])
    assert assumed.sugar_kg == measured.sugar_kg
    assert (assumed.unmeasured_ml, measured.unmeasured_ml) == (5_000, 0)


def test_readings_kept_as_decimals_pool_like_any_other() -> None:
    assert sugar.pool([(10_000, Decimal("2.00")), (5_000, None)], assumed_brix=Decimal("1.40")) == sugar.pool(
        [(10_000, 2.0), (5_000, None)], assumed_brix=1.4
    )


def test_an_empty_tank_has_no_sugar_reading() -> None:
    assert sugar.pool([]).sugar_brix is None
    assert sugar.fold_tank([(5_000, 2.0), (-5_000, None)]).sugar_brix is None
    assert sugar.fold_tank([(5_000, 2.0), (-5_000, None)]).sugar_kg == 0


def test_no_more_leaves_a_tank_than_it_holds() -> None:
    tank = sugar.TankFold()
    tank.add(10_000, 2.0)
    with pytest.raises(OutOfRange) as refused:
        tank.take(10_001)
    assert refused.value.high == 10_000
    assert tank.state().volume_ml == 10_000


def test_a_part_poured_in_by_mistake_leaves_with_its_own_sugar() -> None:
    tank = sugar.TankFold()
    tank.add(10_000, 2.0)
    tank.add(4_000, 3.0)
    tank.add(1_000, None)
    tank.undo_add(4_000, 3.0)
    tank.undo_add(1_000, None)
    assert tank.state().volume_ml == 10_000
    assert tank.state().unmeasured_ml == 0
    assert tank.state().sugar_brix == pytest.approx(2.0)


def test_ten_thousand_movements_fold_in_less_than_50_ms() -> None:
    moves: list[tuple[int, sugar.Brix | None]] = [(1_000 + n % 7, 1.5 + n % 150 / 100) for n in range(5_000)]
    moves = [move for pair in zip(moves, [(-900, None)] * 5_000, strict=True) for move in pair]
    best = min(_seconds(moves) for _ in range(5))
    assert best < 0.05


def _seconds(moves: list[tuple[int, sugar.Brix | None]]) -> float:
    start = time.perf_counter()
    sugar.fold_tank(moves)
    return time.perf_counter() - start


PARTS = st.lists(st.tuples(st.integers(0, 100_000), BRIX), max_size=30)


@given(PARTS)
def test_sugar_is_conserved_when_sap_is_pooled(parts: list[tuple[int, float]]) -> None:
    apart = sum(sugar.sugar_kg(volume_ml=volume_ml, brix=brix) for volume_ml, brix in parts)
    assert sugar.pool(parts).sugar_kg == pytest.approx(apart, rel=1e-12, abs=1e-12)


@given(PARTS, st.floats(min_value=0, max_value=1))
def test_what_is_drawn_and_what_is_left_hold_the_sugar_there_was(parts: list[tuple[int, float]], share: float) -> None:
    tank = sugar.TankFold()
    for volume_ml, brix in parts:
        tank.add(volume_ml, brix)
    before = tank.state()
    drawn_ml = int(before.volume_ml * share)
    tank.take(drawn_ml)
    after = tank.state()
    assert after.volume_ml + drawn_ml == before.volume_ml
    drawn_sugar = before.sugar_kg * drawn_ml / before.volume_ml if before.volume_ml else 0
    assert after.sugar_kg + drawn_sugar == pytest.approx(before.sugar_kg, rel=1e-9, abs=1e-12)
    if after.sugar_brix is not None and before.sugar_brix is not None:
        assert after.sugar_brix == pytest.approx(before.sugar_brix, rel=1e-9)


@given(PARTS)
def test_the_pooled_sugar_lies_between_the_thinnest_and_the_sweetest(parts: list[tuple[int, float]]) -> None:
    held = [brix for volume_ml, brix in parts if volume_ml]
    pooled = sugar.pool(parts).sugar_brix
    if pooled is None:
        assert not held
    else:
        assert min(held) - 1e-9 <= pooled <= max(held) + 1e-9
