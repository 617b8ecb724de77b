"""Wood lost against wood grown: trade-facts item 10. The bulk counts of the urban tree database are not tested here."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from sugarbush.core import wounding
from sugarbush.core.errors import OutOfRange
from sugarbush.core.taphole import hole_volume_cm3

INCH_MM = 25.4
CM3_PER_IN3 = 2.54**3
CM2_PER_IN2 = 2.54**2
HOLE_CM3 = hole_volume_cm3(bit_um=7_937.5, depth_mm=1.5 * INCH_MM)  # 5/16 x 1.5 in: 0.1150 in3
BAND_MM = 24 * INCH_MM


def zone_in3(diameter_in: float, band_in: float) -> float:
    zone_cm3 = wounding.zone_volume_cm3(
        diameter_mm=diameter_in * INCH_MM, depth_mm=1.5 * INCH_MM, band_mm=band_in * INCH_MM
    )
    return zone_cm3 / CM3_PER_IN3


def dead_pct(diameter_in: float, growth_in2: float, taps: int, times: float) -> float:
    ring_mm = wounding.ring_from_area_mm(diameter_mm=diameter_in * INCH_MM, area_growth_cm2=growth_in2 * CM2_PER_IN2)
    return 100 * wounding.dead_share(
        diameter_mm=diameter_in * INCH_MM, ring_mm=ring_mm, hole_cm3=HOLE_CM3, taps=taps, band_mm=BAND_MM, times=times
    )


@pytest.mark.parametrize(("diameter_in", "band_in", "in3"), [(12, 24, 1187.5), (18, 24, 1866.1), (12, 60, 2968.8)])
def test_the_drill_reaches_so_much_wood(diameter_in: float, band_in: float, in3: float) -> None:
    # Trade-facts item 10 [C]; tolerance 0.1 in3.
    assert zone_in3(diameter_in, band_in) == pytest.approx(in3, abs=0.1)


@pytest.mark.parametrize(("times", "pct"), [(50, 0.484), (75, 0.727)])
def test_one_hole_takes_half_a_per_cent_of_the_zone(times: float, pct: float) -> None:
    # Trade-facts item 10 [C], 12 in trunk; tolerance 0.002.
    column_in3 = wounding.column_volume_cm3(hole_cm3=HOLE_CM3, times=times) / CM3_PER_IN3
    assert 100 * column_in3 / zone_in3(12, 24) == pytest.approx(pct, abs=0.002)


@pytest.mark.parametrize(
    ("diameter_in", "growth_in2", "ring_mm"),
    [
        # Trade-facts item 10 [C]; growths of Forest Science 62(1):107-114 [R]; tolerance 0.01 mm.
        (10, 1.4, 1.14), (10, 1.8, 1.46), (18, 2.6, 1.17), (18, 3.5, 1.58),
    ],
)  # fmt: skip
def test_a_ring_is_as_wide_as_the_face_grew(diameter_in: float, growth_in2: float, ring_mm: float) -> None:
    found = wounding.ring_from_area_mm(diameter_mm=diameter_in * INCH_MM, area_growth_cm2=growth_in2 * CM2_PER_IN2)
    assert found == pytest.approx(ring_mm, abs=0.01)


@pytest.mark.parametrize(
    ("diameter_in", "growth_in2", "taps", "times", "pct"),
    [
        # Trade-facts item 10 [C]; tolerance 0.1.
        (10, 1.4, 1, 50, 10.3), (18, 2.6, 2, 50, 10.3), (10, 1.8, 1, 50, 8.1), (18, 3.5, 2, 50, 7.8),
        (10, 1.4, 1, 75, 15.5), (18, 2.6, 2, 75, 15.5),
    ],
)  # fmt: skip
def test_the_share_of_dead_wood_settles(
    diameter_in: float, growth_in2: float, taps: int, times: float, pct: float
) -> None:
    assert dead_pct(diameter_in, growth_in2, taps, times) == pytest.approx(pct, abs=0.1)


@given(st.floats(0.4, 40), st.floats(250, 1_000), st.integers(1, 4))
def test_the_share_is_what_a_tree_followed_ring_by_ring_comes_to(ring_mm: float, diameter_mm: float, taps: int) -> None:
    # Followed year by year: each column keeps the part that still lies within the drill's reach.
    zone = wounding.zone_volume_cm3(diameter_mm=diameter_mm)
    columns: list[float] = []
    dead = 0.0
    for _ in range(int(wounding.DEPTH_MM / ring_mm) + 2):
        columns = [max(0.0, part - ring_mm / wounding.DEPTH_MM) for part in columns] + [1.0]
        dead = taps * wounding.column_volume_cm3(hole_cm3=HOLE_CM3) * sum(columns)
    share = wounding.dead_share(diameter_mm=diameter_mm, ring_mm=ring_mm, hole_cm3=HOLE_CM3, taps=taps)
    assert share == pytest.approx(min(1.0, dead / zone), rel=1e-6)


def test_a_tree_that_does_not_grow_is_used_up_and_one_without_taps_is_not() -> None:
    assert wounding.dead_share(diameter_mm=400, ring_mm=0, hole_cm3=HOLE_CM3, taps=1) == 1
    assert wounding.dead_share(diameter_mm=400, ring_mm=0, hole_cm3=HOLE_CM3, taps=0) == 0


@given(st.floats(250, 1_000), st.floats(0, 20))
def test_face_and_ring_lead_back_to_each_other(diameter_mm: float, ring_mm: float) -> None:
    face_cm2 = wounding.area_growth_cm2(diameter_mm=diameter_mm, ring_mm=ring_mm)
    back_mm = wounding.ring_from_area_mm(diameter_mm=diameter_mm, area_growth_cm2=face_cm2)
    assert back_mm == pytest.approx(ring_mm, abs=1e-6)


def test_the_ring_is_where_an_outside_solver_finds_it() -> None:
    # scipy's root finder on the area of the ring.
    face_cm2 = 16.77
    root_mm = brentq(lambda w: pi / 4 * (457.2**2 - (457.2 - 2 * w) ** 2) / 100 - face_cm2, 0, 100)
    assert wounding.ring_from_area_mm(diameter_mm=457.2, area_growth_cm2=face_cm2) == pytest.approx(root_mm, abs=1e-9)


def test_two_girths_give_the_ring_and_its_error() -> None:
    # Trade-facts item 10: girth growth of 7.2 mm a year is the limit; 1.4 mm of error is 20 % of it after one year,
    # 10 % after two.
    one = wounding.ring_growth(first_girth_mm=1_000, second_girth_mm=1_007.2, years=1)
    two = wounding.ring_growth(first_girth_mm=1_000, second_girth_mm=1_014.4, years=2)
    assert one.ring_mm == pytest.approx(1.15, abs=0.005)
    assert one.error_mm * 2 * pi == pytest.approx(1.4, abs=0.02)
    assert one.error_mm / wounding.LEAST_RING_MM == pytest.approx(0.20, abs=0.005)
    assert two.error_mm / wounding.LEAST_RING_MM == pytest.approx(0.10, abs=0.005)
    assert (one.long_enough, two.long_enough) == (False, True)


@pytest.mark.parametrize(
    ("grown_mm", "years", "advice"),
    [
        # The limit is 1.15 mm of ring = 14.45 mm of girth in two years; the error there 1.41 mm.
        (13.0, 2, "rest"), (13.1, 2, "look"), (14.45, 2, "look"), (15.8, 2, "look"), (15.9, 2, "sustainable"),
        (1, 1, "look"), (40, 1, "look"), (-1, 2, "rest"), (-1.5, 2, "measure"), (-1.5, 1, "measure"),
    ],
)  # fmt: skip
def test_growth_says_sustainable_only_beyond_its_error(grown_mm: float, years: float, advice: str) -> None:
    growth = wounding.ring_growth(first_girth_mm=1_000, second_girth_mm=1_000 + grown_mm, years=years)
    assert wounding.growth_advice(growth).advice == advice


def test_a_programme_may_ask_for_more_growth_but_not_for_less() -> None:
    growth = wounding.ring_growth(first_girth_mm=1_000, second_girth_mm=1_016, years=2)
    assert wounding.growth_advice(growth, limit_mm=2).advice == "rest"
    with pytest.raises(OutOfRange):
        wounding.growth_advice(growth, limit_mm=1.1)


@pytest.mark.parametrize(
    ("seasons", "closed", "state"),
    [(0, True, "closed"), (2, False, "closing"), (3, False, "slow"), (9, True, "closed"), (9, False, "slow")],
)
def test_a_hole_open_after_three_growing_seasons_is_slow(seasons: int, closed: bool, state: str) -> None:
    # UVM Extension slides; USDA Forest Service Research Note NE-155.
    assert wounding.hole_closure(seasons=seasons, closed=closed) == state


def test_a_hole_deeper_than_the_heart_is_refused() -> None:
    with pytest.raises(OutOfRange, match="depth"):
        wounding.zone_volume_cm3(diameter_mm=70, depth_mm=36)
