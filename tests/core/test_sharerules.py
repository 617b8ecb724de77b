"""The programme's share rules: set-asides, then parts by one measure each; sums exact, order of no account."""

from decimal import Decimal
from fractions import Fraction
from math import floor
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import OutOfRange
from sugarbush.core.sharerules import MEASURES, Claim, Part, SetAside, share_out, sugar_weight

CLAIMS = st.lists(
    st.builds(
        Claim,
        key=st.text("abcdefgh", min_size=1, max_size=4),
        sap_ml=st.integers(0, 90_000),
        sugar_weight=st.decimals(0, 500, places=2),
        worked_min=st.integers(0, 6_000),
        taps=st.integers(0, 4),
    ),
    max_size=12,
    unique_by=lambda claim: claim.key,
)
RULES = st.lists(st.builds(Part, measure=st.sampled_from(MEASURES), of_rest=st.integers(1, 9)), min_size=1, max_size=3)


def by_hand(pool: int, weights: dict[str, Fraction]) -> dict[str, int]:
    """Largest remainder written out a second time, the plain way: hand out one left-over unit after the other."""
    total = sum(weights.values())
    due = {key: pool * weight / total for key, weight in weights.items()}
    given = {key: floor(part) for key, part in due.items()}
    while sum(given.values()) < pool:
        key = min(due, key=lambda one: (given[one] - due[one], -weights[one], one))
        given[key] += 1
    return given


def test_twenty_one_litres_in_quarter_litre_jars_for_eight_people_and_a_school() -> None:
    # The programme's acceptance example: 84 jars, 8 people, 4 set aside.
    chance = Random(7)
    claims = [Claim(key=f"Person {n}", sap_ml=chance.randrange(10_000, 90_000)) for n in range(8)]
    out = share_out(84, claims, rule=[Part(measure="sap")], set_asides=[SetAside(key="school", units=4)])
    assert sum(out.totals.values()) == 80
    assert out.set_asides == (("school", 4),)
    assert dict(out.totals) == by_hand(80, {claim.key: Fraction(claim.sap_ml) for claim in claims})


@pytest.mark.parametrize(
    ("measure", "jars"),
    [("equal", (5, 5)), ("sap", (3, 7)), ("sugar", (4, 6)), ("hours", (9, 1)), ("taps", (0, 10))],
)
def test_each_measure_shares_by_what_it_names(measure: str, jars: tuple[int, int]) -> None:
    claims = [
        Claim(key="Ada", sap_ml=3_000, sugar_weight=Decimal("8.4"), worked_min=90),
        Claim(key="Bo", sap_ml=7_000, sugar_weight=Decimal("12.6"), worked_min=10, taps=2),
    ]
    out = share_out(10, claims, rule=[Part(measure=measure)])  # type: ignore[arg-type]  # the names come from the list
    assert (out.totals["Ada"], out.totals["Bo"]) == jars


def test_a_floor_jar_comes_first_and_owners_get_their_part_by_taps() -> None:
    claims = [Claim(key="Ada", sap_ml=90_000), Claim(key="Bo", sap_ml=100), Claim(key="Owner", taps=2)]
    out = share_out(21, claims, rule=[Part(measure="sap", of_rest=9, floor_units=1), Part(measure="taps", of_rest=1)])
    assert out.totals == {"Ada": 18, "Bo": 1, "Owner": 2}
    assert [pool for _, pool, _ in out.parts] == [19, 2]


def test_a_part_without_claims_goes_to_the_others() -> None:
    out = share_out(10, [Claim(key="Ada", sap_ml=1)], rule=[Part(measure="sap"), Part(measure="taps", floor_units=1)])
    assert out.totals == {"Ada": 10}


def test_a_claim_under_the_least_is_not_in_the_part() -> None:
    claims = [Claim(key="Ada", worked_min=120), Claim(key="Bo", worked_min=119)]
    assert share_out(5, claims, rule=[Part(measure="hours", least=120)]).totals == {"Ada": 5, "Bo": 0}


@given(st.integers(0, 5_000), CLAIMS, RULES, st.randoms(use_true_random=False))
def test_shares_add_up_and_the_order_of_the_people_changes_nothing(
    pool: int, claims: list[Claim], rule: list[Part], chance: Random
) -> None:
    if not any(claim.weight(part.measure) for claim in claims for part in rule):
        claims = [*claims, Claim(key="z", sap_ml=1, sugar_weight=Decimal(1), worked_min=1, taps=1)]
    aside = [SetAside(key="next year", units=pool // 3)]
    out = share_out(pool, claims, rule=rule, set_asides=aside)
    assert sum(out.totals.values()) + pool // 3 == pool
    shuffled = chance.sample(claims, len(claims))
    assert share_out(pool, shuffled, rule=rule, set_asides=aside) == out


def test_norway_maple_and_strong_silver_are_not_alike_by_sugar() -> None:
    # job: 9 L a season against 60 L; by sugar the thin sap weighs less again.
    assert sugar_weight([(9_000, Decimal("1.4"))]) == Decimal("12.6")
    assert sugar_weight([(60_000, Decimal("1.7")), (0, Decimal(2))]) == Decimal("102.0")


@pytest.mark.parametrize(
    ("pool", "aside", "claims", "rule"),
    [
        (3, 4, [Claim(key="a", sap_ml=1)], [Part(measure="sap")]),
        (3, -1, [Claim(key="a", sap_ml=1)], [Part(measure="sap")]),
        (-1, 0, [Claim(key="a", sap_ml=1)], [Part(measure="sap")]),
        (3, 0, [Claim(key="a"), Claim(key="a")], [Part(measure="equal")]),
        (3, 0, [Claim(key="a")], [Part(measure="sap")]),
        (3, 0, [], [Part(measure="equal")]),
        (3, 0, [Claim(key="a"), Claim(key="b")], [Part(measure="equal", floor_units=2)]),
    ],
)
def test_a_share_that_cannot_be_is_refused(pool: int, aside: int, claims: list[Claim], rule: list[Part]) -> None:
    with pytest.raises(OutOfRange):
        share_out(pool, claims, rule=rule, set_asides=[SetAside(key="school", units=aside)])


def test_all_of_the_pool_may_be_set_aside() -> None:
    out = share_out(4, [], rule=[Part(measure="equal")], set_asides=[SetAside(key="school", units=4)])
    assert out.totals == {}


def test_a_claim_or_part_that_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="hours worked"):
        Claim(key="a", worked_min=-1)
    with pytest.raises(OutOfRange):
        Part(measure="sap", of_rest=0)
