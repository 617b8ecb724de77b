"""Beside the pan: the clock calls when nobody has looked, with signal or without, and no look is lost.

The sizes are the programme's own rule for gloves; WCAG 2.2 asks for 24 px (SC 2.5.8), and for 7:1 only at AAA (1.4.6).
"""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.utils import timezone

from sugarbush.boils import looks
from sugarbush.boils.models import Batch
from sugarbush.boils.models_pan import PanReading
from tests import make
from tests.boils.cast import boil_day, open_pan
from tests.browser.conftest import At
from tests.browser.walk import measuring
from tests.browser.walk.somebody import PHONE, Somebody

pytestmark = pytest.mark.django_db(transaction=True)
TARGET_PX, GAP_PX = 56, 12
MINUTES = 60_000


@pytest.fixture
def batch() -> Batch:
    """A pan filled just now, on a day whose water was measured."""
    return open_pan(40, "2.0", pan_area_cm2=6_000)


def at_the_pan(who: Somebody, batch: Batch) -> Somebody:
    who.page.clock.install()
    return who.go(f"/batches/{batch.pk}/pan/")


def pass_minutes(who: Somebody, minutes: int) -> None:
    who.page.clock.fast_forward(minutes * MINUTES)
    who.page.wait_for_timeout(50)


def ground(who: Somebody) -> str:
    return str(who.page.evaluate("getComputedStyle(document.body).backgroundColor"))


def test_after_ten_minutes_the_whole_screen_calls_and_a_press_quiets_it(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai(), PHONE), batch)
    calm = ground(kai)
    # Without signal, so that the server's clock, which does not run ahead, says nothing.
    kai.context.set_offline(True)
    pass_minutes(kai, 9)
    assert kai.page.inner_text(".due .dial").split() == ["1", "min"]
    assert ground(kai) == calm
    pass_minutes(kai, 3)
    kai.says("Look at the pan now")
    kai.says("Nobody has looked for 12 min.")
    assert ground(kai) != calm
    assert kai.page.title().startswith("12 min!")
    assert kai.page.locator("[role=alert]").inner_text() != ""
    assert measuring.hard_to_read(kai.page, 7.0) == []
    kai.page.get_by_role("button", name="Pan looked at").tap()
    kai.says("Look at the pan by")
    assert ground(kai) == calm


def test_looks_pressed_without_signal_are_sent_later_with_their_times(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai(), PHONE), batch)
    before = PanReading.objects.count()
    kai.context.set_offline(True)
    pass_minutes(kai, 4)
    kai.page.get_by_role("button", name="Pan looked at").tap()
    pass_minutes(kai, 6)
    kai.page.get_by_role("button", name="Pan looked at").tap()
    kai.page.wait_for_selector("text=2 looks wait to be sent.")
    assert PanReading.objects.count() == before
    kai.context.set_offline(False)
    with kai.page.expect_response(re.compile("/look/")):
        kai.page.evaluate("dispatchEvent(new Event('online'))")
    kai.page.wait_for_selector("[data-waits]", state="hidden")
    times = list(PanReading.objects.order_by("-recorded_at").values_list("happened_at", flat=True)[:2])
    assert PanReading.objects.count() == before + 2
    # The batch began before either; the page's clock ran ahead of the server's by ten minutes, so ages are what counts.
    assert all(time >= batch.opened_at for time in times)
    # Sent once more by a page that is opened again: nothing is left to send.
    kai.go(f"/batches/{batch.pk}/pan/")
    assert PanReading.objects.count() == before + 2


@pytest.mark.slow
def test_the_call_comes_after_the_minutes_somebody_chose(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai(), PHONE), batch)
    kai.page.select_option("[data-every]", "5")
    kai.context.set_offline(True)
    pass_minutes(kai, 6)
    kai.says("Look at the pan now")
    kai.context.set_offline(False)
    kai.go(f"/batches/{batch.pk}/pan/")
    assert kai.page.input_value("[data-every]") == "5"


