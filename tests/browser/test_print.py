"""On paper: no acts, all tables opened, nothing but black on white."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests import make
from tests.browser.conftest import At

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)
ACTS = """() => [...document.querySelectorAll(".act, button, nav, .skip, .pages")]
  .filter((e) => e.checkVisibility({visibilityProperty: true}))
  .map((e) => e.innerText || e.tagName)"""


def on_paper(page: Page) -> None:
    page.emulate_media(media="print")
    assert page.evaluate(ACTS) == []
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground in {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}


def test_a_trees_page_prints_its_life_and_no_acts(at: At) -> None:
    tree = make.tapped_tree(address="12 Larkspur Street")
    make.collection(tree, litres="6.5", brix="2.1")
    alice = at(make.alice(), color_scheme="dark")
    alice.go(f"/trees/{tree.code}/")
    on_paper(alice.page)
    alice.says("12 Larkspur Street")
    alice.says("How this was worked out")
    assert alice.page.locator(".worked > div").first.is_visible()


def test_the_season_prints_its_sums_and_no_acts(at: At) -> None:
    make.collection(litres="6.5", brix="2.1")
    alice = at(make.alice())
    alice.go("/season/")
    on_paper(alice.page)
    alice.says("Closes to the millilitre.")
    # What is folded away on the screen stands open on paper.
    assert alice.page.locator("main details table").count() > 0
    assert all(table.is_visible() for table in alice.page.locator("main details table").all())
