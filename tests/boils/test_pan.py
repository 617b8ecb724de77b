"""Beside the pan: when to draw off, what is still to go, and looks that count once."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from django.utils import timezone

from sugarbush.boils import looks, pan
from sugarbush.boils.batches import close_batch, open_batch
from sugarbush.boils.draw_offs import draw_off
from sugarbush.boils.models import Batch
from sugarbush.boils.models_pan import DrawOff, PanReading
from sugarbush.parts.reasons import Refused
from tests import make
from tests.boils.cast import ago, at, boil_day, fill, lit_day, open_pan, token

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


@pytest.mark.parametrize(("syrup_brix", "finish_c"), [("66.0", 103.1), ("66.9", 103.3)])
def test_water_that_boils_at_99_1_finishes_syrup_at_103_1_or_103_3(syrup_brix, finish_c):
    # The job's acceptance check C48; published elevation of 7.1 to 7.5 °F, trade-facts 5.2 [R2].
    make.season(syrup_brix=Decimal(syrup_brix))
    day = pan.measure_water(day=boil_day(), by=make.kai(), boils_c=Decimal("99.1"))
    water = pan.water_today(day)
    assert water.is_measured
    assert round(water.finish_c, 1) == finish_c
    page = words(at(make.kai()).get(reverse("day-pan", args=[day.pk])))
    assert str(finish_c) in page


@pytest.mark.parametrize(("syrup_brix", "litres"), [("66.0", "5.07"), ("66.9", "4.99")])
def test_two_hundred_litres_at_2_2_brix_promise_5_07_or_4_99_litres(syrup_brix, litres):
    # The job's acceptance check C48; exact mass balance, trade-facts 4.2 [C].
    make.season(syrup_brix=Decimal(syrup_brix))
    make.tank(capacity_ml=250_000)
    batch = open_pan(200, "2.2")
    assert f"{pan.sugar_promise(batch) / 1000:.2f}" == litres
    assert litres in words(at(make.kai()).get(reverse("pan", args=[batch.pk])))


def test_without_boiling_water_the_height_speaks_and_the_page_says_so():
    # 250 m: 99.144 °C in the standard atmosphere, trade-facts 5.1 [C] with the iapws library.
    make.season()
    day = boil_day(elevation_m=250)
    water = pan.water_today(day)
    assert not water.is_measured
    assert water.boils_c == pytest.approx(99.144, abs=0.005)
    assert "By height alone" in words(at(make.kai()).get(reverse("day-pan", args=[day.pk])))


def test_yesterdays_boiling_water_does_not_count():
    make.season()
    day = pan.measure_water(day=boil_day(), by=make.kai(), boils_c=Decimal("97.0"), at=ago(60 * 25))
    assert not pan.water_today(day).is_measured


def test_a_thermometer_far_from_the_height_is_asked_about_and_may_be_right():
    day = lit_day(elevation_m=250)
    kai = at(make.kai())
    path = reverse("day-water", args=[day.pk])
    answer = kai.post(path, {"water": "95", "shown_units": "metric"})
    assert answer.status_code == 422
    assert "is this right?" in words(answer)
    stands = answer.context["form"].questions[0].answer
    assert kai.post(path, {"water": "95", "shown_units": "metric", "stands": stands}).status_code == 302
    day.refresh_from_db()
    assert day.water_boils_c == Decimal("95.0")


def test_the_pans_thermometer_tells_its_sugar():
    # 60 Brix boils 2.938 °C above water at 101 325 Pa, trade-facts 5.2 [C]; a tenth of a degree is about half a Brix.
    make.season()
    water = pan.water_today(boil_day(elevation_m=0))
    assert pan.brix_from_boiling(boils_c=water.boils_c + 2.938, water=water) == pytest.approx(60.0, abs=0.1)
    assert pan.brix_from_boiling(boils_c=water.boils_c + 0.3, water=water) is None


def test_litres_and_minutes_to_go_are_the_cores_own():
    # 10 L at 30 Brix on 0.6 m²: 6.15 kg of water, 15 minutes at 40 L/h/m²: the core's own worked example.
    batch = open_pan(160, "2.0", pan_area_cm2=6_000)
    looks.look(batch=batch, by=make.kai(), sugar_brix=Decimal("30.0"))
    shown = pan.pan_now(batch)
    # The sugar of 160 L at 2.0 Brix is 3.219 kg (20.119 g in a litre, trade-facts 2.2 [C]): at 30 Brix 10.73 kg.
    assert shown.volume_ml == pytest.approx(3.219 / 0.30 / 1.1270 * 1000, rel=0.001)
    assert shown.to_go is not None
    assert shown.to_go.water_kg == pytest.approx(10.73 * (1 - 30 / 66), rel=0.001)
    assert shown.to_go.boiling_min == pytest.approx(14.7, abs=0.1)
    assert (shown.brix_basis, shown.volume_basis) == ("reading", "sugar")


def test_by_the_stick_alone_the_sugar_is_worked_out():
    batch = open_pan(160, "2.0", pan_area_cm2=6_000)
    looks.look(batch=batch, by=make.kai(), volume_ml=10_000)
    shown = pan.pan_now(batch)
    # 3.219 kg of sugar in 10 L of boiling liquid: 1.075 kg/L at 100 °C and 30 Brix, so about 29.9 Brix.
    assert shown.brix_now == pytest.approx(29.9, abs=0.3)
    assert shown.brix_basis == "stick"


def test_syrup_drawn_off_takes_the_sugar_of_syrup_with_it():
    batch = open_pan(160, "2.0", pan_area_cm2=6_000)
    whole = pan.pan_now(batch).syrup_to_come_ml
    draw_off(batch=batch, by=make.kai(), syrup_ml=1_000, syrup_brix=Decimal("66.0"))
    assert pan.pan_now(batch).syrup_to_come_ml == pytest.approx(whole - 1_000, abs=1)


def test_thicker_than_syrup_says_draw_off_now_and_a_thin_layer_is_warned_of():
    batch = open_pan(40, "2.0", pan_area_cm2=6_000)
    looks.look(batch=batch, by=make.kai(), sugar_brix=Decimal("70.0"))
    page = words(at(make.kai()).get(reverse("pan", args=[batch.pk])))
    assert "draw off now" in page
    assert "Very shallow" in page


def test_without_the_pans_area_the_page_says_what_it_needs():
    batch = open_pan(8)
    page = words(at(make.kai()).get(reverse("pan", args=[batch.pk])))
    assert "Write down the pan’s area" in page
    assert "not known" in page


# Looks ----------------------------------------------------------------------------


def test_a_look_sent_twice_counts_once_and_an_old_one_keeps_its_time():
    batch = open_pan(8)
    Batch.objects.filter(pk=batch.pk).update(opened_at=ago(60))
    kai = at(make.kai())
    before = PanReading.objects.count()
    sent = {"token": token(), "ago_s": "600"}
    for _twice in range(2):
        answer = kai.post(reverse("pan-look", args=[batch.pk]), sent, headers={"Accept": "application/json"})
        assert answer.json() == {"saved": True, "said": ""}
    assert PanReading.objects.count() == before + 1
    look = PanReading.objects.get(pk=sent["token"])
    assert look.happened_at == pytest.approx(ago(10), abs=dt.timedelta(seconds=20))


def test_pressed_without_script_the_look_leads_back_to_the_pan():
    batch = open_pan(8)
    answer = at(make.kai()).post(reverse("pan-look", args=[batch.pk]), {"token": token()})
    assert answer["Location"] == reverse("pan", args=[batch.pk])
    bad = at(make.kai()).post(
        reverse("pan-look", args=[batch.pk]), {"token": "x"}, headers={"Accept": "application/json"}
    )
    assert bad.status_code == 422


def test_a_look_from_before_the_end_is_kept_and_one_from_after_is_not():
    fill(8, "2.0")
    batch = open_batch(day=lit_day(), by=make.kai(), takes=[(make.tank(), 8_000)], opened_at=ago(120))
    close_batch(batch=batch, by=make.kai(), syrup_ml=100, closed_at=ago(30))
    looks.look(batch=batch, by=make.kai(), at=ago(40))
    with pytest.raises(Refused) as refused:
        looks.look(batch=batch, by=make.kai(), at=ago(10))
    assert [reason.code for reason in refused.value.reasons] == ["closed"]
    kai = at(make.kai())
    answer = kai.post(reverse("pan-look", args=[batch.pk]), {"token": token()}, headers={"Accept": "application/json"})
    assert answer.status_code == 409
    assert kai.get(reverse("pan", args=[batch.pk]))["Location"] == reverse("batch", args=[batch.pk])


def test_who_stands_on_a_shift_looks_after_the_pan_and_nobody_else():
    batch = open_pan(8)
    with pytest.raises(PermissionDenied):
        looks.look(batch=batch, by=make.bob())
    assert at(make.bob()).post(reverse("pan-look", args=[batch.pk]), {"token": token()}).status_code == 403
    shift = batch.boil_day.shifts.create(begins=ago(10), ends=timezone.now() + dt.timedelta(hours=1))
    shift.people.add(make.bob())
    bob = at(make.bob())
    assert bob.post(reverse("pan-look", args=[batch.pk]), {"token": token()}).status_code == 302
    sent = {"token": token(), "temperature": "101.5", "shown_units": "metric"}
    assert bob.post(reverse("pan-reading", args=[batch.pk]), sent).status_code == 302
    page = words(bob.get(reverse("pan", args=[batch.pk])))
    assert "Pan looked at" in page
    assert "Bob on watch." in page
    assert "Draw off</a>" not in page
    for path in ("pan-draw", "pan-sap", "pan-loss", "pan-close"):
        assert bob.get(reverse(path, args=[batch.pk])).status_code == 403


def test_other_screens_hear_how_long_ago_the_last_look_was():
    batch = open_pan(8)
    Batch.objects.filter(pk=batch.pk).update(opened_at=ago(30))
    PanReading.objects.all().delete()
    looks.look(batch=Batch.objects.get(pk=batch.pk), by=make.kai(), at=ago(7))
    now = at(make.dora()).get(reverse("pan-now", args=[batch.pk])).json()
    assert now["ago_s"] == pytest.approx(420, abs=20)
    assert now["open"] is True


def test_a_reading_says_something_and_is_not_still_to_come():
    batch = open_pan(8)
    kai, path = at(make.kai()), reverse("pan-reading", args=[batch.pk])
    assert kai.post(path, {"token": token(), "shown_units": "metric"}).status_code == 422
    later = f"{timezone.localtime() + dt.timedelta(hours=2):%Y-%m-%dT%H:%M}"
    answer = kai.post(path, {"token": token(), "temperature": "101", "when": later, "shown_units": "metric"})
    assert answer.status_code == 422
    assert "That is still to come." in words(answer)


# Draw-offs on the page --------------------------------------------------------------


def test_litres_typed_for_gallons_are_asked_about():
    batch = open_pan(40, "2.0")
    kai, path = at(make.kai()), reverse("pan-draw", args=[batch.pk])
    sent = {"token": token(), "syrup": "3.5", "syrup_brix": "66.5", "shown_units": "metric"}
    answer = kai.post(path, sent)
    assert answer.status_code == 422
    assert "is more than the sugar in the pan makes" in words(answer)
    assert kai.post(path, {**sent, "syrup": "0.9"}).status_code == 302
    assert kai.post(path, {**sent, "syrup": "0.9"}).status_code == 302
    drawn = DrawOff.objects.get()
    assert (drawn.volume_ml, drawn.lot.code) == (900, f"{make.today():%y}-001")
    assert "In lot" in words(kai.get(reverse("pan", args=[batch.pk])))


def test_late_sap_asks_for_a_name_and_a_reason_on_the_page():
    fill(8, "2.0", when=timezone.now() - dt.timedelta(days=8))
    day = lit_day()
    kai, path = at(make.kai()), reverse("day-pan", args=[day.pk])
    assert "is past its boil-by" in words(kai.get(path))
    sent = {"token": token(), f"tank-{make.tank().pk}": "8", "shown_units": "metric"}
    answer = kai.post(path, {**sent, "approver": make.alice().pk})
    assert answer.status_code == 409
    assert "Not poured" in words(answer)
    assert kai.post(path, {**sent, "approver": make.bob().pk, "reason": "fine"}).status_code == 422
    answer = kai.post(path, {**sent, "approver": make.alice().pk, "reason": "Clear and sweet."})
    assert answer.status_code == 302
    page = words(kai.get(reverse("batch", args=[Batch.objects.get().pk])))
    assert "past its boil-by; Alice: Clear and sweet." in page


def test_a_burnt_batch_is_closed_on_the_page_only_with_what_happened():
    batch = open_pan(8)
    kai, path = at(make.kai()), reverse("pan-close", args=[batch.pk])
    assert kai.post(path, {"token": token()}).status_code == 409
    assert kai.post(path, {"token": token(), "lost": "on"}).status_code == 422
    answer = kai.post(path, {"token": token(), "lost": "on", "loss_reason": "Scorched while nobody looked."})
    assert answer.status_code == 302
    page = words(kai.get(reverse("batch", args=[batch.pk])))
    assert "Scorched while nobody looked." in page
    assert "from A" in page


def test_a_batch_with_many_looks_asks_no_more_than_one_with_few(django_assert_max_num_queries):
    batch = open_pan(8, pan_area_cm2=6_000)
    for _ in range(30):
        looks.look(batch=batch, by=make.kai(), token=uuid.uuid4())
    kai = at(make.kai())
    for path in ("pan", "batch"):
        with django_assert_max_num_queries(36):
            kai.get(reverse(path, args=[batch.pk]))
