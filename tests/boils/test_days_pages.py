"""The boiling day's pages, pressed as their people press them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils import days
from sugarbush.boils.models import Batch, BoilDay, BoilState
from sugarbush.boils.models_pan import Coming, Shift
from sugarbush.sap.ledger import balance_ml
from tests import make
from tests.boils.cast import at, boil_day, fill, form_of, lit_day, token

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def test_a_whole_boiling_day():
    make.season()
    fill(40, "2.0")
    lead = at(make.kai())
    assert lead.post(reverse("boil-day-new"), form_of(two_adults=None, begins="")).status_code == 302
    day = BoilDay.objects.get()
    assert (day.state, day.pan_area_cm2, day.clear_mm) == (BoilState.CALLED, 6_000, 12_000)
    answer = lead.post(reverse("boil-step", args=[day.pk]), {"step": "light"})
    assert answer.status_code == 409
    assert "Two adults for the whole boil are not promised." in words(answer)
    assert "Fewer than two adults are on the crew." in words(answer)
    page = lead.get(reverse("boil-day-edit", args=[day.pk]))
    edition = page.context["form"]["edition"].value()
    answer = lead.post(reverse("boil-day-edit", args=[day.pk]), form_of(begins="", edition=edition))
    assert answer.status_code == 302
    now = timezone.localtime()
    shift: dict[str, Any] = {"begins": f"{now:%Y-%m-%dT%H:%M}", "ends": f"{now + dt.timedelta(hours=4):%Y-%m-%dT%H:%M}"}
    shift |= {"people": [make.kai().pk], "more": [make.alice().pk]}
    assert lead.post(reverse("boil-shift-new", args=[day.pk]), shift).status_code == 302
    assert lead.post(reverse("boil-step", args=[day.pk]), {"step": "light"}).status_code == 302
    sent = {f"tank-{make.tank().pk}": "40", "shown_units": "metric", "token": token()}
    assert lead.post(reverse("day-pan", args=[day.pk]), sent).status_code == 302
    batch = Batch.objects.get()
    for path, given in (
        ("pan-reading", {"temperature": "101.2"}),
        ("pan-draw", {"syrup": "0.9", "syrup_brix": "66.4", "temperature": "103.1"}),
        ("pan-loss", {"volume": "0.2", "cause": "boil-over"}),
        ("pan-close", {}),
    ):
        answer = lead.post(reverse(path, args=[batch.pk]), {**given, "token": token(), "shown_units": "metric"})
        assert answer.status_code == 302, words(answer)
    said = words(lead.get(reverse("batch", args=[batch.pk])))
    assert "0.900" in said
    assert "boil-over" in said
    assert lead.post(reverse("boil-step", args=[day.pk]), {"step": "out"}).status_code == 302
    day.refresh_from_db()
    assert day.state == "out"
    assert lead.get(reverse("boil-day", args=[day.pk])).status_code == 200


def test_the_plan_says_twelve_hours_and_a_quarter_for_three_hundred_litres_on_six_tenths_of_a_square_metre():
    # 300 L - 6.9 L of syrup at 0.6 m2 and 40 L/h/m2: 12.2 h and the heat-up apart; the job's own acceptance check C46.
    make.season()
    day = boil_day(pan_area_cm2=6_000, expected_ml=300_000, fuel="wood_kg", state=BoilState.CALLED)
    page = words(at(make.kai()).get(reverse("boil-day", args=[day.pk])))
    assert "12 h 15 min" in page
    assert "2 h 15 min to heat it up" in page
    assert "4 shifts of two adults" in page
    assert "the usual flat pan: our own batches have not been measured yet" in page
    assert page.count("How this was worked out") >= 5
    # Wood: 260.6 MJ for 100 L at 30 % of 16 MJ/kg is 54.3 kg, trade-facts 6 [C]; three times that is 163 kg.
    assert "163 kg" in page


def test_a_boiling_day_is_planned_in_feet_by_those_who_think_in_feet():
    # 620 ft is 188.98 m, 8 sq ft is 0.7432 m², 15 ft is 4 572 mm: NIST Special Publication 811, appendix B.
    make.season()
    pia = make.person("Pia", "boil_lead", None, units="us")
    sent = form_of(elevation_m="620", pan_area_cm2="8", clear_mm="15", pan_ml_h_m2="1", shown_units="us")
    assert at(pia).post(reverse("boil-day-new"), sent).status_code == 302
    day = BoilDay.objects.get()
    assert (day.elevation_m, day.pan_area_cm2, day.clear_mm, day.pan_ml_h_m2) == (189, 7_432, 4_572, 40_746)
    page = at(pia).get(reverse("boil-day-edit", args=[day.pk]))
    for shown in ('value="620"', 'value="8.00"', 'value="15.0"', 'value="1.00"', ">ft<", ">sq ft<"):
        assert shown in page.content.decode()
    again = sent | {"pan_area_cm2": "8.00", "clear_mm": "15.0", "pan_ml_h_m2": "1.00", "note": "wood is dry"}
    edition = page.context["form"]["edition"].value()
    at(pia).post(reverse("boil-day-edit", args=[day.pk]), {**again, "edition": edition})
    day.refresh_from_db()
    assert (day.elevation_m, day.pan_area_cm2, day.clear_mm, day.pan_ml_h_m2) == (189, 7_432, 4_572, 40_746)
    assert day.note == "wood is dry"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"fire_permit": ""}, "Write the number, or who gave it."),
        ({"clear_mm": ""}, "Write how far the nearest building is."),
        ({"rain_day": "today"}, "The rain date comes after the day."),
        ({"pan_area_cm2": "9000"}, "Look at the number and its unit again."),
        ({"elevation_m": "high"}, "Write a number."),
        ({"begins": "02:30", "day": "2026-03-08"}, "The clocks go forward then: choose another time."),
    ],
)
def test_a_slip_in_the_form_is_named_and_nothing_typed_is_lost(changes, sentence):
    make.programme(time_zone="America/Chicago")
    make.season()
    changes = {name: make.today().isoformat() if value == "today" else value for name, value in changes.items()}
    answer = at(make.kai()).post(reverse("boil-day-new"), form_of(**changes))
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert "Mill Race yard" in words(answer)
    assert not BoilDay.objects.exists()


def test_two_people_change_one_day_and_the_second_sees_what_is_there_now():
    day = boil_day(fire_permit="No. 14", clear_mm=12_000)
    kai, alice = at(make.kai()), at(make.alice())
    seen = [one.get(reverse("boil-day-edit", args=[day.pk])).context["form"]["edition"].value() for one in (kai, alice)]
    assert (
        kai.post(reverse("boil-day-edit", args=[day.pk]), form_of(note="hose froze", edition=seen[0])).status_code
        == 302
    )
    answer = alice.post(reverse("boil-day-edit", args=[day.pk]), form_of(note="cocoa", edition=seen[1]))
    assert answer.status_code == 409
    assert "hose froze" in words(answer)
    assert "cocoa" in words(answer)
    day.refresh_from_db()
    assert day.note == "hose froze"


def test_a_new_day_takes_over_the_last_pan_but_not_its_permission():
    boil_day(fire_permit="No. 14", clear_mm=12_000, pan_area_cm2=7_432)
    form = at(make.kai()).get(reverse("boil-day-new")).context["form"]
    assert form["pan_area_cm2"].value() == "0.74"
    assert not form["fire_permit"].value()
    assert not form["fire_permission"].value()


def test_people_say_that_they_come_and_the_lead_puts_them_on_a_shift():
    day = boil_day(state=BoilState.CALLED)
    bob, kai = at(make.bob()), at(make.kai())
    page = words(bob.get(reverse("boil-day", args=[day.pk])))
    assert "Do you come?" in page
    assert 'value="light"' not in page
    sent = {"answer": "yes", "note": "from noon, with soup"}
    assert bob.post(reverse("boil-come", args=[day.pk]), sent).status_code == 302
    assert "from noon, with soup" in words(kai.get(reverse("boil-day", args=[day.pk])))
    others = words(at(make.mira()).get(reverse("boil-day", args=[day.pk])))
    assert "from noon, with soup" not in others
    assert "1 person comes." in others
    form = kai.get(reverse("boil-shift-new", args=[day.pk])).context["form"]
    assert make.bob() in form.fields["people"].queryset
    bob.post(reverse("boil-come", args=[day.pk]), {"answer": "no", "note": ""})
    assert Coming.objects.get().answer == "no"


def test_who_said_they_come_sees_that_the_day_moved():
    day = boil_day(state=BoilState.CALLED, rain_day=make.today() + make.days(2))
    bob = at(make.bob())
    bob.post(reverse("boil-come", args=[day.pk]), {"answer": "yes", "note": ""})
    sent = {"step": "move", "reason": "A gale from the west."}
    assert at(make.kai()).post(reverse("boil-step", args=[day.pk]), sent).status_code == 302
    page = words(bob.get(reverse("boil-day", args=[day.pk])))
    assert "Moved from" in page
    assert "A gale from the west." in page
    assert "please say it again" in page
    assert "it moved: say it again" in words(bob.get(reverse("boil-days")))
    bob.post(reverse("boil-come", args=[day.pk]), {"answer": "yes", "note": ""})
    assert "please say it again" not in words(bob.get(reverse("boil-day", args=[day.pk])))


def test_a_day_is_called_off_with_its_reason_for_everybody_to_read():
    day = boil_day(state=BoilState.CALLED)
    kai = at(make.kai())
    assert kai.post(reverse("boil-step", args=[day.pk]), {"step": "call_off", "reason": " "}).status_code == 409
    assert kai.post(reverse("boil-step", args=[day.pk]), {"step": "call_off", "reason": "Fire ban."}).status_code == 302
    assert "Fire ban." in words(at(make.bob()).get(reverse("boil-days")))
    assert kai.post(reverse("boil-step", args=[day.pk]), {"step": "light"}).status_code == 409
    assert at(make.bob()).post(reverse("boil-come", args=[day.pk]), {"answer": "yes"}).status_code == 409


@pytest.mark.parametrize("path", ["boil-day-edit", "boil-shift-new"])
def test_a_volunteer_sees_the_day_and_changes_nothing(path):
    day = boil_day()
    bob = at(make.bob())
    assert bob.get(reverse("boil-day", args=[day.pk])).status_code == 200
    assert bob.get(reverse(path, args=[day.pk])).status_code == 403
    assert bob.post(reverse("boil-step", args=[day.pk]), {"step": "light"}).status_code == 403
    assert bob.post(reverse("boil-shifts", args=[day.pk])).status_code == 403
    assert bob.post(reverse("day-pan", args=[day.pk]), {}).status_code == 403


def test_shifts_are_laid_out_for_the_planned_hours_and_gaps_are_named():
    make.season()
    kai = at(make.kai())
    begins = timezone.now().replace(hour=8, minute=0, second=0, microsecond=0)
    day = boil_day(pan_area_cm2=6_000, expected_ml=300_000, starts_at=begins, state=BoilState.CALLED)
    assert kai.post(reverse("boil-shifts", args=[day.pk])).status_code == 302
    assert kai.post(reverse("boil-shifts", args=[day.pk])).status_code == 302
    assert day.shifts.count() == 4
    first = day.shifts.first()
    first.people.set([make.kai(), make.alice()])
    page = words(kai.get(reverse("boil-day", args=[day.pk])))
    assert "Not two adults at the pan" in page
    assert "two adults are needed" in page
    for shift in day.shifts.all():
        shift.people.set([make.kai(), make.alice()])
    assert "Two adults stand at the pan the whole day." in words(kai.get(reverse("boil-day", args=[day.pk])))


def test_a_shift_is_changed_and_taken_off():
    day = boil_day(state=BoilState.CALLED)
    kai = at(make.kai())
    sent = {"begins": "2026-03-12T09:00", "ends": "2026-03-12T13:00", "task": "fire", "people": [make.kai().pk]}
    for _twice in range(2):
        kai.post(reverse("boil-shift-new", args=[day.pk]), sent)
    shift = Shift.objects.get()
    path = reverse("boil-shift", args=[day.pk, shift.pk])
    assert kai.post(path, {**sent, "ends": "2026-03-12T08:00"}).status_code == 409
    assert kai.post(path, {**sent, "task": "stoking"}).status_code == 302
    shift.refresh_from_db()
    assert (shift.task, list(shift.people.all())) == ("stoking", [make.kai()])
    assert kai.post(path, {"step": "remove"}).status_code == 302
    assert not Shift.objects.exists()


def test_the_sheet_says_who_where_when_and_what_to_have():
    make.season()
    day = boil_day(pan_area_cm2=6_000, expected_ml=300_000, fuel="propane_l", fire_permit="No. 14", clear_mm=12_000)
    page = words(at(make.bob()).get(reverse("boil-day-sheet", args=[day.pk])))
    for said in ("Mill Race yard", "12 h 15 min", "propane", "clean jars", "No. 14", "12 m away", "Draw off at"):
        assert said in page


def test_a_day_with_many_shifts_asks_no_more_than_one_with_few(django_assert_max_num_queries):
    day = boil_day(pan_area_cm2=6_000, expected_ml=300_000, state=BoilState.CALLED)
    for n in range(12):
        begins = timezone.now() + dt.timedelta(hours=n)
        shift = Shift.objects.create(boil_day=day, begins=begins, ends=begins + dt.timedelta(hours=1))
        shift.people.set([make.kai(), make.alice()])
        days.say(day=day, by=make.person(f"Wim {n}"), answer="yes")
    kai = at(make.kai())
    with django_assert_max_num_queries(45):
        kai.get(reverse("boil-day", args=[day.pk]))


def test_a_form_that_starts_a_batch_twice_starts_one():
    fill(40, "2.0")
    day = lit_day()
    kai = at(make.kai())
    sent = {f"tank-{make.tank().pk}": "30", "shown_units": "metric", "token": token()}
    first = kai.post(reverse("day-pan", args=[day.pk]), sent)
    again = kai.post(reverse("day-pan", args=[day.pk]), sent)
    assert first["Location"] == again["Location"]
    assert Batch.objects.count() == 1
    assert balance_ml(make.tank()) == 10_000
