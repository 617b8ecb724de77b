"""By when a tank's sap is to be boiled, and which clock says so.

The limits checked are the policy's own documented ones (core.keeping): 168 h from the tree, 168 h with warm hours
counted ((T + 5) / 8.33)² times, 24 h above 10 °C by a log. Just below, at and just above each.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from sugarbush.boils.climate import Climate, Reading
from sugarbush.boils.keeping import keeping_of, keepings, policy_of
from sugarbush.boils.models import TankTemperature
from sugarbush.core.keeping import Policy
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import ActKind, Cause
from sugarbush.weather.models import WeatherDay
from tests import make

pytestmark = pytest.mark.django_db

NOON = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def in_march():
    make.season(year=2026)


def h(hours: float) -> dt.timedelta:
    return dt.timedelta(hours=hours)


def cold_tank(code="A", usual_c: str | None = "2.0"):
    tank = make.tank(code)
    tank.usual_temperature_c = Decimal(usual_c) if usual_c else None
    tank.save()
    return tank


def move(ml, at, *, kind=ActKind.DELIVER, cause=Cause.MOVED, source=None, target=None):
    post(
        kind=kind,
        season=make.season(),
        author=make.alice(),
        happened_at=at,
        moves=[Move(volume_ml=ml, cause=cause, source=source, target=target)],
    )


def fill(tank, at=NOON, delivered_at=None, litres=10):
    """Sap gathered at one moment and, unless said otherwise, delivered at the same."""
    hands, ml = hands_of(make.bob(), make.season()), litres * 1000
    move(ml, at, kind=ActKind.COLLECT, cause=Cause.OUT_OF_TREE, target=hands)
    move(ml, delivered_at or at, source=hands, target=tank)
    return tank


def read(tank, at, c, frozen=False):
    TankTemperature.objects.create(
        tank=tank, temperature_c=Decimal(str(c)), happened_at=at, author=make.dora(), frozen_solid=frozen
    )


def weather(day, low, high, source="measured"):
    WeatherDay.objects.create(day=day, low_c=Decimal(low), high_c=Decimal(high), source=source)


@pytest.mark.parametrize(
    ("hours", "standing"),
    [(119.99, "keeps"), (120, "boil soon"), (167.99, "boil soon"), (168, "boil soon"), (168.01, "late")],
)
def test_cold_sap_keeps_seven_days_from_the_tree(hours, standing):
    found = keeping_of(fill(cold_tank()), NOON + h(hours))
    assert found.standing == standing
    assert found.boil_by_at == NOON + h(168)
    assert found.ruling.name == "days"


def test_sap_of_day_0_at_3_degrees_is_boiled_by_day_7_and_late_on_day_8():
    tank = fill(cold_tank(usual_c="3.0"))
    assert keeping_of(tank, NOON + h(24)).boil_by_at == NOON + dt.timedelta(days=7)
    late = keeping_of(tank, NOON + dt.timedelta(days=8))
    assert late.is_late
    assert "1 day ago" in late.sentence()
    assert "Sunday 8 March, 12:00" in late.refusal("metric").fact


@pytest.mark.parametrize(("hours", "late"), [(51.85, False), (51.90, True)])
def test_at_ten_degrees_an_hour_counts_threefold(hours, late):
    # ((10 + 5) / 8.333)² = 3.24; 168 h / 3.24 = 51.85 h, the worked example of core.keeping.hours_left.
    found = keeping_of(fill(cold_tank(usual_c="10.0")), NOON + h(hours))
    assert found.is_late is late
    assert found.ruling.name == "warmth"
    assert found.boil_by_at == pytest.approx(NOON + h(168 / 3.24), abs=h(0.01))


@pytest.mark.parametrize(("hours", "late"), [(24, False), (24.5, True)])
def test_a_day_above_ten_degrees_by_the_log_is_the_end(hours, late):
    tank = fill(cold_tank())
    for n in range(0, 30, 5):
        read(tank, NOON + h(n), 10.5)
    found = keeping_of(tank, NOON + h(hours))
    assert found.is_late is late
    assert found.ruling.name == "log"
    assert found.boil_by_at == NOON + h(24)


def test_at_ten_degrees_exactly_the_log_clock_does_not_run():
    tank = fill(cold_tank())
    for n in range(0, 30, 5):
        read(tank, NOON + h(n), 10.0)
    assert keeping_of(tank, NOON + h(25)).age.warm_h == 0


def test_time_in_the_hands_counts_by_the_weather_of_each_day():
    for day in (1, 2, 3):
        weather(dt.date(2026, 3, day), "5", "15")
    tank = fill(cold_tank(), delivered_at=NOON + h(30))
    found = keeping_of(tank, NOON + h(30))
    assert found.age.equivalent_h == pytest.approx(30 * 3.24, abs=0.01)  # a mean of 10 °C, as above
    assert found.oldest_at == NOON


def test_a_measured_day_goes_before_its_forecast():
    weather(dt.date(2026, 3, 1), "9", "11", "forecast")
    weather(dt.date(2026, 3, 1), "-1", "1")
    found = keeping_of(fill(cold_tank(usual_c=None)), NOON + h(5))
    assert found.basis == "weather"
    assert found.age.equivalent_h == 5


def test_where_nobody_knows_the_temperature_a_careful_guess_stands_in_and_is_named():
    found = keeping_of(fill(cold_tank(usual_c=None)), NOON + h(10))
    assert found.basis == "guess"
    assert found.age.equivalent_h == pytest.approx(32.4, abs=0.01)
    assert any("careful guess" in sentence for sentence in found.assumed("metric"))
    assert "50.0\u00a0°F" in " ".join(found.assumed("us"))


def test_a_warm_container_counts_as_warm_on_its_way():
    from sugarbush.boils.actions import Line, accept_delivery

    tank = cold_tank()
    make.collection(litres=8, happened_at=timezone.now() - h(10))
    accept_delivery(
        depot=make.depot(),
        person=make.bob(),
        keeper=make.dora(),
        lines=[Line(volume_ml=8_000, tank=tank, temperature_c=Decimal("20.0"), container=make.container())],
    )
    # 20 °C counts ninefold: the worked example of core.keeping.growth_weight.
    assert keeping_of(tank).age.equivalent_h == pytest.approx(90, abs=0.2)


def test_a_reading_speaks_for_a_day_at_most():
    tank = cold_tank(usual_c="10.0")
    fill(tank)
    read(tank, NOON, 1)
    found = keeping_of(tank, NOON + h(72))
    assert found.age.equivalent_h > 24 + 36 * 3.24
    assert found.basis == "usual"


def test_frozen_right_through_the_clocks_stand_still():
    tank = fill(cold_tank())
    for n in range(0, 49, 6):
        read(tank, NOON + h(n), -6, frozen=True)
    assert keeping_of(tank, NOON + h(48)).age.elapsed_h == 0
    assert keeping_of(tank, NOON + h(50)).age.elapsed_h == 2


def test_warm_sap_poured_to_cold_sap_brings_its_clock_along():
    cold, warm = fill(cold_tank("A")), fill(cold_tank("B", "10.0"))
    move(5_000, NOON + h(40), kind=ActKind.TRANSFER, source=warm, target=cold)
    found = keeping_of(cold, NOON + h(50))
    assert found.age.elapsed_h == 50
    assert found.age.equivalent_h == pytest.approx(40 * 3.24 + 10, abs=0.01)
    assert found.ruling.name == "warmth"


def test_a_stricter_season_calls_it_late_sooner():
    make.season(keep_limit_h=72, keep_soon_h=48, keep_warm_h=12)
    tank = fill(cold_tank())
    tank.refresh_from_db()
    assert policy_of(tank.season) == Policy(limit_h=72, soon_h=48, warm_limit_h=12)
    assert [keeping_of(tank, NOON + h(n)).standing for n in (47, 48, 72, 73)] == [
        "keeps",
        "boil soon",
        "boil soon",
        "late",
    ]


def test_an_empty_tank_has_nothing_to_keep():
    assert keeping_of(cold_tank()) is None
    assert keepings(make.season()) == {}


def test_the_clock_change_adds_no_hour_to_the_saps_age():
    # In Detroit the clocks went from 02:00 to 03:00 on 8 March 2026 (IANA time zone database).
    make.programme(time_zone="America/Detroit")
    zone = ZoneInfo("America/Detroit")
    start = dt.datetime(2026, 3, 7, 18, tzinfo=zone)
    tank = fill(cold_tank(), at=start)
    found = keeping_of(tank, dt.datetime(2026, 3, 8, 18, tzinfo=zone))
    assert found.age.elapsed_h == 23
    assert found.boil_by_at == start.astimezone(dt.UTC) + h(168)


def test_a_day_of_23_hours_is_cut_at_its_own_midnights():
    zone = ZoneInfo("America/Detroit")
    begins = dt.datetime(2026, 3, 7, 12, tzinfo=zone).astimezone(dt.UTC)
    ends = dt.datetime(2026, 3, 9, 12, tzinfo=zone).astimezone(dt.UTC)
    place = Climate(
        readings=[Reading(at=begins, temperature_c=2)],
        usual=lambda day: (float(day.day), "weather"),
        begins=begins,
        ends=ends,
        zone=zone,
        policy=Policy(),
    )
    hours = [(round(one.spell.hours, 6), one.spell.temperature_c) for one in place.stretches]
    assert sum(each for each, _c in hours) == 47
    assert place.clocks(ends).elapsed_h == pytest.approx(47)


@pytest.mark.parametrize("n", [2, 40])
def test_many_tanks_ask_no_more_than_two(n, django_assert_max_num_queries):
    for code in range(n):
        fill(cold_tank(f"T{code}"))
    season = make.season()
    with django_assert_max_num_queries(15):
        assert len(keepings(season, NOON + h(1))) == n
