"""How a run stands, by the clock: just before, at and after each edge, and on the nights the clocks change."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from sugarbush.gathering.run_state import Standing, cut_off, standing

DETROIT = ZoneInfo("America/Detroit")
FORWARD = dt.date(2026, 3, 8)  # at 02:00 the clocks go to 03:00
BACK = dt.date(2026, 11, 1)  # at 02:00 they go back to 01:00


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


def stands(now: str, latest: str, day: dt.date = FORWARD, said: str | None = "planned", trees=4, visited=0) -> str:
    with timezone.override(DETROIT):
        return standing(
            said=said,
            day=day,
            latest_start=dt.time.fromisoformat(latest),
            now=at(now),
            trees=trees,
            visited=visited,
        )


@pytest.mark.parametrize(
    ("now", "latest", "day", "expected"),
    [
        # 16:00 in winter is 21:00 UTC: an hour before it is soon late, a moment after it late.
        ("2026-03-07T19:59:59", "16:00", FORWARD - dt.timedelta(days=1), "ahead"),
        ("2026-03-07T20:00:00", "16:00", FORWARD - dt.timedelta(days=1), "soon"),
        ("2026-03-07T21:00:00", "16:00", FORWARD - dt.timedelta(days=1), "soon"),
        ("2026-03-07T21:00:01", "16:00", FORWARD - dt.timedelta(days=1), "late"),
        # The day after 16:00 is 20:00 UTC.
        ("2026-03-08T20:00:01", "16:00", FORWARD, "late"),
        # 03:30 comes an hour and ten minutes after 01:20, though the clock on the wall shows two hours and ten.
        ("2026-03-08T06:20:00", "03:30", FORWARD, "ahead"),
        ("2026-03-08T06:30:00", "03:30", FORWARD, "soon"),
        ("2026-03-08T07:30:01", "03:30", FORWARD, "late"),
        # 02:30 does not come that night; it is the moment the old clock would have shown it.
        ("2026-03-08T07:30:00", "02:30", FORWARD, "soon"),
        ("2026-03-08T07:30:01", "02:30", FORWARD, "late"),
        # 01:30 comes twice: the first is meant, so at the second 01:15 it is late.
        ("2026-11-01T05:30:00", "01:30", BACK, "soon"),
        ("2026-11-01T06:15:00", "01:30", BACK, "late"),
        # By the town's day, not by UTC's: 23:30 of the 8th is the 9th in UTC.
        ("2026-03-09T03:30:00", "16:00", FORWARD, "late"),
        ("2026-03-09T04:00:00", "16:00", FORWARD, "missed"),
        ("2026-03-08T04:59:00", "16:00", FORWARD, "ahead"),
    ],
)
def test_late_and_soon_late_are_told_by_the_town_s_clock(now, latest, day, expected):
    assert stands(now, latest, day) == expected


def test_what_was_done_or_said_comes_before_the_clock():
    late = "2026-03-08T23:00:00"
    assert stands(late, "16:00", visited=4) == Standing.DONE
    assert stands(late, "16:00", visited=1) == Standing.PART
    assert stands(late, "16:00", visited=1, said="finished") == Standing.ENDED
    assert stands(late, "16:00", visited=4, said="finished") == Standing.DONE
    assert stands(late, "16:00", visited=4, said="called_off") == Standing.OFF
    assert stands(late, "16:00", said=None) == Standing.UNPLANNED
    # Walked without a plan is walked all the same, and an entry that comes in days later mends a missed day.
    assert stands(late, "16:00", said=None, visited=1) == Standing.PART
    assert stands("2026-03-12T12:00:00", "16:00", visited=4) == Standing.DONE
    assert stands(late, "16:00", trees=0) == Standing.BARE


def test_the_latest_start_is_one_moment_in_utc():
    with timezone.override(DETROIT):
        assert cut_off(FORWARD, dt.time(16)) == at("2026-03-08T20:00:00")
        assert cut_off(BACK, dt.time(16)) == at("2026-11-01T21:00:00")
