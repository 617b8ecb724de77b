"""Trees into rounds, and drop-offs on the way, beside an outside route solver (pyvrp)."""

import sys
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sugarbush.core.errors import OutOfRange
from sugarbush.core.roundplan import split_into_rounds, with_drop_offs
from sugarbush.core.rounds import Place, distance_m, walking_order
from tests.core.outside_routes import pyvrp_m

DEPOT = Place(longitude_deg=-72.005, latitude_deg=44.005)
PLACES = st.lists(
    st.builds(Place, longitude_deg=st.floats(-72.01, -72), latitude_deg=st.floats(44, 44.01)), max_size=30
)


def tell(line: str) -> None:
    """The gap is told with the test's output (pytest -rP, or -s)."""
    sys.stdout.write(line + "\n")


def scattered(count: int, seed: int) -> list[Place]:
    chance = Random(seed)
    return [
        Place(longitude_deg=-72.01 + chance.random() / 100, latitude_deg=44 + chance.random() / 100)
        for _ in range(count)
    ]


@pytest.mark.parametrize("seed", range(3))
def test_one_round_is_within_a_few_per_cent_of_the_outside_solver(seed: int) -> None:
    trees = scattered(40, seed)
    stops = [DEPOT, *(trees[index] for index in walking_order(trees, start=DEPOT)), DEPOT]
    ours_m = sum(distance_m(one, other) for one, other in pairwise(stops))
    theirs_m = pyvrp_m(trees, depot=DEPOT, most_stops=40, rounds=1, iterations=300)
    tell(f"one round of 40 trees, seed {seed}: {ours_m:.0f} m, pyvrp {theirs_m:.0f} m, {ours_m / theirs_m - 1:+.1%}")
    assert ours_m <= 1.03 * theirs_m


def test_rounds_are_not_much_longer_than_those_of_the_outside_solver() -> None:
    trees = scattered(100, 5)
    ours_m = sum(draft.walked_m for draft in split_into_rounds(trees, start=DEPOT, most_stops=25))
    theirs_m = pyvrp_m(trees, depot=DEPOT, most_stops=25, rounds=4, iterations=800)
    tell(f"100 trees in 4 rounds: {ours_m:.0f} m, pyvrp {theirs_m:.0f} m, {ours_m / theirs_m - 1:+.1%}")
    assert ours_m <= 1.15 * theirs_m


@given(PLACES, st.integers(1, 12))
@settings(max_examples=25)
def test_every_tree_is_in_one_round_and_rounds_are_few_and_even(trees: list[Place], most_stops: int) -> None:
    drafts = split_into_rounds(trees, start=DEPOT, most_stops=most_stops)
    assert sorted(index for draft in drafts for index in draft.indexes) == list(range(len(trees)))
    assert len(drafts) == -(-len(trees) // most_stops)
    sizes = [len(draft.indexes) for draft in drafts]
    assert not sizes or max(sizes) - min(sizes) <= 1


def test_the_same_trees_give_the_same_rounds() -> None:
    trees = scattered(60, 3)
    assert split_into_rounds(trees, start=DEPOT, most_stops=15) == split_into_rounds(trees, start=DEPOT, most_stops=15)


def test_two_streets_apart_make_two_rounds() -> None:
    near = [Place(longitude_deg=-72 + n / 10_000, latitude_deg=44) for n in range(5)]
    far = [Place(longitude_deg=-72 + n / 10_000, latitude_deg=44.05) for n in range(5)]
    mixed = [place for pair in zip(near, far, strict=True) for place in pair]
    drafts = split_into_rounds(mixed, start=DEPOT, most_stops=5)
    assert [{index % 2 for index in draft.indexes} for draft in drafts] == [{0}, {1}]


def test_the_pails_are_emptied_at_the_drop_off_on_the_way() -> None:
    trees = [Place(longitude_deg=-72, latitude_deg=44 + n / 1_000) for n in (1, 2, 4)]
    start, between = Place(longitude_deg=-72, latitude_deg=44), Place(longitude_deg=-72, latitude_deg=44.003)
    stops = with_drop_offs(
        [0, 1, 2], trees, [9_000, 6_000, 1], start=start, drop_offs=[start, between], carry_limit_g=15_000
    )
    # The drop-off between the second and the third tree is no detour; the last load goes back there, it is nearest.
    assert [(stop.tree, stop.drop_off) for stop in stops] == [(0, None), (1, None), (None, 1), (2, None), (None, 1)]
    assert not any(stop.over_limit for stop in stops)


def test_a_tree_too_heavy_by_itself_is_marked() -> None:
    stops = with_drop_offs([0], scattered(1, 1), [20_001], start=DEPOT, drop_offs=[DEPOT], carry_limit_g=20_000)
    assert [stop.over_limit for stop in stops] == [True, False]


@given(st.lists(st.integers(0, 20_000), max_size=20), st.integers(1, 40_000), st.integers(1, 3))
def test_nobody_carries_too_much_and_all_sap_is_dropped_off(masses_g: list[int], limit_g: int, places: int) -> None:
    trees = scattered(len(masses_g), 2)
    order = list(range(len(trees)))
    stops = with_drop_offs(order, trees, masses_g, start=DEPOT, drop_offs=scattered(places, 3), carry_limit_g=limit_g)
    assert [stop.tree for stop in stops if stop.tree is not None] == order
    assert all(stop.over_limit == (stop.carried_g > limit_g) for stop in stops)
    assert all(masses_g[stop.tree] > limit_g for stop in stops if stop.over_limit and stop.tree is not None)
    assert not stops or stops[-1].carried_g == 0
    assert sum(stop.leg_m for stop in stops) == pytest.approx(stops[-1].walked_m if stops else 0)


def test_rounds_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange, match="stops"):
        split_into_rounds([DEPOT], start=DEPOT, most_stops=201)
    with pytest.raises(OutOfRange, match="stops"):
        with_drop_offs([0], [DEPOT], [1], start=DEPOT, drop_offs=[], carry_limit_g=1)
