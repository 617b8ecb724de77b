"""When something happened, by a phone whose clock may be wrong. Ten minutes: the programme's own rule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sugarbush.phone.clock import NOTABLE_MS, Contact, when

MINUTE, HOUR, DAY, YEAR = 60_000, 3_600_000, 86_400_000, 31_557_600_000
NOW = 1_773_000_000_000  # 8 March 2026, 20:00 UTC


def told(
    *, ago: int, off: int = 0, off_at_contact: int | None = None, contact_ago: int = DAY, waited: int | None = None
):
    """An entry written `ago` before now on a phone that is `off` behind when it writes and sends."""
    then = off if off_at_contact is None else off_at_contact
    contact = Contact(server_ms=NOW - contact_ago, phone_ms=NOW - contact_ago - then)
    return when(said_ms=NOW - ago - then, phone_now_ms=NOW - off, server_now_ms=NOW, contact=contact, waited_ms=waited)


def test_a_right_clock_is_believed_to_the_millisecond():
    assert told(ago=5 * HOUR + 123) == when(said_ms=NOW - 5 * HOUR - 123, phone_now_ms=NOW, server_now_ms=NOW)
    assert told(ago=5 * HOUR + 123).at_ms == NOW - 5 * HOUR - 123
    assert not told(ago=5 * HOUR).notable


@pytest.mark.parametrize(("off", "notable"), [(NOTABLE_MS, False), (NOTABLE_MS + 1, True), (-NOTABLE_MS - 1, True)])
def test_ten_minutes_off_is_let_pass_and_a_moment_more_is_not(off, notable):
    assert told(ago=HOUR, off=off).notable is notable


@pytest.mark.parametrize("off", [DAY, -DAY, 10 * YEAR, -10 * YEAR])
def test_a_day_or_ten_years_off_is_set_right_and_flagged(off):
    found = told(ago=3 * HOUR, off=off)
    assert found.notable
    assert found.at_ms == NOW - 3 * HOUR
    assert found.off_ms == off


def test_a_clock_that_somebody_set_right_meanwhile_is_told_by_the_last_contact():
    found = told(ago=3 * HOUR, off=0, off_at_contact=10 * YEAR)
    assert found.notable
    assert found.at_ms == NOW - 3 * HOUR


def test_nothing_happens_later_than_it_was_sent_or_before_the_last_contact():
    assert told(ago=-4 * MINUTE).at_ms == NOW
    assert not told(ago=-4 * MINUTE).notable
    strange = when(
        said_ms=0, phone_now_ms=NOW, server_now_ms=NOW, contact=Contact(server_ms=NOW - DAY, phone_ms=NOW - DAY)
    )
    assert (strange.at_ms, strange.notable) == (NOW - DAY, True)


def test_a_clock_that_cannot_be_set_says_how_long_it_waited_at_least():
    # The wall clock was put back three hours after the entry was written: it looks newer than it can be.
    found = told(ago=HOUR, waited=4 * HOUR)
    assert (found.at_ms, found.notable) == (NOW - 4 * HOUR, True)


@given(
    said=st.integers(-(10**15), 10**15),
    phone=st.integers(-(10**15), 10**15),
    contact=st.none()
    | st.builds(Contact, server_ms=st.integers(-(10**15), 10**15), phone_ms=st.integers(-(10**15), 10**15)),
    waited=st.none() | st.integers(-(10**15), 10**15),
)
def test_whatever_a_phone_says_the_time_is_one_that_can_be_kept(said, phone, contact, waited):
    found = when(said_ms=said, phone_now_ms=phone, server_now_ms=NOW, contact=contact, waited_ms=waited)
    assert -62_135_596_800_000 <= found.at_ms <= NOW
