"""Freeze-thaw days, degree days, the weekly outlook."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core import weather
from sugarbush.core.errors import OutOfRange


@pytest.mark.parametrize(
    ("key", "low_c", "high_c", "counts"),
    [
        # Each definition of trade-facts items 9.1 and 12 just short of, at, and just past each of its limits.
        ("A", -0.1, 0.1, True), ("A", 0, 5, False), ("A", -5, 0, False),
        ("B", -1.2, 3.4, True), ("B", -1.1, 3.4, False), ("B", -1.2, 3.3, False),
        ("B2", -1.2, 2.3, True), ("B2", -1.1, 2.3, False), ("B2", -1.2, 2.2, False),
        ("C", -3, 3, True), ("C", -2.9, 3, False), ("C", -3, 2.9, False), ("C", -3.1, 3.1, True),
        ("D", -2.1, 2.1, True), ("D", -2, 2.1, False), ("D", -2.1, 2, False),
        ("E", 2.9, 3.1, True), ("E", 3, 3.1, False), ("E", 2.9, 3, False),
    ],
)  # fmt: skip
def test_a_freeze_thaw_day_is_judged_at_its_limits(key: str, low_c: float, high_c: float, counts: bool) -> None:
    assert weather.DEFINITIONS[key].counts(low_c=low_c, high_c=high_c) is counts


def test_only_definitions_read_at_their_source_are_marked_so() -> None:
    assert [key for key, definition in weather.DEFINITIONS.items() if definition.tag == "R"] == ["A", "E"]


def test_a_week_is_told_day_by_day() -> None:
    days = [(-5.0, 6.0), (-4.0, -1.0), (1.0, 9.0), (-0.5, 0.5)]
    assert weather.freeze_thaw_days(days) == [True, False, False, True]


@given(st.lists(st.tuples(st.floats(-40, 40), st.floats(0, 30)), max_size=40))
def test_a_stricter_definition_never_counts_more_days(spans: list[tuple[float, float]]) -> None:
    days = [(low_c, min(low_c + span, 60)) for low_c, span in spans]
    counts = {key: sum(weather.freeze_thaw_days(days, definition=one)) for key, one in weather.DEFINITIONS.items()}
    assert counts["B"] <= counts["B2"] <= counts["A"]
    assert counts["C"] <= counts["D"] <= counts["A"]


@pytest.mark.parametrize(("high_f", "low_f", "degrees"), [(60, 40, 0), (64, 42, 3), (70, 50, 10)])
def test_degree_days_over_50_f(high_f: float, low_f: float, degrees: float) -> None:
    # Trade-facts item 9.2, check values, exact.
    assert weather.degree_day_f(low_f=low_f, high_f=high_f) == degrees


def test_a_cold_day_takes_nothing_off_the_sum() -> None:
    assert weather.degree_days_c([(5, 15), (-20, -5)], base_c=5) == 5


def test_a_day_whose_low_is_above_its_high_is_refused() -> None:
    with pytest.raises(OutOfRange):
        weather.freeze_thaw_days([(5, 4)])


@pytest.mark.parametrize(
    ("freeze_thaws", "degree_days", "likely"),
    [
        # Trade-facts item 9.1a [C] from Houle et al. 2015 [R]; tolerance 0.001.
        (0, 0, 0.0061), (5, 0, 0.138), (8, 0, 0.448), (9, 0, 0.568), (10, 0, 0.675), (15, 20, 0.767),
        (20, 40, 0.721), (25, 60, 0.503), (25, 100, 0.058),
        # Item 12, Newark 2013: 31 January, 28 February, 31 March; tolerance 0.002.
        (14, 24.8, 0.632), (27, 30.0, 0.891), (50, 59.4, 0.000),
    ],
)  # fmt: skip
def test_the_weekly_outlook_is_that_of_the_published_model(
    freeze_thaws: int, degree_days: float, likely: float
) -> None:
    p = weather.weekly_outlook(freeze_thaw_count=freeze_thaws, degree_days=degree_days)
    assert p == pytest.approx(likely, abs=0.001)


def test_without_warmth_the_season_opens_at_the_ninth_event() -> None:
    # Trade-facts item 9.1a.
    opens = [
        n for n in range(20) if weather.weekly_outlook(freeze_thaw_count=n, degree_days=0) >= weather.OUTLOOK_LIMIT
    ]
    assert opens[0] == 9


def test_an_endless_summer_gives_no_sap() -> None:
    assert weather.weekly_outlook(freeze_thaw_count=366, degree_days=10_000) == 0
