"""Units: exact factors, one rounding, what people type."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import units
from sugarbush.core.errors import OutOfRange, UnknownUnit
from sugarbush.core.units import System


def test_five_us_gallons_are_18927_ml_and_read_as_1893_l_and_500_gal() -> None:
    # The programme's own acceptance figure; 1 US gal = 231 cubic inches = 3785.411784 mL (NIST Handbook 44, [M]).
    stored = units.to_ml(Decimal(5), "gal")
    assert stored == 18_927
    assert units.shown_volume(stored, "metric") == ("18.93", "L")
    assert units.shown_volume(stored, "us") == ("5.00", "gal")


def test_a_us_gallon_is_231_cubic_inches() -> None:
    # Definition of the US liquid gallon, NIST Handbook 44, appendix C [M].
    assert units.ML_PER["gal"] == 231 * Decimal("2.54") ** 3
    assert units.ML_PER["qt"] * 4 == units.ML_PER["gal"]
    assert units.ML_PER["pt"] * 8 == units.ML_PER["gal"]
    assert units.ML_PER["fl oz"] * 128 == units.ML_PER["gal"]
    assert units.G_PER["oz"] * 16 == units.G_PER["lb"]
    assert units.MM_PER["in"] * 12 == units.MM_PER["ft"]


@pytest.mark.parametrize(
    ("volume_ml", "system", "exact", "text"),
    [
        (0, "metric", False, "0.00"),
        (4, "metric", False, "0.00"),
        (5, "metric", False, "0.01"),  # half up
        (-4, "metric", False, "0.00"),  # never "-0.00"
        (-1500, "metric", False, "-1.50"),
        (475_000_000, "metric", False, "475000.00"),  # a city's season, no mark between thousands
        (18_920, "metric", True, "18.920"),
        (1, "metric", True, "0.001"),
        (1, "us", True, "0.0003"),
        # 1 US gal is 3785.41 mL and kept as 3785: it reads as it was typed, its neighbours as what they are.
        (3_785, "us", True, "1.00"),
        (3_786, "us", True, "1.0002"),
        (5_678, "us", True, "1.50"),
    ],
)
def test_a_volume_reads_with_its_decimals_kept(volume_ml: int, system: System, exact: bool, text: str) -> None:
    assert units.shown_volume(volume_ml, system, exact=exact)[0] == text


def test_the_conservative_limits_read_as_305_and_457_cm_and_as_whole_inches() -> None:
    # Trade table of the conservative guideline: 12 in (30.5 cm), 18 in (45.7 cm).
    assert units.shown_diameter(304_800, "metric") == ("30.5", "cm")
    assert units.shown_diameter(457_200, "metric") == ("45.7", "cm")
    assert units.shown_diameter(304_800, "us") == ("12.0", "in")
    assert units.shown_diameter(457_200, "us") == ("18.0", "in")


def test_a_trunk_just_under_a_limit_can_be_told_from_one_at_it() -> None:
    assert units.shown_diameter(457_199, "metric", exact=True) == ("45.7199", "cm")
    assert units.shown_diameter(457_199, "us", exact=True) != units.shown_diameter(457_200, "us", exact=True)


@pytest.mark.parametrize(
    ("bit_um", "us", "metric"),
    [
        # 5/16 in is today's bit, 7/16 in the old one (UVM Extension slides [R]); 19/64 in (trade press [R2]).
        (7_938, "5/16", "7.9"),
        (11_113, "7/16", "11.1"),
        (7_541, "19/64", "7.5"),
        (8_000, "0.315", "8.0"),
        (25_400, "1", "25.4"),
        (38_100, "1 1/2", "38.1"),
    ],
)
def test_a_bit_reads_as_the_fraction_printed_on_it(bit_um: int, us: str, metric: str) -> None:
    assert units.shown_bit(bit_um, "us") == (us, "in")
    assert units.shown_bit(bit_um, "metric") == (metric, "mm")


def test_38_f_is_33_c_and_water_boils_at_212_f() -> None:
    # 38 F = 3.333 C: trade-facts item 8, exact.
    assert round(units.to_c(Decimal(38), "°F"), 3) == Decimal("3.333")
    assert units.shown_temperature(Decimal(100), "us") == ("212.0", "°F")
    assert units.shown_temperature(Decimal("-40"), "us") == ("-40.0", "°F")
    # Whole degrees Fahrenheit come back as they were typed, whatever tenth of a degree Celsius they were kept as.
    for typed_f in range(-100, 390):
        kept = round(units.to_c(Decimal(typed_f), "°F"), 1)
        assert units.shown_temperature(kept, "us") == (f"{typed_f}.0", "°F")
    assert units.shown_jar(355, "us") == ("12.0", "fl oz")  # 12 x 29.5735 mL, by definition of the US gallon
    assert units.shown_temperature_step(Decimal("3.999"), "us") == ("7.2", "°F")  # 66 Brix above boiling water


def test_five_gallons_of_sap_weigh_about_42_pounds() -> None:
    # 18.93 L x 1.006 = 19.04 kg = 41.98 lb: trade-facts item 11 [C].
    assert units.shown_mass(19_040, "us") == ("42.0", "lb")


@pytest.mark.parametrize("value", ["-0.001", "1000000.001", "NaN", "Infinity", "1E+400"])
def test_a_volume_out_of_all_reason_is_refused_and_named(value: str) -> None:
    with pytest.raises(OutOfRange, match="volume is given as") as refused:
        units.to_ml(Decimal(value), "L")
    assert refused.value.quantity == "volume"
    assert str(refused.value.value) == value


def test_the_largest_volume_itself_is_taken() -> None:
    assert units.to_ml(Decimal(1_000_000), "L") == 1_000_000_000
    assert units.to_ml(Decimal(units.shown_volume(1_000_000_000, "us", exact=True)[0]), "gal") == 1_000_000_000


def test_a_unit_of_another_quantity_is_refused_and_the_right_ones_are_named() -> None:
    with pytest.raises(UnknownUnit, match=r'"kg" does not measure a volume here\. Use one of: L, mL, gal'):
        units.to_ml(Decimal(1), "kg")
    with pytest.raises(UnknownUnit):
        units.from_c(Decimal(1), "K")


def test_the_coldest_and_hottest_temperatures_are_taken_and_the_next_are_not() -> None:
    assert units.to_c(Decimal(-80), "°C") == -80
    assert units.to_c(Decimal(392), "°F") == 200
    with pytest.raises(OutOfRange, match="from -112 to 392 °F"):
        units.to_c(Decimal("392.1"), "°F")


@given(st.integers(min_value=0, max_value=1_000_000_000), st.sampled_from(["L", "mL", "gal", "qt", "pt", "fl oz"]))
def test_a_volume_comes_back_to_the_millilitre_from_every_unit(volume_ml: int, unit: str) -> None:
    assert units.to_ml(units.from_ml(volume_ml, unit), unit) == volume_ml


@given(st.integers(min_value=0, max_value=1_000_000_000), st.sampled_from(["metric", "us"]))
def test_the_exact_text_of_a_volume_gives_the_same_millilitres_back(volume_ml: int, system: System) -> None:
    text, unit = units.shown_volume(volume_ml, system, exact=True)
    assert units.to_ml(Decimal(text), unit) == volume_ml


@given(st.integers(min_value=0, max_value=9_999_999), st.sampled_from(["metric", "us"]))
def test_the_exact_text_of_a_trunk_gives_the_same_micrometres_back(diameter_um: int, system: System) -> None:
    text, unit = units.shown_diameter(diameter_um, system, exact=True)
    assert units.to_um(Decimal(text), unit) == diameter_um


@given(st.integers(min_value=0, max_value=1_000_000), st.sampled_from(["metric", "us"]))
def test_the_exact_text_of_a_height_gives_the_same_millimetres_back(length_mm: int, system: System) -> None:
    text, unit = units.shown_length(length_mm, system, exact=True)
    assert units.to_mm(Decimal(text), unit) == length_mm


@given(st.integers(min_value=0, max_value=1_000_000_000), st.sampled_from(["kg", "g", "lb", "oz"]))
def test_a_mass_comes_back_to_the_gram_from_every_unit(mass_g: int, unit: str) -> None:
    assert units.to_g(units.from_g(mass_g, unit), unit) == mass_g


@given(st.integers(min_value=-800, max_value=2000))
def test_a_temperature_stored_in_tenths_comes_back_from_fahrenheit(tenths: int) -> None:
    stored = Decimal(tenths) / 10
    assert round(units.to_c(units.from_c(stored, "°F"), "°F"), 1) == stored


@given(st.integers(0, 100_000))
def test_gallons_typed_to_two_places_read_back_as_typed(hundredths: int) -> None:
    typed = Decimal(hundredths) / 100
    text, _unit = units.shown_volume(units.to_ml(typed, "gal"), "us", exact=True)
    assert text == f"{typed:.2f}"