@pytest.mark.slow
def test_sound_is_silent_until_somebody_switches_it_on(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai(), PHONE), batch)
    button = kai.page.get_by_role("button", name="Sound on")
    assert button.get_attribute("aria-pressed") == "false"
    button.tap()
    assert kai.page.get_by_role("button", name="Sound off").get_attribute("aria-pressed") == "true"


@pytest.mark.slow
def test_another_screen_hears_of_a_look_and_draws_the_new_reading(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai()), batch)
    looks.look(batch=batch, by=make.kai(), temperature_c=Decimal("101.6"))
    with kai.page.expect_response(re.compile("/now/")):
        pass_minutes(kai, 1)
    kai.page.wait_for_selector("text=101.6")


@pytest.mark.slow
def test_whoever_asks_for_less_motion_sees_no_flash(at: At, batch: Batch) -> None:
    kai = at_the_pan(at(make.kai(), PHONE, reduced_motion="reduce"), batch)
    kai.context.set_offline(True)
    pass_minutes(kai, 12)
    kai.says("Look at the pan now")
    assert kai.page.evaluate("document.getAnimations().length") == 0


def test_without_script_the_page_says_when_somebody_looked_and_the_button_works(at: At, batch: Batch) -> None:
    kai = at(make.kai(), PHONE, java_script_enabled=False)
    kai.go(f"/batches/{batch.pk}/pan/")
    kai.says("Last look")
    before = PanReading.objects.count()
    kai.press("Pan looked at")
    assert PanReading.objects.count() == before + 1


@pytest.mark.parametrize(
    "size", [PHONE, *(pytest.param(size, marks=pytest.mark.slow) for size in ((320, 640), (1280, 800)))]
)
def test_every_control_at_the_pan_is_big_and_well_apart(at: At, batch: Batch, size: tuple[int, int]) -> None:
    kai = at(make.kai(), size)
    day = boil_day()
    pages = [f"/batches/{batch.pk}/pan/{act}" for act in ("", "reading/", "sap/", "draw/", "loss/", "close/")]
    for path in [*pages, f"/boil-days/{batch.boil_day_id}/water/", f"/boil-days/{day.pk}/pan/"]:
        kai.go(path)
        boxes = measuring.controls(kai.page)
        assert (path, measuring.too_small(boxes, TARGET_PX)) == (path, [])
        assert (path, measuring.too_close(boxes, GAP_PX)) == (path, [])
        assert kai.page.evaluate("document.documentElement.scrollWidth") <= size[0], path


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.slow)])
def test_every_number_at_the_pan_can_be_read_through_steam(at: At, batch: Batch, scheme: str) -> None:
    kai = at(make.kai(), PHONE, color_scheme=scheme)
    kai.go(f"/batches/{batch.pk}/pan/")
    assert measuring.hard_to_read(kai.page, 7.0) == []
    assert kai.page.locator(".dial").first.evaluate("(e) => parseFloat(getComputedStyle(e).fontSize)") >= 56


@pytest.mark.slow
def test_both_dials_and_the_four_acts_stand_on_the_first_screen_of_a_phone(at: At, batch: Batch) -> None:
    kai = at(make.kai(), PHONE)
    kai.go(f"/batches/{batch.pk}/pan/")
    for words in ("Pan looked at", "Log a reading", "Add sap", "Draw off"):
        named = kai.page.get_by_role("button", name=words).or_(kai.page.get_by_role("link", name=words))
        box = named.first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= PHONE[1], words


def test_the_plan_prints_on_one_sheet(at: At) -> None:
    day = boil_day(pan_area_cm2=6_000, expected_ml=300_000, fuel="wood_kg", fire_permit="No. 14", clear_mm=12_000)
    begins = timezone.now()
    for n in range(4):
        from_, to = begins + dt.timedelta(hours=4 * n), begins + dt.timedelta(hours=4 * n + 4)
        day.shifts.create(begins=from_, ends=to, task="fire and pan").people.set([make.kai(), make.alice()])
    kai = at(make.kai())
    kai.go(f"/boil-days/{day.pk}/sheet/")
    sheet = kai.page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    kai.page.emulate_media(media="print")
    assert kai.page.locator(".act:visible, nav:visible").count() == 0
