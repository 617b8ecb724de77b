"""Trunk size and tap allowance."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import trunk
from sugarbush.core.errors import Missing, OutOfRange, TooLoose
from sugarbush.core.units import from_um, to_um

SIZES_UM = st.integers(min_value=1, max_value=9_999_999)


@pytest.mark.parametrize(
    ("girth_cm", "diameter_cm", "diameter_in"),
    [
        # Trade-facts item 1.1, d = girth / pi [C], tolerance 0.01.
        ("78.5", 24.99, 9.84), ("79.8", 25.40, 10.00), ("95.8", 30.49, 12.01), ("100", 31.83, 12.53),
        ("119.7", 38.10, 15.00), ("143.6", 45.71, 18.00), ("199.5", 63.50, 25.00),
    ],
)  # fmt: skip
def test_a_girth_becomes_a_diameter(girth_cm: str, diameter_cm: float, diameter_in: float) -> None:
    diameter_um = trunk.diameter_from_girth_um(to_um(Decimal(girth_cm), "cm"))
    assert float(from_um(diameter_um, "cm")) == pytest.approx(diameter_cm, abs=0.01)
    assert float(from_um(diameter_um, "in")) == pytest.approx(diameter_in, abs=0.01)


@pytest.mark.parametrize(
    ("diameter_in", "girth_cm"), [(10, 79.80), (12, 95.76), (15, 119.69), (18, 143.63), (20, 159.59), (25, 199.49)]
)
def test_a_limit_in_inches_has_its_girth_in_centimetres(diameter_in: int, girth_cm: float) -> None:
    # Exact girths at thresholds, trade-facts item 1.1 [C].
    girth_um = trunk.girth_from_diameter_um(diameter_in * 25_400)
    assert float(from_um(girth_um, "cm")) == pytest.approx(girth_cm, abs=0.005)


def test_a_girth_of_1436_mm_stays_below_18_inches_though_it_reads_as_18() -> None:
    # Trade-facts 1.1 edge rule: 143.6 cm round is 17.996 in.
    diameter_um = trunk.diameter_from_girth_um(1_436_000)
    assert trunk.allowed_taps(diameter_um) == 1


def test_a_girth_of_141_cm_reads_as_449_cm_across() -> None:
    # The programme's own acceptance figure for adding a tree.
    assert round(from_um(trunk.size_as_diameter_um(1_410_000, "round"), "cm"), 1) == Decimal("44.9")


def test_a_size_given_across_is_judged_as_given() -> None:
    assert trunk.size_as_diameter_um(457_200, "across") == 457_200


@pytest.mark.parametrize(
    ("inches", "conservative", "traditional"),
    [
        # Trade-facts item 1.2, check values, exact; traditional: OSU Extension F-36-02 [R].
        ("9.9", 0, 0), ("10.0", 0, 1), ("12.0", 1, 1), ("14.9", 1, 1), ("15.0", 1, 1), ("15.99", 1, 1),
        ("16.0", 1, 2), ("17.99", 1, 2), ("18.0", 2, 2), ("20.0", 2, 2), ("20.99", 2, 2), ("21.0", 2, 3),
        ("25.0", 2, 3), ("25.01", 2, 4), ("26", 2, 4),
    ],
)  # fmt: skip
def test_a_trunk_carries_the_taps_of_the_published_tables(inches: str, conservative: int, traditional: int) -> None:
    diameter_um = to_um(Decimal(inches), "in")
    assert trunk.allowed_taps(diameter_um) == conservative
    assert trunk.TRADITIONAL.taps(diameter_um) == traditional


@pytest.mark.parametrize(
    ("diameter_um", "taps"),
    [(304_799, 0), (304_800, 1), (304_801, 1), (457_199, 1), (457_200, 2), (457_201, 2), (9_999_999, 2)],
)
def test_the_conservative_limits_hold_to_the_micrometre(diameter_um: int, taps: int) -> None:
    assert trunk.allowed_taps(diameter_um, trunk.CONSERVATIVE) == taps


@pytest.mark.parametrize(
    ("table", "inches", "taps"),
    [
        # Each published table just below and at its steps, trade-facts item 1.2.
        (trunk.MICHIGAN, "9.99", 0), (trunk.MICHIGAN, "10", 1), (trunk.MICHIGAN, "16", 2), (trunk.MICHIGAN, "40", 2),
        (trunk.SHIGO, "17.9", 1), (trunk.SHIGO, "18", 2), (trunk.SHIGO, "23", 3),
        (trunk.FEDERAL_PERMIT, "11.9", 0), (trunk.FEDERAL_PERMIT, "12", 1), (trunk.FEDERAL_PERMIT, "18.9", 1),
        (trunk.FEDERAL_PERMIT, "19", 2), (trunk.CORNELL_HOME, "17.9", 1), (trunk.CORNELL_HOME, "18", 2),
        (trunk.MAINE, "19.9", 1), (trunk.MAINE, "20", 2), (trunk.ONTARIO, "11.8", 0), (trunk.ONTARIO, "11.9", 1),
    ],
)  # fmt: skip
def test_the_tables_shown_for_comparison_are_as_printed(table: trunk.PublishedTable, inches: str, taps: int) -> None:
    assert table.taps(to_um(Decimal(inches), "in")) == taps


def test_only_tables_read_at_their_publisher_count_as_checked() -> None:
    assert [table.name for table in trunk.COMPARISON_TABLES if table.checked] == [
        "Traditional", "Michigan", "Shigo's tree dictionary",
    ]  # fmt: skip


@pytest.mark.parametrize(("first_um", "second_um"), [(304_799, 457_200), (304_800, 457_199), (254_000, None)])
def test_a_guideline_looser_than_the_conservative_one_is_refused(first_um: int, second_um: int | None) -> None:
    with pytest.raises(TooLoose, match="never less"):
        trunk.stricter_guideline(name="Loose", first_um=first_um, second_um=second_um)


def test_a_guideline_with_a_second_tap_before_the_first_is_refused() -> None:
    with pytest.raises(TooLoose):
        trunk.stricter_guideline(name="Upside down", first_um=600_000, second_um=500_000)


def test_no_guideline_allows_three_taps() -> None:
    with pytest.raises(OutOfRange):
        trunk.Guideline(name="Three", thresholds_um=(304_800, 457_200, 600_000), source="", tag="M")
    with pytest.raises(OutOfRange):
        trunk.Guideline(name="Three", thresholds_um=(304_800, 457_200), source="", tag="M", most=3)


def test_a_programme_that_raises_the_second_size_to_50_cm_leaves_a_47_cm_tree_one_tap() -> None:
    # The programme's acceptance figure for changing the rule.
    own = trunk.stricter_guideline(name="Quillhaven", first_um=304_800, second_um=500_000)
    assert trunk.allowed_taps(470_000) == 2
    assert trunk.allowed_taps(470_000, own) == 1


def test_a_programme_may_stop_at_one_tap() -> None:
    own = trunk.stricter_guideline(name="One", first_um=304_800)
    assert trunk.allowed_taps(9_000_000, own) == 1


def test_of_several_stems_the_largest_single_one_judges() -> None:
    # Three stems of 25 cm would be 75 cm added up, and two taps; alone none reaches 30.5 cm.
    assert trunk.allowed_taps(trunk.judged_diameter_um([250_000, 250_000, 250_000])) == 0
    assert trunk.allowed_taps(trunk.judged_diameter_um([250_000, 460_000])) == 2


def test_a_tree_without_a_measured_stem_has_no_size() -> None:
    with pytest.raises(Missing, match="not measured yet"):
        trunk.judged_diameter_um([])


@pytest.mark.parametrize("diameter_um", [0, -1, 10_000_000])
def test_a_trunk_of_no_possible_size_is_refused(diameter_um: int) -> None:
    with pytest.raises(OutOfRange):
        trunk.allowed_taps(diameter_um)


@given(SIZES_UM, SIZES_UM)
def test_more_girth_never_means_fewer_taps(one_um: int, other_um: int) -> None:
    thin, thick = sorted((one_um, other_um))
    assert trunk.allowed_taps(thin) <= trunk.allowed_taps(thick)
    for table in trunk.COMPARISON_TABLES:
        assert table.taps(thin) <= table.taps(thick)


@given(SIZES_UM, st.integers(304_800, 2_000_000), st.integers(0, 2_000_000))
def test_a_stricter_guideline_never_allows_more(diameter_um: int, first_um: int, more_um: int) -> None:
    own = trunk.stricter_guideline(name="Own", first_um=first_um, second_um=max(457_200, first_um) + more_um)
    assert trunk.allowed_taps(diameter_um, own) <= trunk.allowed_taps(diameter_um)


@given(st.integers(min_value=1, max_value=9_999_999))
def test_a_diameter_comes_back_from_its_girth(diameter_um: int) -> None:
    assert trunk.diameter_from_girth_um(trunk.girth_from_diameter_um(diameter_um)) == diameter_um


@given(st.integers(min_value=4, max_value=31_000_000))
def test_a_longer_tape_never_means_a_thinner_trunk(girth_um: int) -> None:
    assert trunk.diameter_from_girth_um(girth_um) <= trunk.diameter_from_girth_um(girth_um + 1)
