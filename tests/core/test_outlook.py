"""Tomorrow's rating, when a pail runs over, the order in which the species end, and whose figure is used."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import figures, outlook
from sugarbush.core.errors import Missing, OutOfRange


@pytest.mark.parametrize(
    ("low_c", "high_c", "rating"),
    [
        # The programme's acceptance example.
        (-5, 6, "good"), (1, 3, "quiet"),
        # Each limit just short of, at and past it: 0 C (Ouranos), 20 and 30 F, 50 F (UVM slides), 4 C (Houle et al.).
        (0, 6, "quiet"), (-0.1, 6, "some"), (-5, 0, "quiet"), (-5, 0.1, "some"),
        (-10 / 9, 6, "some"), (-1.2, 6, "good"), (-12 / 1.8, 6, "good"), (-6.7, 6, "some"),
        (-5, 4, "some"), (-5, 4.1, "good"), (-5, 9.9, "good"), (-5, 10, "some"),
    ],
)  # fmt: skip
def test_tomorrow_is_rated_at_its_limits(low_c: float, high_c: float, rating: str) -> None:
    assert outlook.run_rating(low_c=low_c, high_c=high_c).rating == rating


def test_the_day_the_utah_study_calls_best_is_rated_good() -> None:
    # Mathews et al. 2024, HortTechnology 34(1):52, abstract: mean 0.5 C, low close to -5 C, high about 6 C.
    assert outlook.run_rating(low_c=-5, high_c=6).rating == "good"


def test_the_reason_names_what_is_missing() -> None:
    assert "No frost" in outlook.run_rating(low_c=1, high_c=3).reason
    assert "stays frozen" in outlook.run_rating(low_c=-8, high_c=-1).reason
    assert "spoils fast" in outlook.run_rating(low_c=-5, high_c=14).reason
    assert outlook.run_rating(low_c=-5, high_c=14).values == {"low_c": -5, "high_c": 14}


@pytest.mark.parametrize(
    ("hourly_c", "hour"),
    [([-4, -1, 0, 0.1], 3), ([1, 2, 3], None), ([2, -1, 3], 2), ([-3, -1, 0], None), ([], None)],
)
def test_the_thaw_begins_when_it_gets_above_zero_after_a_frost(hourly_c: list[float], hour: int | None) -> None:
    assert outlook.thaw_hour(hourly_c) == hour


def test_a_pail_runs_over_when_its_room_is_used_up() -> None:
    assert outlook.hours_to_full(capacity_ml=8_000, held_ml=8_000, ml_an_hour=0) == 0
    assert outlook.hours_to_full(capacity_ml=8_000, held_ml=0, ml_an_hour=0) == float("inf")


@given(st.integers(1, 100_000), st.integers(0, 100_000), st.floats(1, 10_000))
def test_a_fuller_pail_never_runs_over_later(capacity_ml: int, held_ml: int, rate: float) -> None:
    later = outlook.hours_to_full(capacity_ml=capacity_ml, held_ml=held_ml, ml_an_hour=rate)
    assert outlook.hours_to_full(capacity_ml=capacity_ml, held_ml=held_ml + 10, ml_an_hour=rate) <= later


@pytest.mark.parametrize(
    ("degrees", "states"),
    [
        # Trade-facts item 9.2: silver 34, red 44, sugar 54 to 99 [R2]; "near" begins 10 before.
        (23.9, ("ahead", "ahead", "ahead")), (24, ("near", "ahead", "ahead")), (34, ("near", "near", "ahead")),
        (34.1, ("past", "near", "ahead")), (44, ("past", "near", "near")), (99, ("past", "past", "near")),
        (99.1, ("past", "past", "past")),
    ],
)  # fmt: skip
def test_silver_ends_before_red_before_sugar(degrees: float, states: tuple[str, ...]) -> None:
    mixed = ["Acer platanoides", "Acer saccharum", "Acer saccharinum", "Acer rubrum", "Acer saccharum"]
    order = outlook.order_of_endings(mixed, degree_days_f=degrees)
    assert [one.species for one in order] == ["Acer saccharinum", "Acer rubrum", "Acer saccharum", "Acer platanoides"]
    assert tuple(one.nearness for one in order) == (*states, "unknown")


def test_no_ending_is_marked_as_read_at_its_source() -> None:
    assert {ending.tag for ending in outlook.ENDINGS} == {"R2"}


def test_the_programmes_own_figure_wins_from_three_readings_on() -> None:
    own = figures.figure("sap_brix", species="Acer saccharum", own=2.31, own_readings=3)
    assert (own.value, own.origin, own.average) == (2.31, "own", None)
    few = figures.figure("sap_brix", species="Acer saccharum", own=2.31, own_readings=2)
    # van den Berg, Perkins, Isselhardt 2019: about 2 %.
    assert (few.value, few.origin) == (2.0, "species")
    assert figures.figure("sap_brix", species="Quercus robur").origin == "usual"
    # Trade-facts item 9.3: boxelder 4.87 US gal a tap.
    assert figures.figure("litres_per_tap", species="Acer negundo").value == pytest.approx(4.87 * 3.785411784, abs=0.05)


def test_an_own_figure_without_readings_is_refused() -> None:
    with pytest.raises(Missing):
        figures.figure("sap_brix", own=2.0)
    with pytest.raises(OutOfRange):
        figures.figure("sap_brix", own=-0.1, own_readings=9)


def test_every_average_lies_in_its_own_range() -> None:
    assert all(average.low <= average.value <= average.high for average in figures.AVERAGES)
