"""An owner with a private link and no account: on a small screen, without script."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from sugarbush.owners import links
from sugarbush.trees.models import Shown
from tests import make
from tests.browser.walk import measuring

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.django_db(transaction=True)
TARGET_PX, GAP_PX = 56, 12


@pytest.mark.slow
def test_an_owner_agrees_and_stops_on_a_phone_without_script(browser: Browser, live_server: Any) -> None:
    make.season()
    fern, tree = make.owner("Fern Abernathy-Sole", "person"), make.tree(land="private")
    make.owns(tree, fern)
    slip = make.permission(tree, owner=fern, capacity="owner", signed_by="", evidence_note="", state="asked")
    token = links.make_link(owner=fern, by=make.alice(), good_to=make.today() + make.days(9))
    context = browser.new_context(viewport={"width": 360, "height": 640}, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/o/{token}/")
    assert page.url == f"{live_server.url}/my-tree/"
    page.get_by_role("link", name="Read and answer").click()
    page.get_by_label("Your name").fill("Fern Abernathy-Sole")
    for words in ("No", "A jar of it, please", "I have read the words above and agree to them."):
        page.locator("label.pick", has_text=words).first.click()
    page.get_by_role("button", name="I agree").click()
    page.get_by_text("Your yes is kept").wait_for()
    make.tap(tree)
    page.get_by_role("link", name="Please stop").click()
    page.get_by_role("button", name="Yes, please stop").click()
    page.get_by_text(f"Keep the number {slip.number}").wait_for()
    page.get_by_role("link", name="Back to your trees").click()
    page.locator("summary").first.click()
    boxes = measuring.controls(page)
    assert (measuring.too_small(boxes, TARGET_PX), measuring.too_close(boxes, GAP_PX)) == ([], [])
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    context.close()
    tree.refresh_from_db()
    assert tree.shown == Shown.PULL
