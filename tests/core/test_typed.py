"""What people type: both systems, fractions, comma and point, slips."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import CoreError, NotANumber, OutOfRange, TwoReadings, UnknownUnit
from sugarbush.core.typed import (
    parse_length_mm,
    parse_length_um,
    parse_mass_g,
    parse_quantity,
    parse_temperature_c,
    parse_volume_ml,
)
from sugarbush.core.units import Kind, System, shown_volume


@pytest.mark.parametrize(
    ("text", "system", "volume_ml"),
    [
        ("6.5", "metric", 6_500),
        ("6,5", "metric", 6_500),
        ("  6.5  ", "metric", 6_500),
        ("6.5 L", "us", 6_500),
        ("6.5l", "us", 6_500),
        ("6500 mL", "us", 6_500),
        ("1.2 gal", "metric", 4_542),
        ("1 1/2", "us", 5_678),
        ("1½", "us", 5_678),
        ("½ gal", "metric", 1_893),
        ("½", "us", 1_893),
        ("3 qt", "metric", 2_839),
        ("12 fl oz", "metric", 355),
        ("2 gal 1 qt", "metric", 8_517),
        ("0", "metric", 0),
        ("0,500", "metric", 500),
        ("1.234", "metric", 1_234),
        ("1,234.5", "metric", 1_234_500),
        ("1.234,5", "metric", 1_234_500),
        ("1 234,5", "metric", 1_234_500),
        ("1.000.000", "metric", 1_000_000_000),
        (".5", "metric", 500),
        ("5.", "metric", 5_000),
        ("+5", "metric", 5_000),
    ],
)
def test_a_volume_is_read_as_it_was_meant(text: str, system: System, volume_ml: int) -> None:
    assert parse_volume_ml(text, system) == volume_ml


@pytest.mark.parametrize(
    ("text", "system", "length_um"),
    [
        ("18 in", "metric", 457_200),
        ('18"', "metric", 457_200),
        ("18”", "metric", 457_200),
        ("18''", "metric", 457_200),
        ("18", "us", 457_200),
        ("18", "metric", 180_000),
        ("45.7 cm", "us", 457_000),
        ("5/16", "us", 7_938),
        ("7/16 in", "metric", 11_113),
        ("4 ft 6 in", "metric", 1_371_600),
        ("4'6\"", "metric", 1_371_600),
        ("4 ½ ft", "metric", 1_371_600),
        ("1.37 m", "us", 1_370_000),
        ("8 mm", "us", 8_000),
    ],
)
def test_a_length_is_read_as_it_was_meant(text: str, system: System, length_um: int) -> None:
    assert parse_length_um(text, system) == length_um


@pytest.mark.parametrize(
    ("text", "system", "temperature_c"),
    [
        ("28 F", "metric", "-2.2"),
        ("28", "us", "-2.2"),
        ("-5", "metric", "-5.0"),
        ("−5 °C", "us", "-5.0"),
        ("-40 F", "metric", "-40.0"),
        ("3,5°", "metric", "3.5"),
        ("38 ° F", "metric", "3.3"),
        ("100 deg C", "us", "100.0"),
    ],
)
def test_a_temperature_is_read_as_it_was_meant(text: str, system: System, temperature_c: str) -> None:
    assert parse_temperature_c(text, system) == Decimal(temperature_c)


def test_a_mass_is_read_in_pounds_and_ounces_and_in_kilograms() -> None:
    assert parse_mass_g("42", "us") == 19_051
    assert parse_mass_g("6 lb 4 oz", "metric") == 2_835
    assert parse_mass_g("8,2", "metric") == 8_200


@pytest.mark.parametrize(
    "text",
    ["", "   ", "a lot", "6.5.5", "6,5,5", "1/0", "1e5", "nan", "inf", "0x10", "6 5", "L", "6 L 5", "5 5 L",
     "1 L 2 gal", "--5", "6.5 L!", "٣", "5;DROP", "1 1/2/3", "=1+1", "9" * 41],
)  # fmt: skip
def test_what_is_no_volume_is_refused_with_an_example(text: str) -> None:
    with pytest.raises((NotANumber, UnknownUnit)) as refused:
        parse_volume_ml(text, "metric")
    assert refused.value.quantity == "volume"
    assert str(refused.value).startswith("Please look: ")


def test_a_comma_that_can_be_read_in_two_ways_is_asked_about() -> None:
    with pytest.raises(TwoReadings, match=r'"1,234" can be read in two ways\. Type 1234 or 1\.234\.'):
        parse_volume_ml("1,234", "metric")


def test_a_unit_of_another_quantity_is_named() -> None:
    with pytest.raises(UnknownUnit, match='"kg" does not measure a volume here'):
        parse_volume_ml("6.5 kg", "metric")
    with pytest.raises(UnknownUnit, match='"L" does not measure a length here'):
        parse_length_mm("6.5 L", "metric")


def test_a_negative_volume_is_refused_in_the_persons_own_unit() -> None:
    with pytest.raises(OutOfRange, match=r"given as -3 gal\. It has to be from 0 to 264172\.05 gal"):
        parse_volume_ml("-3", "us")


def test_limits_given_by_the_page_are_kept_just_at_them_and_refused_just_past_them() -> None:
    assert parse_volume_ml("8 L", "metric", high_ml=8_000) == 8_000
    with pytest.raises(OutOfRange, match="from 0 to 8 L"):
        parse_volume_ml("8.001 L", "metric", high_ml=8_000)
    assert parse_length_mm("60 cm", "metric", low_mm=600) == 600
    with pytest.raises(OutOfRange, match="from 60 to"):
        parse_length_mm("59.9 cm", "metric", low_mm=600)


@given(st.integers(min_value=0, max_value=1_000_000_000), st.sampled_from(["metric", "us"]))
def test_what_the_page_shows_exactly_can_be_typed_back(volume_ml: int, system: System) -> None:
    text, unit = shown_volume(volume_ml, system, exact=True)
    assert parse_volume_ml(f"{text} {unit}", system) == volume_ml
    assert parse_volume_ml(f"{text}", system) == volume_ml


@given(
    st.text(max_size=60),
    st.sampled_from(["volume", "length", "temperature", "mass"]),
    st.sampled_from(["metric", "us"]),
)
def test_any_text_at_all_gives_a_number_or_a_plain_refusal(text: str, kind: Kind, system: System) -> None:
    read, refused = None, None
    try:
        read = parse_quantity(text, kind=kind, system=system)
    except CoreError as error:
        refused = error
    assert (read is not None and read.is_finite()) or (refused is not None and refused.quantity == kind)


@pytest.mark.parametrize("kind", ["volume", "length", "mass", "temperature"])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_number_as_long_as_can_be_typed_is_out_of_range_and_says_so(kind: Kind, system: System) -> None:
    with pytest.raises(OutOfRange, match="It has to be from"):
        parse_quantity("9" * 40, kind=kind, system=system)
    with pytest.raises(OutOfRange, match="It has to be from"):
        parse_volume_ml("9" * 40, system)
