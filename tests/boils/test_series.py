"""A logger's series, pasted or sent: what can be read is kept once, the rest is listed with why."""

from __future__ import annotations

import datetime as dt
import time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from sugarbush.boils.models import TankTemperature
from sugarbush.boils.series import read_series
from sugarbush.boils.tank_acts import write_series, write_temperature
from sugarbush.parts.reasons import Refused
from tests import make

DETROIT = ZoneInfo("America/Detroit")
NOW = dt.datetime(2026, 11, 20, tzinfo=dt.UTC)


def read(text, units="metric", zone=DETROIT):
    return read_series(text, zone=zone, units=units, now=NOW)


def one(text, units="metric"):
    found = read(text, units)
    assert not found.left, found.left
    return found.taken[0]


@pytest.mark.parametrize(
    "line",
    [
        "2026-03-03 14:30;3.5",
        "2026-03-03 14:30;3,5",
        "2026-03-03T14:30;3.5",
        "2026-03-03 14:30,3.5",
        "2026-03-03 14:30,3,5",
        "2026-03-03\t14:30\t3.5",
        "2026-03-03 14:30 3.5 °C",
        "2026-03-03 2:30 PM;3.5C",
        '"2026-03-03 14:30:00","3.5"',
        "03.03.2026 14:30;3,5",
        "3/3/2026 14:30;3.5",
        "2026-03-03T19:30:00Z;3.5",
        "2026-03-03 14:30;38.3 F",
    ],
)
def test_a_line_is_a_time_and_a_temperature(line):
    found = one(line)
    assert found.at == dt.datetime(2026, 3, 3, 19, 30, tzinfo=dt.UTC)
    assert found.temperature_c == Decimal("3.5")


def test_bare_numbers_are_in_the_readers_degrees():
    # 38 °F is 3.33 °C, by definition of the scale.
    assert one("2026-03-03 14:30;38", "us").temperature_c == Decimal("3.3")


def test_a_heading_may_name_the_degrees():
    found = read("time;temperature (°F)\n2026-03-03 14:30;50")
    assert found.taken[0].temperature_c == 10
    assert not found.left


def test_day_and_month_stand_as_the_reader_writes_them():
    assert one("3/8/2026 14:30;3", "us").at.date() == dt.date(2026, 3, 8)
    assert one("3/8/2026 14:30;3").at.date() == dt.date(2026, 8, 3)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("2026-03-03 14:30;", "no temperature"),
        ("2026-03-03 14:30;warm", "no temperature"),
        ("2026-03-03 14:30;75", "Is the unit right"),
        ("2026-13-03 14:30;3", "no day"),
        ("2026-03-03;3", "clock time is missing"),
        ("2026-03-03 25:30;3", "no time"),
        ("2027-03-03 14:30;3", "not come yet"),
        ("2024-03-03 14:30;3", "more than a year ago"),
        ("2026-03-01 10:00;9", "Another temperature of the same moment"),
        ("2026-03-01 10:00;3", "same moment and temperature"),
        # In Detroit 02:30 of 8 March 2026 was never on the wall: IANA time zone database.
        ("2026-03-08 02:30;3", "clocks went forward"),
    ],
)
def test_each_line_not_taken_says_why_and_keeps_its_number(line, why):
    found = read(f"2026-03-01 10:00;3\n\n{line}\n2026-03-04 10:00;3")
    assert [row.at.day for row in found.taken] == [1, 4]
    assert [(row.line, row.text) for row in found.left] == [(3, line)]
    assert why in found.left[0].why


def test_over_the_clock_change_the_hours_between_lines_stay_true():
    found = read("2026-03-08 01:30;3\n2026-03-08 03:30;3\n2026-03-08 04:30;3")
    gaps = [(b.at - a.at).total_seconds() / 3600 for a, b in zip(found.taken, found.taken[1:], strict=False)]
    assert gaps == [1, 1]


def test_of_an_hour_that_came_twice_the_order_tells_which():
    # On 1 November 2026 Detroit's clocks showed 01:00 to 02:00 twice: IANA time zone database.
    found = read("2026-11-01 00:30;3\n2026-11-01 01:30;3\n2026-11-01 01:30;4\n2026-11-01 02:30;5")
    hours = [row.at.hour for row in found.taken]
    assert hours == [4, 5, 6, 7]


@pytest.mark.django_db
def test_the_same_series_twice_adds_nothing():
    tank, text = make.tank(), "2026-03-03 14:30;3.5\n2026-03-03 15:30;3.6"
    first = write_series(tank=tank, by=make.dora(), taken=read(text).taken)
    again = write_series(tank=tank, by=make.dora(), taken=read(text).taken)
    assert (first.added, again.added, again.there) == (2, 0, 2)
    assert TankTemperature.objects.count() == 2


@pytest.mark.django_db
def test_a_moment_that_stands_there_with_another_temperature_is_listed():
    tank = make.tank()
    write_series(tank=tank, by=make.dora(), taken=read("2026-03-03 14:30;3.5").taken)
    again = write_series(tank=tank, by=make.dora(), taken=read("2026-03-03 14:30;9.0").taken)
    assert again.added == 0
    assert "3.5" in again.left[0].why
    assert TankTemperature.objects.get().temperature_c == Decimal("3.5")


@pytest.mark.django_db
def test_a_reading_by_hand_sent_twice_is_one():
    tank, when = make.tank(), dt.datetime(2026, 3, 3, 14, 30, tzinfo=dt.UTC)
    sent: dict[str, Any] = {"tank": tank, "by": make.dora(), "temperature_c": Decimal("3.5"), "happened_at": when}
    one_id = write_temperature(**sent).pk
    assert write_temperature(**sent, reading_id=one_id).pk == one_id
    assert TankTemperature.objects.count() == 1


@pytest.mark.django_db
def test_sap_above_freezing_is_not_frozen_right_through():
    with pytest.raises(Refused):
        write_temperature(tank=make.tank(), by=make.dora(), temperature_c=Decimal("0.5"), frozen_solid=True)


@pytest.mark.django_db
def test_a_series_of_thousands_costs_few_queries(django_assert_max_num_queries):
    tank, dora = make.tank(), make.dora()
    start = dt.datetime(2026, 2, 1, tzinfo=dt.UTC)
    text = "\n".join(f"{start + dt.timedelta(minutes=15 * n):%Y-%m-%d %H:%M};3.{n % 10}" for n in range(3_000))
    taken = read(text).taken
    with django_assert_max_num_queries(40):
        assert write_series(tank=tank, by=dora, taken=taken).added == len(taken) > 2_990


def test_a_line_of_a_hundred_thousand_blanks_is_refused_at_once():
    began_s = time.process_time()
    found = read(f"2026-03-03 14:30;3.5{' ' * 100_000}x\n2026-03-03 14:35;3.5")
    assert [row.line for row in found.left] == [1]
    assert [row.line for row in found.taken] == [2]
    assert time.process_time() - began_s < 2
