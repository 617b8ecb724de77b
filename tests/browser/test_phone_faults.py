"""What can go wrong between a phone and us, each with a real browser: nothing is lost, nothing is there twice."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.phone import views_shell
from tests import make
from tests.browser.conftest import Pick
from tests.browser.walk.pocket import Pocket

pytestmark = pytest.mark.django_db(transaction=True)


def round_of(many: int) -> None:
    for n in range(many):
        make.tapped_tree(longitude=make.CENTRE[0] + n * 0.0005, address=f"{n + 1} Larkspur Street")


def times(phone: Pocket) -> list[int]:
    return [row["happened_ms"] for row in phone.kept()]


def times_on_the_server() -> list[int]:
    return [
        round(at.timestamp() * 1000)
        for at in Collection.objects.order_by("happened_at").values_list("happened_at", flat=True)
    ]


def test_twelve_trees_in_aeroplane_mode_and_a_killed_browser_are_twelve_entries_once_each(pocket: Pick) -> None:
    round_of(12)
    phone = pocket(on_disk=True).take_along(make.bob())
    phone.signal(False)
    phone.go()
    for n in range(12):
        if n % 3:
            phone.press("Frozen" if n % 2 else "Empty")
            phone.wait_for_strip(f"{n + 1} waiting")
        else:
            phone.log_sap()
    written = times(phone)
    assert (len(written), Collection.objects.count()) == (12, 0)
    phone.kill()

    phone.open(online=False).go("#entries")
    phone.wait_for_strip("12 waiting to send")
    phone.signal(True)
    phone.sign_in(make.bob())  # a killed browser forgets the newest cookies
    for _ in range(3):
        phone.page.evaluate("dispatchEvent(new Event('online'))")
        button = phone.page.get_by_role("button", name="Send now")
        if button.is_visible():
            button.tap()
    phone.wait_for_strip("All sent")
    assert times_on_the_server() == written
    assert set(Collection.objects.values_list("state", flat=True)) == {CollectionState.COUNTED}


def test_an_answer_lost_after_the_entries_were_stored_doubles_nothing(pocket: Pick) -> None:
    round_of(3)
    phone = pocket().take_along(make.bob())
    lost: list[int] = []

    def lose(route: Any) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    phone.context.route("**/round/outbox/", lose)
    phone.press("Frozen")
    phone.wait_for_strip("1 waiting to send")
    phone.wait_for_strip("No signal")
    assert (lost, Collection.objects.count()) == ([200], 1)
    phone.go("#entries").press("Send now")
    phone.wait_for_strip("All sent")
    assert Collection.objects.count() == 1


@pytest.mark.slow
def test_an_entry_that_may_have_arrived_is_taken_back_by_a_second_one(pocket: Pick) -> None:
    round_of(2)
    phone = pocket().take_along(make.bob())

    def lose(route: Any) -> None:
        if route.request.method == "POST":
            route.fetch()
            route.abort()
        else:
            route.continue_()

    phone.context.route("**/round/outbox/", lose)
    phone.press("Frozen")
    phone.wait_for_strip("No signal")
    phone.press("Undo")
    phone.wait_for_strip("2 waiting")
    assert [row["kind"] for row in phone.kept()] == ["visit", "undo"]
    phone.context.unroute("**/round/outbox/")
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.go("#entries")
    phone.wait_for_strip("All sent")
    assert [row.state for row in Collection.objects.all()] == [CollectionState.VOID]


@pytest.mark.slow
def test_the_queue_waits_for_its_writer_and_goes_with_nobody_else(pocket: Pick) -> None:
    round_of(2)
    phone = pocket().take_along(make.bob())
    phone.signal(False)
    phone.press("Frozen").wait_for_strip("1 waiting")
    Session.objects.all().delete()
    phone.signal(True)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.wait_for_strip("Sign in to send them")

    phone.sign_in(make.mira())
    phone.go("#entries")
    phone.wait_for_strip("1 of somebody else")
    assert not Collection.objects.exists()
    packs = phone.page.evaluate("import('/static/js/phone/disk.js').then((disk) => disk.packs())")
    assert [kept["pack"]["person"]["name"] for kept in packs] == ["Mira"]

    phone.sign_in(make.bob())
    phone.go("#entries")
    phone.wait_for_strip("Nothing waits here")
    assert [row.person for row in Collection.objects.all()] == [make.bob()]


@pytest.mark.slow
def test_a_full_phone_says_so_at_once_and_keeps_nothing_by_half(pocket: Pick) -> None:
    round_of(2)
    phone = pocket().take_along(make.bob())
    phone.signal(False)
    phone.page.evaluate(
        """() => {
          const add = IDBObjectStore.prototype.add;
          IDBObjectStore.prototype.add = function (...what) {
            // As a full disk does it: the write is taken, the transaction then fails as a whole.
            const asked = add.apply(this, what);
            const { transaction } = this;
            Object.defineProperty(transaction, "error", { value: new DOMException("full", "QuotaExceededError") });
            asked.onsuccess = () => transaction.abort();
            return asked;
          };
        }"""
    )
    phone.press("Log sap")
    phone.page.locator("[data-ml]").nth(3).tap()
    phone.page.locator("#save").tap()
    phone.page.get_by_role("alert").filter(has_text="This phone is full: nothing was saved.").wait_for()
    assert phone.page.input_value("[name=volume]") == "8"
    assert phone.kept() == []
    assert phone.strip.startswith("✓ All sent")
    phone.page.reload()
    phone.page.locator("[data-ml]").nth(3).tap()
    phone.page.locator("#save").tap()
    phone.wait_for_strip("1 waiting")


@pytest.mark.slow
def test_a_new_version_while_twenty_wait_takes_nothing_from_under_the_fingers(
    pocket: Pick, monkeypatch: pytest.MonkeyPatch
) -> None:
    tree = make.tapped_tree()
    phone = pocket().take_along(make.bob())
    phone.signal(False)
    phone.write_many(20, tree.code)
    phone.wait_for_strip("20 waiting")
    phone.page.evaluate("(code) => { location.hash = `#${code}/sap` }", tree.code)
    phone.page.fill("[name=volume]", "4.5")
    phone.page.evaluate("window.same = true")
    monkeypatch.setattr(views_shell, "version", lambda: "the-next-one")
    phone.context.route("**/round/outbox/", lambda route: route.abort())
    phone.signal(True)
    phone.page.evaluate("navigator.serviceWorker.ready.then((one) => one.update()).then(() => true)")
    phone.page.get_by_text("A newer version is ready. Nothing is lost.").wait_for()
    assert phone.page.input_value("[name=volume]") == "4.5"
    assert phone.page.evaluate("window.same") is True
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Use it now").tap()
    phone.page.wait_for_selector("body[data-ready]")
    assert phone.page.evaluate("caches.keys()") == ["round-the-next-one"]
    assert len(phone.kept()) == 20
    phone.context.unroute("**/round/outbox/")
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.go("#entries")
    phone.wait_for_strip("All sent")
    assert Collection.objects.count() == 20


@pytest.mark.parametrize("days", [1, pytest.param(3653, marks=pytest.mark.slow)])
@pytest.mark.slow
def test_a_phone_with_a_wrong_clock_is_told_and_its_entry_looked_at_with_our_time(pocket: Pick, days: int) -> None:
    round_of(2)
    phone = pocket()
    phone.context.add_init_script(
        f"""{{ const now = Date.now; const off = {days} * 86400000;
              Date.now = () => now() - off; }}"""
    )
    phone.take_along(make.bob())
    phone.page.get_by_text("This phone’s clock is wrong by").wait_for()
    phone.press("Frozen")
    phone.wait_for_strip("1 to be looked at")
    entry = Collection.objects.get()
    assert entry.state == CollectionState.REVIEW
    assert abs(entry.happened_at - timezone.now()) < dt.timedelta(minutes=1)


@pytest.mark.slow
def test_two_tabs_send_each_entry_once(pocket: Pick) -> None:
    tree = make.tapped_tree()
    phone = pocket().take_along(make.bob())
    other = phone.context.new_page()
    phone.listen(other)
    other.goto("/round/#entries")
    other.wait_for_selector("body[data-ready]")
    sent: list[str] = []

    def heard(request: Any) -> None:
        if request.method == "POST" and "outbox" in request.url:
            sent.extend(entry["id"] for entry in json.loads(request.post_data)["entries"])

    phone.context.on("request", heard)
    phone.signal(False)
    phone.write_many(10, tree.code)
    other.locator("#strip").filter(has_text="10 waiting").wait_for()
    phone.signal(True)
    for page in (phone.page, other):
        page.evaluate("dispatchEvent(new Event('online'))")
    for page in (phone.page, other):
        page.locator("#strip").filter(has_text="All sent").wait_for()
    assert (Collection.objects.count(), len(set(sent))) == (10, 10)
    assert len(sent) == 10


@pytest.mark.slow
def test_a_round_that_had_no_contact_for_a_week_is_put_away_and_the_entries_are_not(pocket: Pick) -> None:
    round_of(2)
    phone = pocket().take_along(make.bob())
    phone.signal(False)
    phone.press("Frozen").wait_for_strip("1 waiting")
    for days, there in ((6.9, True), (7.1, False)):
        phone.page.evaluate(
            """(days) => import('/static/js/phone/disk.js').then((disk) =>
                 disk.setNote("contact", { server_ms: 0, phone_ms: Date.now() - days * 86400000 }))""",
            days,
        )
        phone.page.reload()
        phone.page.wait_for_selector("body[data-ready]")
        assert phone.page.get_by_text("no contact for 7 days").is_visible() is not there
    assert "Larkspur" not in phone.page.inner_text("body")
    phone.wait_for_strip("1 waiting")
    phone.signal(True)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.wait_for_strip("All sent")
    phone.page.get_by_text("Larkspur").first.wait_for()


@pytest.mark.slow
def test_signing_out_warns_of_what_waits_and_leaves_nothing_of_the_round(pocket: Pick) -> None:
    round_of(2)
    phone = pocket().take_along(make.bob())
    phone.signal(False)
    phone.press("Frozen").wait_for_strip("1 waiting")
    phone.context.route("**/round/outbox/", lambda route: route.abort())
    phone.signal(True)
    phone.page.goto("/me/")
    asked: list[str] = []

    def stay(box: Any) -> None:
        asked.append(box.message)
        box.dismiss()

    phone.page.once("dialog", stay)
    phone.page.get_by_role("button", name="Sign out").first.click()
    phone.page.wait_for_timeout(200)
    phone.page.once("dialog", stay)
    phone.page.get_by_role("button", name="Sign out everywhere").click()
    phone.page.wait_for_timeout(200)
    assert [words.split(".")[0] for words in asked] == ["1 entry waits on this phone and is not sent"] * 2
    phone.page.once("dialog", lambda box: box.accept())
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Sign out").first.click()
    assert phone.page.url.endswith("/sign-in/")
    left = phone.page.evaluate(
        """async () => {
             const disk = await import('/static/js/phone/disk.js');
             let text = JSON.stringify([await disk.packs(), await disk.note("here"), await disk.note("news")]);
             for (const name of await caches.keys())
               for (const one of await (await caches.open(name)).keys())
                 text += await (await (await caches.open(name)).match(one)).text();
             return text;
           }"""
    )
    assert "Larkspur" not in left
    assert len(phone.kept()) == 1
