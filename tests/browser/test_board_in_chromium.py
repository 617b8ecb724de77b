"""The board in a real Chromium: it looks again by itself, and never under somebody's fingers."""

from __future__ import annotations

import datetime as dt

import pytest

from sugarbush.gathering import round_acts, run_acts
from sugarbush.gathering.models import Round, RoundRun
from tests import make
from tests.browser.conftest import At
from tests.browser.walk.somebody import PHONE

pytestmark = pytest.mark.django_db(transaction=True)


def river_side() -> Round:
    """A round of two trees, late since midnight, given to Bob; Anna stands by."""
    trees = [make.tapped_tree() for _ in range(2)]
    found = round_acts.make_round(
        season=make.season(),
        group=make.group(),
        by=make.lena(),
        name="River side",
        latest_start=dt.time(0),
        trees=trees,
    )
    run_acts.give_runs(
        found=found,
        by=make.lena(),
        first=make.today(),
        last=make.today(),
        walks=[make.bob()],
        standby=[make.person("Anna")],
    )
    return found


def test_the_board_looks_again_by_itself_and_keeps_the_focus(at: At) -> None:
    found = river_side()
    trees = [stop.tree for stop in found.stops.all()]
    lena, bob = make.lena(), make.bob()
    who = at(lena, color_scheme="dark")
    page = who.page
    page.clock.install()
    who.go("/rounds/")
    who.says("Late")
    link, words = page.locator(f"#round-{found.pk}"), page.locator("#board-words summary")
    words.click()
    link.focus()
    make.collection(trees[0], by=bob, litres="4.5")
    with page.expect_response(lambda answer: "part=1" in answer.url):
        page.clock.run_for(65_000)
    page.get_by_text("Part done").wait_for()
    who.says("4.50L")
    assert page.evaluate("document.activeElement.id") == f"round-{found.pk}"
    assert page.locator("#board-words").get_attribute("open") is not None
    who.look()
    make.collection(trees[1], by=bob, litres="2")
    with page.expect_response(lambda answer: "part=1" in answer.url):
        page.clock.run_for(65_000)
    page.locator("[data-standing=done]").wait_for()


@pytest.mark.slow
def test_the_pages_of_rounds_are_within_reach_at_both_sizes(at: At) -> None:
    found = river_side()
    run = RoundRun.objects.get().pk
    who, phone, bob = at(make.lena()), at(make.lena(), PHONE), at(make.bob(), PHONE)
    pages = [
        "/rounds/",
        f"/rounds/{found.pk}/",
        "/rounds/all/",
        "/rounds/new/",
        "/rounds/split/",
        f"/rounds/run/{run}/",
    ]
    for path in [*pages, "/rounds/rota/", "/"]:
        who.go(path)
        phone.go(path)
    bob.go("/my-rounds/")
