"""Millilitres become jars: each size adds up to the jar, and nobody is far from what is due."""

import itertools
from collections.abc import Iterator
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import OutOfRange
from sugarbush.core.jarshares import Due, jars_ml, most_first_jars, share_jars
from sugarbush.core.shares import largest_remainder, shares_ml

# Sixty seats for the fifteen states of the United States in 1790 by Hamilton's method: electowiki, "Hamilton method",
# revision 9372 (read). State, people, seats.
STATES = (
    ("Virginia", 630_560, 11), ("Massachusetts", 475_327, 8), ("Pennsylvania", 432_879, 7),
    ("North Carolina", 353_523, 6), ("New York", 331_589, 6), ("Maryland", 278_514, 5), ("Connecticut", 236_841, 4),
    ("South Carolina", 206_236, 3), ("New Jersey", 179_570, 3), ("New Hampshire", 141_822, 2), ("Vermont", 85_533, 1),
    ("Georgia", 70_835, 1), ("Kentucky", 68_705, 1), ("Rhode Island", 68_446, 1), ("Delaware", 55_540, 1),
)  # fmt: skip
# The order of their remainders on the same page; the first eight get the seats left over.
BY_REMAINDER = (
    "New Jersey", "Connecticut", "Delaware", "Massachusetts", "North Carolina", "Maryland", "New York", "Virginia",
)  # fmt: skip

JARS = st.dictionaries(st.sampled_from([1000, 750, 500, 375, 250, 125, 60]), st.integers(0, 40), max_size=4)
WEIGHTS = st.dictionaries(st.text("abcdefgh", min_size=1, max_size=3), st.integers(1, 9_000), min_size=1, max_size=9)


def test_sixty_seats_for_fifteen_states_come_out_as_published() -> None:
    people = {state: count for state, count, _seats in STATES}
    assert sum(people.values()) == 3_615_920
    shares = largest_remainder(60, people)
    assert [(share.key, share.units) for share in shares] == [(state, seats) for state, _count, seats in STATES]
    left_over = sorted((share for share in shares if share.by_remainder), key=lambda share: share.remainder_place)
    assert tuple(share.key for share in left_over) == BY_REMAINDER


def test_the_same_sixty_as_jars_of_one_size_come_out_as_published_too() -> None:
    # A jar of 60,265 mL (the quota without its fraction) and what is due in the same grain: the jar step is the method.
    due = shares_ml(60 * 60_265, {state: count for state, count, _seats in STATES})
    out = share_jars({60_265: 60}, [Due(key=state, entitled_ml=ml) for state, ml in due.items()])
    assert [(one.key, one.jars.get(60_265, 0)) for one in out] == [(state, seats) for state, _count, seats in STATES]
    left_over = sorted((one for one in out if one.by_remainder), key=lambda one: one.place)
    assert tuple(one.key for one in left_over) == BY_REMAINDER


def all_ways(count: int, people: int) -> Iterator[tuple[int, ...]]:
    if people == 1:
        yield (count,)
        return
    for first in range(count + 1):
        for rest in all_ways(count - first, people - 1):
            yield (first, *rest)


def least_squares(jars: dict[int, int], due: list[int]) -> int:
    """The smallest sum of squared differences of any way to give out the jars."""
    ways = itertools.product(*(all_ways(count, len(due)) for count in jars.values()))
    return min(
        sum((sum(size * got[n] for size, got in zip(jars, way, strict=True)) - due[n]) ** 2 for n in range(len(due)))
        for way in ways
    )


def test_no_way_of_giving_out_the_jars_brings_everybody_nearer() -> None:
    # Every way is tried. Sizes of which each holds a whole number of the next smaller one.
    chance = Random(7)
    for _ in range(120):
        jars = {size: chance.randint(0, 3) for size in (500, 250, 125)[: chance.randint(1, 3)]}
        people = {f"Person {n}": chance.randint(1, 50) for n in range(chance.randint(1, 3))}
        due = shares_ml(jars_ml(jars), people)
        out = share_jars(jars, [Due(key=key, entitled_ml=ml) for key, ml in due.items()])
        assert sum(one.over_ml**2 for one in out) == least_squares(jars, list(due.values()))


