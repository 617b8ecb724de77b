"""Sap to syrup."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import sugar, syrup
from sugarbush.core.errors import OutOfRange

TABLE = [
    # Trade-facts item 4.2: sap Brix, rules 86 / 87.1 / 88.2 [R2], exact ratio at 65.5, 66.0, 66.9 [C], tol 0.002.
    (1.0, 86.000, 87.100, 88.200, 86.256, 87.115, 88.673), (1.25, 68.800, 69.680, 70.560, 68.938, 69.625, 70.869),
    (1.5, 57.333, 58.067, 58.800, 57.392, 57.965, 59.001), (1.75, 49.143, 49.771, 50.400, 49.146, 49.636, 50.523),
    (2.0, 43.000, 43.550, 44.100, 42.961, 43.389, 44.165), (2.25, 38.222, 38.711, 39.200, 38.150, 38.531, 39.219),
    (2.5, 34.400, 34.840, 35.280, 34.302, 34.644, 35.263), (2.75, 31.273, 31.673, 32.073, 31.153, 31.464, 32.026),
    (3.0, 28.667, 29.033, 29.400, 28.529, 28.814, 29.329), (3.5, 24.571, 24.886, 25.200, 24.406, 24.649, 25.090),
    (4.0, 21.500, 21.775, 22.050, 21.314, 21.526, 21.911),
]  # fmt: skip


@pytest.mark.parametrize("row", TABLE)
def test_so_much_sap_makes_one_of_syrup(row: tuple[float, ...]) -> None:
    sap_brix, by_86, by_87, by_88, *exact = row
    rules = [rule.ratio(sap_brix) for rule in syrup.SHORT_RULES]
    assert rules == pytest.approx([by_86, by_87, by_88], abs=0.0006)
    ratios = [syrup.sap_per_syrup(sap_brix=sap_brix, syrup_brix=finish) for finish in (65.5, 66.0, 66.9)]
    assert ratios == pytest.approx(exact, abs=0.002)


@pytest.mark.parametrize(
    ("sap_brix", "litres_66", "litres_669"),
    [(1.5, 0.690, 0.678), (2.0, 0.922, 0.906), (2.5, 1.155, 1.134), (3.0, 1.388, 1.364)],
)
def test_forty_litres_of_sap_make_about_a_litre_of_syrup(sap_brix: float, litres_66: float, litres_669: float) -> None:
    # Trade-facts item 4.2 [C], tolerance 0.001 L.
    assert syrup.syrup_ml(sap_ml=40_000, sap_brix=sap_brix) / 1000 == pytest.approx(litres_66, abs=0.001)
    thick = syrup.syrup_ml(sap_ml=40_000, sap_brix=sap_brix, syrup_brix=66.9)
    assert thick / 1000 == pytest.approx(litres_669, abs=0.001)


def test_the_rule_of_86_agrees_with_the_printed_examples() -> None:
    # UNH Extension as quoted by a farming magazine [R2]: 43, 34.4, 28.7 gal at 2, 2.5, 3 %.
    assert [round(syrup.RULE_OF_86.ratio(brix), 1) for brix in (2, 2.5, 3)] == [43.0, 34.4, 28.7]


def test_the_rule_of_86_is_for_655_brix_and_within_06_per_cent_of_the_balance() -> None:
    # Worked example 1 of trade-facts item 13.
    for sap_brix in (2, 2.5, 3):
        exact = syrup.sap_per_syrup(sap_brix=sap_brix, syrup_brix=syrup.RULE_OF_86.syrup_brix)
        assert syrup.RULE_OF_86.ratio(sap_brix) == pytest.approx(exact, rel=0.006)


def test_two_hundred_litres_at_22_brix_make_507_or_499_litres() -> None:
    # The programme's own acceptance figure for the draw-off helper.
    assert syrup.syrup_ml(sap_ml=200_000, sap_brix=2.2) / 1000 == pytest.approx(5.07, abs=0.005)
    assert syrup.syrup_ml(sap_ml=200_000, sap_brix=2.2, syrup_brix=66.9) / 1000 == pytest.approx(4.99, abs=0.005)


def test_the_whole_worked_job_gives_0973_litres() -> None:
    # Trade-facts item 13, one whole job [C], tolerance 0.002 L; ratio 41.10.
    state = sugar.pool([(12_000, 1.8), (8_000, 2.6), (20_000, 2.1)])
    assert syrup.syrup_from_sugar_ml(sugar_kg=state.sugar_kg) / 1000 == pytest.approx(0.973, abs=0.002)
    assert state.sugar_brix is not None
    assert syrup.sap_per_syrup(sap_brix=state.sugar_brix) == pytest.approx(41.10, abs=0.01)


def test_sap_measured_cold_makes_a_little_more_syrup() -> None:
    # Item 4.2: at 4 C, 2 Brix, 66.0 the ratio is 43.305; item 6: 100 L give 2.309 L.
    assert 100_000 / syrup.syrup_ml(sap_ml=100_000, sap_brix=2, sap_c=4) == pytest.approx(43.305, abs=0.002)
    assert syrup.syrup_ml(sap_ml=100_000, sap_brix=2, sap_c=4) == pytest.approx(2_309, abs=1)


def test_reverse_osmosis_from_21_to_46_brix_leaves_45_per_cent_of_the_volume() -> None:
    # OSU Mansfield, February 2024 [R], worked example 10 of trade-facts item 13.
    assert syrup.concentrate_left(sap_brix=2.1, concentrate_brix=4.6) == pytest.approx(0.452, abs=0.0005)


def test_a_short_rule_is_not_used_on_concentrate() -> None:
    assert syrup.RULE_OF_86.ratio(12) == pytest.approx(7.17, abs=0.005)  # the exact value is 6.95
    assert syrup.sap_per_syrup(sap_brix=12) == pytest.approx(6.95, abs=0.005)
    with pytest.raises(OutOfRange):
        syrup.RULE_OF_86.ratio(12.01)


@pytest.mark.parametrize(("sap_brix", "syrup_brix"), [(-0.1, 66), (66.1, 66), (2, 49.9), (2, 85.1)])
def test_sap_that_cannot_become_this_syrup_is_refused(sap_brix: float, syrup_brix: float) -> None:
    with pytest.raises(OutOfRange):
        syrup.syrup_ml(sap_ml=1000, sap_brix=sap_brix, syrup_brix=syrup_brix)


def test_water_makes_no_syrup() -> None:
    assert syrup.syrup_ml(sap_ml=40_000, sap_brix=0) == 0


@given(st.integers(0, 10_000_000), st.floats(0, 12), st.floats(60, 70))
def test_the_syrup_holds_the_sugar_of_the_sap(sap_ml: int, sap_brix: float, syrup_brix: float) -> None:
    made_ml = syrup.syrup_ml(sap_ml=sap_ml, sap_brix=sap_brix, syrup_brix=syrup_brix)
    before = sugar.sugar_kg(volume_ml=sap_ml, brix=sap_brix)
    assert sugar.sugar_kg(volume_ml=made_ml, brix=syrup_brix) == pytest.approx(before, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("light", "name"),
    [
        # Trade-facts item 7: limits of 1 NYCRR 270.1(b) and Wisconsin DATCP table 1 [R].
        ("100", "golden"), ("75.0", "golden"), ("74.95", "golden"), ("74.94", "amber"), ("74.9", "amber"),
        ("50.0", "amber"), ("49.9", "dark"), ("25.0", "dark"), ("24.9", "very dark"), ("0", "very dark"),
    ],
)  # fmt: skip
def test_syrup_has_the_colour_class_of_the_light_it_lets_through(light: str, name: str) -> None:
    assert syrup.colour_class(Decimal(light)) == name


@pytest.mark.parametrize(
    ("brix", "us", "vermont"),
    [("65.9", False, False), ("66.0", True, False), ("66.9", True, True), ("68.9", True, True), ("69.0", False, False)],
)
def test_syrup_passes_by_its_density(brix: str, us: bool, vermont: bool) -> None:
    # Trade-facts item 7, check: US standards, Vermont by UVM Extension [R].
    assert syrup.density_in_range(Decimal(brix)) is us
    assert syrup.density_in_range(Decimal(brix), least_brix=Decimal("66.9")) is vermont
