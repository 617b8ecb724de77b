"""Shifts, gaps, minors, the rain date and the clock change; what a day's plan works with."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from sugarbush.boils import days, plan, shifts
from sugarbush.boils.batches import close_batch, open_batch
from sugarbush.boils.models import BoilState
from sugarbush.boils.models_pan import Shift
from sugarbush.core.boilplan import Pan, boil_plan
from sugarbush.parts.reasons import Refused
from sugarbush.volunteers.models import CredentialKind
from tests import make
from tests.boils.cast import ago, boil_day, fill, lit_day

pytestmark = pytest.mark.django_db
CHICAGO = ZoneInfo("America/Chicago")


def at(hour: int, minute: int = 0, day: int = 12) -> dt.datetime:
    return dt.datetime(2026, 3, day, hour, minute, tzinfo=dt.UTC)


def keep(day, begins, ends, *people):
    return shifts.keep_shift(day=day, by=make.kai(), begins=begins, ends=ends, people=people)


def gaps(day, begins, ends):
    found = shifts.gaps(list(day.shifts.prefetch_related("people")), begins, ends)
    return [(gap.begins.hour, gap.ends.hour, gap.adults) for gap in found]


def test_every_hour_without_two_adults_is_a_gap():
    day = boil_day()
    keep(day, at(8), at(12), make.kai(), make.alice())
    keep(day, at(11), at(14), make.bob())
    keep(day, at(13), at(16), make.dora())
    # 8 to 12 two stand there, until 13 Bob alone, until 14 Bob and Dora, until 16 Dora alone, then nobody.
    assert gaps(day, at(7), at(18)) == [(7, 8, 0), (12, 13, 1), (14, 16, 1), (16, 18, 0)]


def test_the_fire_waits_until_the_shift_of_this_hour_has_two_adults():
    day = boil_day()
    codes = lambda: [reason.code for reason in days.why_not_lit(day, make.kai())]  # noqa: E731
    shift = keep(day, timezone.now() + dt.timedelta(hours=1), timezone.now() + dt.timedelta(hours=3), make.kai())
    assert codes() == ["crew"]
    shift = keep(day, ago(10), timezone.now() + dt.timedelta(minutes=30), make.kai())
    assert codes() == ["crew"]
    shift.people.add(make.alice())
    assert codes() == []


def test_somebody_under_eighteen_stands_only_beside_two_screened_adults_and_with_consent():
    day = boil_day()
    wim = make.person("Wim", age_band="youth")

    def why(*people):
        with pytest.raises(Refused) as refused:
            keep(day, at(8), at(12), wim, *people)
        return [reason.code for reason in refused.value.reasons]

    assert why(make.alice()) == ["consent", "adults"]
    make.person("Wim", credentials=[CredentialKind.GUARDIAN])
    assert why(make.alice()) == ["adults"]
    assert why(make.alice(), make.kai()) == ["screening"]
    keep(day, at(8), at(12), wim, make.alice(), make.lena())  # both are screened: tests/make.py
    assert Shift.objects.count() == 1


def test_a_shift_ends_after_it_begins_and_tires_nobody():
    day = boil_day()
    for ends in (at(8), at(7), at(21)):
        with pytest.raises(Refused) as refused:
            keep(day, at(8), ends, make.kai())
        assert [reason.code for reason in refused.value.reasons] == ["times"]


def test_a_day_that_is_over_keeps_its_shifts():
    day = boil_day(state=BoilState.OUT)
    with pytest.raises(Refused):
        keep(day, at(8), at(12), make.kai())


def test_the_rain_date_keeps_the_clock_when_the_clocks_change_between():
    # In Chicago the clocks go forward on 8 March 2026 at 2 in the morning: IANA time zone database.
    make.programme(time_zone="America/Chicago")
    with timezone.override(CHICAGO):
        begins = dt.datetime(2026, 3, 7, 9, tzinfo=CHICAGO)
        day = boil_day(day=begins.date(), rain_day=dt.date(2026, 3, 8), starts_at=begins, water_boils_c=Decimal("99.1"))
        keep(day, begins.astimezone(dt.UTC), (begins + dt.timedelta(hours=4)).astimezone(dt.UTC), make.kai())
        days.move_to_rain_day(day=day, by=make.kai(), reason="Gale.")
        day.refresh_from_db()
        shift = day.shifts.get()
        assert (day.day, day.rain_day, day.water_boils_c) == (dt.date(2026, 3, 8), None, None)
        assert timezone.localtime(day.starts_at).hour == 9
        assert (timezone.localtime(shift.begins).hour, timezone.localtime(shift.ends).hour) == (9, 13)
        assert day.starts_at is not None
        assert (day.starts_at - begins).total_seconds() / 3600 == 23


def test_a_plan_across_the_clock_change_ends_by_hours_that_pass_not_by_the_wall():
    make.programme(time_zone="America/Chicago")
    make.season()
    with timezone.override(CHICAGO):
        begins = dt.datetime(2026, 3, 7, 20, tzinfo=CHICAGO)
        day = boil_day(day=begins.date(), starts_at=begins, pan_area_cm2=6_000, expected_ml=300_000)
        worked = plan.plan_of(day)
        ends = worked.ends(day)
        assert ends is not None
        assert worked.boil is not None
        assert (ends - begins.astimezone(dt.UTC)).total_seconds() == pytest.approx(worked.boil.total_h * 3600)
        # 12.24 h of boiling, 2.23 h of heat-up, 1 h of lighting and clearing are 15.46 h: until 12:27 by summer time.
        assert f"{timezone.localtime(ends):%H:%M}" == "12:27"


def test_a_day_is_not_moved_or_called_off_once_the_fire_burns():
    day = lit_day(rain_day=make.today() + make.days(1))
    with pytest.raises(Refused):
        days.move_to_rain_day(day=day, by=make.kai(), reason="Gale.")
    with pytest.raises(Refused):
        days.put_out(day=day, by=make.kai(), called_off=True, reason="Gale.")


def test_without_a_rain_date_the_day_does_not_move():
    with pytest.raises(Refused) as refused:
        days.move_to_rain_day(day=boil_day(), by=make.kai(), reason="Gale.")
    assert [reason.code for reason in refused.value.reasons] == ["no-rain-day"]


def test_a_planned_day_is_called_once():
    day = boil_day()
    assert days.call(day=day, by=make.kai()).state == BoilState.CALLED
    assert days.call(day=day, by=make.kai()).state == BoilState.CALLED
    with pytest.raises(Refused):
        days.call(day=lit_day(), by=make.kai())


def test_our_own_measured_rate_wins_over_the_flat_pan_and_a_typed_one_over_both():
    # By hand: 100 L of 2 Brix take 260.6 MJ, 220.6 MJ of it steam (97.74 kg x 2.2565 MJ/kg), trade-facts 6 [C].
    # 97.7 L driven off in 5 h, of that 5 x 220.6 / 260.6 = 4.23 h at the boil, on 0.6 m2: 38.5 L/h/m2.
    fill(100, "2.0")
    day = lit_day(pan_area_cm2=6_000)
    assert plan.rate_for(day).basis == "flat"
    batch = open_batch(day=day, by=make.kai(), takes=[(make.tank(), 100_000)], opened_at=ago(300))
    close_batch(batch=batch, by=make.kai(), syrup_ml=2_300)
    rate = plan.rate_for(day)
    assert (rate.basis, rate.batches, rate.same_pan) == ("measured", 1, True)
    assert rate.l_h_m2 == pytest.approx(38.5, abs=0.1)
    assert not plan.rate_for(boil_day(site="Lantern Green", pan_area_cm2=9_000)).same_pan
    day.pan_ml_h_m2 = 45_000
    assert plan.rate_for(day) == plan.Rate(l_h_m2=45.0, basis="typed")


@pytest.mark.parametrize("slip", [(100_000, 97_700, 0.01, 0.6), (100_000, 97_700, 900, 0.6), (100_000, 0, 5, 0.6)])
def test_a_batch_with_a_slip_in_its_hours_measures_no_pan(slip):
    assert plan.measured_rate([slip]) is None


def test_the_plan_is_the_cores_own_for_sap_in_tanks_and_still_to_come():
    make.season()
    fill(100, "2.2")
    day = boil_day(pan_area_cm2=6_000, expected_ml=100_000, fuel="propane_l")
    worked = plan.plan_of(day)
    own = boil_plan(sap_ml=200_000, sap_brix=2.2, pans=[Pan(name="x", area_m2=0.6)])
    assert worked.boil is not None
    assert worked.boil.boiling_h == pytest.approx(own.boiling_h, rel=1e-6)
    # 200 L at 2.2 Brix: 5.07 L at 66.0, the job's check C48 and trade-facts 4.2 [C].
    assert worked.syrup_ml == pytest.approx(5_070, abs=5)
    # 20.4 L of propane for 100 L at 2 Brix, trade-facts 6 [C]; twice as much sap takes twice as much.
    assert worked.fuel is not None
    assert worked.fuel.amount == pytest.approx(40.8, rel=0.01)
    assert (worked.filters, worked.jars("metric"), worked.jars("us")) == (3, 12, 12)


def test_a_plan_says_what_it_lacks():
    make.season()
    assert "No sap" in plan.plan_of(boil_day(pan_area_cm2=6_000)).missing
    assert "area" in plan.plan_of(boil_day(expected_ml=10_000)).missing
