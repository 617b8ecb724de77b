"""The boil-by policy (a design choice of the programme, not a food-safety standard): trade-facts item 8."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.core.errors import Missing, OutOfRange
from sugarbush.core.keeping import (
    REFERENCE_C,
    Logged,
    Policy,
    SapAge,
    Spell,
    boil_by,
    growth_weight,
    history_spells,
    hours_left,
    pooled_age,
    sap_age,
)

SPELLS = st.lists(
    st.builds(
        Spell,
        hours=st.floats(0, 100),
        temperature_c=st.floats(-20, 40),
        sap_logged=st.booleans(),
        frozen_solid=st.booleans(),
    ),
    max_size=10,
)


@pytest.mark.parametrize(
    ("temperature_c", "weight", "hours"),
    [
        # Trade-facts item 8, table of w(T) and hours to 168.
        (-20, 1, 168), (0, 1, 168), (3.33, 1, 168), (5, 1.44, 116.7), (8, 2.434, 69.0), (10, 3.24, 51.9),
        (15, 5.76, 29.2), (20, 9.00, 18.7), (25, 12.96, 13.0),
    ],
)  # fmt: skip
def test_a_warm_hour_counts_for_more(temperature_c: float, weight: float, hours: float) -> None:
    assert growth_weight(temperature_c) == pytest.approx(weight, abs=0.0005)
    assert hours_left(SapAge(), temperature_c=temperature_c) == pytest.approx(hours, abs=0.05)


def test_40_f_and_50_f_differ_by_a_factor_of_two_and_a_half() -> None:
    # OSU Extension [R] calls growth slow below 40 F and rapid above 50 F; trade-facts item 8 gives 1.28 and 3.24.
    assert growth_weight((40 - 32) / 1.8) == pytest.approx(1.28, abs=0.005)
    assert growth_weight(10) / growth_weight((40 - 32) / 1.8) == pytest.approx(2.5, abs=0.05)


def test_a_cold_a_cool_and_a_mild_spell_add_up_to_12144_hours() -> None:
    # Trade-facts item 8, check [C], tolerance 0.05 h.
    age = sap_age(
        [
            Spell(hours=48, temperature_c=2, sap_logged=True),
            Spell(hours=12, temperature_c=10, sap_logged=True),
            Spell(hours=6, temperature_c=15, sap_logged=True),
        ]
    )
    assert age.equivalent_h == pytest.approx(121.44, abs=0.05)
    assert age.standing == "boil soon"
    assert hours_left(age, temperature_c=REFERENCE_C) == pytest.approx(46.56, abs=0.05)
    assert age.warm_h == 6  # 10 °C itself is not above 10 °C, so 18 more are left
    assert hours_left(age, temperature_c=10.5, sap_logged=True) == pytest.approx(min(18, 46.56 / growth_weight(10.5)))


def test_nineteen_hours_at_20_degrees_are_late_before_the_24_hour_limit() -> None:
    age = sap_age([Spell(hours=19, temperature_c=20, sap_logged=True)])
    assert age.equivalent_h == pytest.approx(171, abs=0.05)
    assert (age.standing, age.warm_h) == ("late", 19)


@pytest.mark.parametrize(
    ("hours", "standing"),
    [(119.9, "keeps"), (120, "boil soon"), (168, "boil soon"), (168.01, "late"), (169, "late")],
)
def test_seven_days_to_the_hour_are_allowed_and_one_hour_more_is_late(hours: float, standing: str) -> None:
    # Trade-facts item 8, check: 1 March 08:00 to 8 March 08:00 allowed, 09:00 flagged.
    assert sap_age([Spell(hours=hours, temperature_c=2)]).standing == standing


@pytest.mark.parametrize(("hours", "standing"), [(24, "keeps"), (24.1, "late")])
def test_a_day_above_10_degrees_by_a_log_of_the_sap_is_late(hours: float, standing: str) -> None:
    # 10.01 °C weighs 3.24, so 24 hours are 78 equivalent ones: only the third clock runs out.
    assert sap_age([Spell(hours=hours, temperature_c=10.01, sap_logged=True)]).standing == standing


def test_air_temperature_alone_does_not_start_the_24_hour_clock() -> None:
    assert sap_age([Spell(hours=30, temperature_c=11)]).warm_h == 0


def test_frozen_sap_stands_still_only_when_a_person_says_so() -> None:
    assert sap_age([Spell(hours=100, temperature_c=-10)]).equivalent_h == 100
    assert sap_age([Spell(hours=100, temperature_c=-10, frozen_solid=True)]) == SapAge()


def test_the_boil_by_moment_moves_nearer_when_it_turns_warm() -> None:
    now = datetime(2026, 3, 1, 8, tzinfo=UTC)
    assert boil_by(SapAge(), now=now, temperature_c=2) == now + timedelta(days=7)
    assert boil_by(SapAge(), now=now, temperature_c=20) == now + timedelta(hours=168 / 9)
    assert boil_by(SapAge(elapsed_h=170, equivalent_h=170), now=now, temperature_c=2) == now


def test_a_pooled_tank_is_as_old_as_its_oldest_part_by_each_clock() -> None:
    old, warm = SapAge(elapsed_h=100, equivalent_h=100), SapAge(elapsed_h=20, equivalent_h=130, warm_h=20)
    assert pooled_age([old, warm]) == SapAge(elapsed_h=100, equivalent_h=130, warm_h=20)
    with pytest.raises(Missing):
        pooled_age([])


@pytest.mark.parametrize("spell", [Spell(hours=-1, temperature_c=2), Spell(hours=1, temperature_c=61)])
def test_a_spell_that_cannot_be_is_refused(spell: Spell) -> None:
    with pytest.raises(OutOfRange):
        sap_age([spell])


@given(SPELLS)
def test_warmth_only_ever_shortens(spells: list[Spell]) -> None:
    age = sap_age(spells)
    assert age.equivalent_h >= age.elapsed_h - 1e-9
    assert hours_left(age, temperature_c=0) <= max(0, 168 - age.elapsed_h) + 1e-9


@given(SPELLS, SPELLS)
def test_the_clocks_go_on_where_they_stood(first: list[Spell], then: list[Spell]) -> None:
    at_once, in_two = sap_age([*first, *then]), sap_age(then, start=sap_age(first))
    assert in_two.equivalent_h == pytest.approx(at_once.equivalent_h)
    assert (in_two.elapsed_h, in_two.warm_h) == pytest.approx((at_once.elapsed_h, at_once.warm_h))


def at(hours: float) -> datetime:
    return datetime(2026, 3, 1, 8, tzinfo=UTC) + timedelta(hours=hours)


def test_a_history_gives_the_worked_example_of_the_policy() -> None:
    # Trade-facts item 8: 48 h at 2 C, 12 h at 10 C, 6 h at 15 C: E = 121.44 h, boil soon; here as a log, hour by hour.
    # A reading stands for the hour that ends with it, because the warmer end of a stretch counts.
    warmth = [2.0] * 48 + [10.0] * 12 + [15.0] * 6
    log = [Logged(at=at(hour + 1), temperature_c=c) for hour, c in enumerate(warmth)]
    age = sap_age(history_spells(log, collected_at=at(0), until=at(66), usual_c=2))
    assert age.equivalent_h == pytest.approx(121.44, abs=0.05)
    assert (age.elapsed_h, age.warm_h, age.standing) == (66, 6, "boil soon")


def test_between_two_readings_the_warmer_counts() -> None:
    log = [Logged(at=at(0), temperature_c=12), Logged(at=at(4), temperature_c=2), Logged(at=at(8), temperature_c=12)]
    spells = history_spells(log, collected_at=at(1), until=at(9), usual_c=0)
    assert [(spell.hours, spell.temperature_c) for spell in spells] == [(3, 12), (4, 12), (1, 12)]


def test_readings_too_far_apart_are_no_log() -> None:
    def logged(apart_h: float) -> bool:
        log = [Logged(at=at(0), temperature_c=12), Logged(at=at(apart_h), temperature_c=12)]
        return history_spells(log, collected_at=at(0), until=at(apart_h), usual_c=4)[0].sap_logged

    assert logged(6)
    assert not logged(6.01)
    # A last reading six hours old is no log of the time since either.
    since = history_spells([Logged(at=at(0), temperature_c=12)], collected_at=at(0), until=at(7), usual_c=4)
    assert [(spell.hours, spell.temperature_c, spell.sap_logged) for spell in since] == [(7, 12, False)]


def test_without_any_reading_the_usual_temperature_is_taken() -> None:
    spells = history_spells([], collected_at=at(0), until=at(10), usual_c=4)
    assert [(spell.hours, spell.temperature_c, spell.sap_logged) for spell in spells] == [(10, 4, False)]


@given(st.lists(st.tuples(st.floats(-20, 200), st.floats(-20, 30)), max_size=8), st.floats(0, 150))
def test_the_spells_of_a_history_fill_the_whole_time(points: list[tuple[float, float]], hours: float) -> None:
    log = [Logged(at=at(when), temperature_c=c) for when, c in points]
    spells = history_spells(log, collected_at=at(0), until=at(hours), usual_c=4)
    assert sum(spell.hours for spell in spells) == pytest.approx(hours, abs=1e-5)


def test_a_history_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(OutOfRange):
        history_spells([], collected_at=at(1), until=at(0), usual_c=4)


@given(SPELLS, st.floats(24, 168), st.floats(-5, 2))
def test_a_stricter_policy_never_gives_more_time(spells: list[Spell], limit_h: float, no_growth_c: float) -> None:
    strict = Policy(limit_h=limit_h, soon_h=20, no_growth_c=no_growth_c, warm_limit_h=12)
    usual, stricter = sap_age(spells), sap_age(spells, policy=strict)
    assert stricter.equivalent_h >= usual.equivalent_h - 1e-9
    assert hours_left(stricter, temperature_c=8, policy=strict) <= hours_left(usual, temperature_c=8) + 1e-9


@pytest.mark.parametrize("looser", [{"limit_h": 168.1}, {"warm_limit_h": 24.1}, {"no_growth_c": -5.1}, {"soon_h": 169}])
def test_a_looser_policy_is_refused(looser: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        Policy(**looser)