@given(JARS, WEIGHTS, st.randoms(use_true_random=False))
def test_every_size_adds_up_and_nobody_is_a_largest_jar_off(
    jars: dict[int, int], people: dict[str, int], chance: Random
) -> None:
    due = shares_ml(jars_ml(jars), people)
    dues = [Due(key=key, entitled_ml=ml) for key, ml in due.items()]
    out = share_jars(jars, dues)
    for size, count in jars.items():
        assert sum(one.jars.get(size, 0) for one in out) == count
    assert sum(one.given_ml for one in out) == sum(one.entitled_ml for one in out) == jars_ml(jars)
    largest = max((size for size, count in jars.items() if count), default=1)
    assert all(abs(one.over_ml) < largest for one in out)
    shuffled = chance.sample(dues, len(dues))
    assert {one.key: one for one in share_jars(jars, shuffled)} == {one.key: one for one in out}


@given(st.integers(1, 400), WEIGHTS)
def test_with_one_size_it_is_the_largest_remainder(count: int, people: dict[str, int]) -> None:
    # Weights that make whole millilitres, so that nothing is rounded on the way.
    total = sum(people.values())
    out = share_jars({total: count}, [Due(key=key, entitled_ml=count * n) for key, n in people.items()])
    assert {one.key: one.jars.get(total, 0) for one in out} == {
        share.key: share.units for share in largest_remainder(count, people)
    }


def test_first_jars_and_jars_set_aside_go_before_anything_else() -> None:
    out = share_jars(
        {500: 2, 250: 4},
        [
            Due(key="school", entitled_ml=500, first={250: 2}),
            Due(key="Ada", entitled_ml=1_240, first={250: 1}),
            Due(key="Bo", entitled_ml=260, first={250: 1}),
        ],
    )
    assert [dict(one.jars) for one in out] == [{250: 2}, {500: 2, 250: 1}, {250: 1}]
    assert [one.over_ml for one in out] == [0, 10, -10]


def test_who_has_more_already_than_is_due_gets_nothing_more_and_the_others_share_the_rest() -> None:
    out = share_jars(
        {250: 6},
        [
            Due(key="Ada", entitled_ml=250, first={250: 3}),
            Due(key="Bo", entitled_ml=625),
            Due(key="Cy", entitled_ml=625),
        ],
    )
    assert [one.jars[250] for one in out] == [3, 2, 1]


def test_the_queue_for_the_jars_left_over_is_told() -> None:
    due = {"Ada": 610, "Bo": 390, "Cy": 250}
    out = {one.key: one for one in share_jars({250: 5}, [Due(key=key, entitled_ml=ml) for key, ml in due.items()])}
    assert [(one.key, one.jars[250], one.place, one.by_remainder) for one in out.values()] == [
        ("Ada", 2, 2, False),
        ("Bo", 2, 1, True),
        ("Cy", 1, 0, False),
    ]


@pytest.mark.parametrize(
    ("jars", "dues"),
    [
        ({250: 2}, [("Ada", 499, {})]),
        ({250: 2}, [("Ada", 250, {}), ("Ada", 250, {})]),
        ({250: 1}, [("Ada", 250, {250: 2})]),
        ({0: 1}, []),
        ({250: -1}, []),
    ],
)
def test_jars_that_cannot_be_shared_so_are_refused(
    jars: dict[int, int], dues: list[tuple[str, int, dict[int, int]]]
) -> None:
    with pytest.raises(OutOfRange):
        share_jars(jars, [Due(key=key, entitled_ml=ml, first=first) for key, ml, first in dues])


def test_a_due_below_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange):
        Due(key="Ada", entitled_ml=-1)
    with pytest.raises(OutOfRange):
        Due(key="Ada", entitled_ml=1, first={250: -1})
    with pytest.raises(OutOfRange):
        most_first_jars(-1, 3)


def test_no_jars_among_nobody_is_nothing() -> None:
    assert share_jars({}, []) == []
    assert share_jars({}, [Due(key="Ada", entitled_ml=0)])[0].jars == {}
