"""Shares that add up."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import OutOfRange
from sugarbush.core.shares import largest_remainder, sap_weight, shares_jars, shares_ml

WEIGHTS = st.dictionaries(
    st.text(min_size=1, max_size=4), st.one_of(st.integers(0, 10**6), st.decimals(0, 1000, places=3)), max_size=12
)


def test_a_textbook_parliament_is_seated_right() -> None:
    # The largest-remainder (Hare quota) example of the encyclopaedia article: 100,000 votes, 10 seats (from memory).
    votes = {"Yellow": 47_000, "White": 16_000, "Red": 15_800, "Green": 12_000, "Blue": 6_100, "Pink": 3_100}
    assert [share.units for share in largest_remainder(10, votes)] == [5, 2, 1, 1, 1, 0]


def test_21_litres_in_quarter_litre_jars_add_up_to_84_with_the_set_aside() -> None:
    # The programme's acceptance figure: 8 people and 4 jars set aside.
    weights: dict[str, Decimal] = {f"person {n}": Decimal(n * 7 + 3) for n in range(8)}
    jars = shares_jars(21_000 // 250 - 4, weights)
    assert sum(jars.values()) + 4 == 84


def test_everyone_gets_the_floor_and_the_rest_goes_by_weight() -> None:
    assert shares_ml(2_000, {"Ada": 1, "Bo": 9}, floor_ml=250) == {"Ada": 400, "Bo": 1_600}


def test_who_brought_nothing_gets_nothing_and_no_floor() -> None:
    assert shares_ml(1_000, {"Ada": 1, "Bo": 0}, floor_ml=250) == {"Ada": 1_000, "Bo": 0}


def test_the_units_left_over_go_by_remainder_then_weight_then_name() -> None:
    shares = {share.key: share for share in largest_remainder(5, {"Cy": 1, "Bo": 1, "Ada": 2})}
    # Quotas 1.25, 1.25, 2.5: the half wins.
    assert {key: share.units for key, share in shares.items()} == {"Cy": 1, "Bo": 1, "Ada": 3}
    assert {key: share.remainder_place for key, share in shares.items()} == {"Ada": 1, "Bo": 2, "Cy": 3}
    assert [share.key for share in shares.values() if share.by_remainder] == ["Ada"]
    assert shares["Ada"].quota == Fraction(5, 2)


def test_the_order_people_are_listed_in_changes_no_share() -> None:
    people = {"Ada": 1, "Bo": 1, "Cy": 1}
    assert shares_jars(10, people) == shares_jars(10, dict(reversed(people.items())))


def test_a_share_by_sugar_weighs_litres_by_brix() -> None:
    assert sap_weight(volume_ml=9_000, sugar_brix=Decimal("2.50")) == Decimal("22.5")
    assert sap_weight(volume_ml=1, sugar_brix=Decimal("0.01")) == Decimal("0.00001")


@pytest.mark.parametrize(
    ("pool", "weights", "floor"),
    [(-1, {"Ada": 1}, 0), (1, {}, 0), (1, {"Ada": 0}, 0), (1, {"Ada": -1, "Bo": 2}, 0), (9, {"Ada": 1, "Bo": 1}, 5),
     (9, {"Ada": 1}, -1), (9, {"Ada": Decimal("NaN")}, 0)],
)  # fmt: skip
def test_a_pool_that_cannot_be_shared_so_is_refused(pool: int, weights: dict[str, int], floor: int) -> None:
    with pytest.raises(OutOfRange):
        largest_remainder(pool, weights, floor_units=floor)


def test_a_floor_that_uses_up_the_pool_to_the_unit_is_taken() -> None:
    assert shares_jars(10, {"Ada": 1, "Bo": 99}, floor_jars=5) == {"Ada": 5, "Bo": 5}


def test_nothing_to_share_among_nobody_is_nothing() -> None:
    assert largest_remainder(0, {}) == []


@given(st.integers(0, 10**9), WEIGHTS, st.integers(0, 3))
def test_shares_sum_exactly_and_stay_within_one_unit_of_what_is_due(
    pool: int, weights: dict[str, int | Decimal], floor: int
) -> None:
    claimants = sum(weight > 0 for weight in weights.values())
    if not claimants or floor * claimants > pool:
        return
    shares = largest_remainder(pool, weights, floor_units=floor)
    assert sum(share.units for share in shares) == pool
    assert sum(share.quota for share in shares) == pool
    assert all(abs(share.units - share.quota) < 1 for share in shares)
    assert [share.key for share in shares] == list(weights)


@given(st.integers(0, 10**6), WEIGHTS)
def test_who_brought_more_never_gets_less(pool: int, weights: dict[str, int | Decimal]) -> None:
    if not any(weights.values()):
        return
    shares = sorted(largest_remainder(pool, weights), key=lambda share: share.weight)
    assert [share.units for share in shares if share.weight] == sorted(share.units for share in shares if share.weight)
