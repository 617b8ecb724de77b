"""What is still to go in the pan, the plan of a boil day, and whether taps, store and pan fit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from sugarbush.core import boilplan
from sugarbush.core.boilplan import Pan
from sugarbush.core.errors import OutOfRange
from sugarbush.core.sugar import density_kg_m3

PANS = [Pan(name="Long", area_m2=0.6), Pan(name="Small", area_m2=0.25, rate_l_h_m2=30)]


def test_what_is_still_to_go_ends_at_the_target() -> None:
    # Driven off by scipy's root finder: the water that leaves exactly 66.0 Brix behind.
    left = boilplan.still_to_go(volume_ml=10_000, brix=30, pan_area_m2=0.6)
    held_kg = 10 * density_kg_m3(30) / 1000
    water_kg = brentq(lambda w: 100 * held_kg * 0.30 / (held_kg - w) - 66.0, 0, 9)
    assert left.water_kg == pytest.approx(water_kg, abs=1e-6)
    assert left.boiling_min == pytest.approx(60 * left.water_l / 24)
    # Trade-facts item 6: 2256.5 kJ for each kilogram.
    assert left.steam_mj == pytest.approx(left.water_kg * 2.2565, rel=1e-6)


def test_raw_sap_has_as_far_to_go_as_the_boil_need_says() -> None:
    # Trade-facts item 6 [C]: 100 L of 2.0 Brix at 4 C: 97.74 kg of water, 3.23 h on 0.7432 m2 at 40.75 L/h/m2.
    left = boilplan.still_to_go(volume_ml=100_000, brix=2.0, volume_c=4, pan_area_m2=0.7432, rate_l_h_m2=40.75)
    assert left.water_kg == pytest.approx(97.74, rel=0.005)
    assert left.boiling_min / 60 == pytest.approx(3.23, abs=0.01)
    assert left.syrup_ml == pytest.approx(2_309, abs=1)


def test_syrup_past_the_target_has_nothing_to_go() -> None:
    left = boilplan.still_to_go(volume_ml=5_000, brix=68, pan_area_m2=0.6)
    assert left.thicker
    assert (left.water_kg, left.boiling_min) == (0, 0)
    assert not boilplan.still_to_go(volume_ml=5_000, brix=66, pan_area_m2=0.6).thicker


@given(st.floats(0, 66), st.floats(1, 100_000), st.floats(20, 100))
def test_no_sugar_is_lost_on_the_way(brix: float, volume_ml: float, volume_c: float) -> None:
    left = boilplan.still_to_go(volume_ml=volume_ml, brix=brix, volume_c=volume_c, pan_area_m2=1)
    sugar_g = left.syrup_ml * density_kg_m3(66) * 0.66 / 1000
    assert sugar_g == pytest.approx(volume_ml * density_kg_m3(brix, volume_c) * brix / 1e5, rel=1e-9, abs=1e-9)


def test_a_boil_day_of_300_litres_takes_twelve_and_a_quarter_hours() -> None:
    # The programme's acceptance figure: 300 L on 0.6 m2, about 12 h 15 of boiling.
    plan = boilplan.boil_plan(sap_ml=300_000, sap_brix=2, pans=PANS[:1])
    assert plan.boiling_h == pytest.approx(12.25, abs=0.02)
    assert plan.total_h == pytest.approx(plan.boiling_h + plan.heat_up_h + 1)
    assert plan.shifts * 4 >= plan.total_h > (plan.shifts - 1) * 4
    assert plan.people == 2 * plan.shifts


def test_all_pans_end_together_and_the_sap_is_split_to_the_millilitre() -> None:
    plan = boilplan.boil_plan(sap_ml=100_001, sap_brix=2, pans=PANS)
    assert sum(part.sap_ml for part in plan.parts) == 100_001
    each_h = [part.sap_ml / 1000 / part.pan.litres_an_hour for part in plan.parts]
    assert each_h[0] == pytest.approx(each_h[1], rel=1e-4)
    assert not plan.too_little


def test_too_little_sap_for_the_pans_is_said() -> None:
    # 0.6 m2 hold 30 L at 50 mm.
    assert not boilplan.boil_plan(sap_ml=30_000, sap_brix=2, pans=PANS[:1]).too_little
    assert boilplan.boil_plan(sap_ml=29_999, sap_brix=2, pans=PANS[:1]).too_little


def test_nobody_watches_a_pan_alone() -> None:
    with pytest.raises(OutOfRange, match="people"):
        boilplan.boil_plan(sap_ml=30_000, sap_brix=2, pans=PANS, people_each=1)
    with pytest.raises(OutOfRange, match="pans"):
        boilplan.boil_plan(sap_ml=30_000, sap_brix=2, pans=[])


def test_a_hundred_taps_fill_a_small_store_in_half_a_day() -> None:
    # The programme's acceptance figure: 100 taps, 200 L, 0.6 m2: full in 0.5 day, 65 h for a week of 4 running days.
    plan = boilplan.tap_plan(taps=100, store_l=200, pan_area_m2=0.6, boil_h_week=24)
    assert plan.store_days == 0.5
    assert plan.boil_h_week == pytest.approx(65, abs=0.5)
    assert plan.short_of == "store"


@given(st.integers(0, 500), st.floats(0, 5_000), st.floats(0, 168), st.integers(1, 7))
def test_the_safe_number_of_taps_fits_and_one_more_does_not(
    taps: int, store_l: float, boil_h_week: float, days: int
) -> None:
    def plan(count: int) -> boilplan.TapPlan:
        return boilplan.tap_plan(
            taps=count, store_l=store_l, pan_area_m2=0.6, boil_h_week=boil_h_week, days_between_boils=days
        )

    safe = plan(taps).safe_taps
    assert plan(safe).short_of == ""
    assert plan(safe).boil_h_week <= boil_h_week + 1e-6
    assert plan(safe + 1).short_of in ("store", "boiling")
