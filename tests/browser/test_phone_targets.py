"""The round's pages on a phone in the cold: big targets well apart, the act under the thumb, numbers that can be read.

The sizes are the programme's own rule for gloves; WCAG 2.2 asks for 24 px (SC 2.5.8), and for 7:1 only at AAA (1.4.6).
"""

from __future__ import annotations

import pytest

from sugarbush.gathering.models import Collection
from sugarbush.trees import shown
from sugarbush.trees.models import Tree
from tests import make
from tests.browser.conftest import At
from tests.browser.walk import measuring
from tests.browser.walk.somebody import PHONE, Somebody

pytestmark = pytest.mark.django_db(transaction=True)
TARGET_PX, GAP_PX = 56, 12
# 200 % on a phone of 640 px, and the narrowest screen WCAG 1.4.10 names.
NARROW = (320, 640)


@pytest.fixture
def trees() -> list[Tree]:
    """Three of Bob's trees: one visited today, one to come, one to pull."""
    make.bob()
    visited, to_come = (make.tapped_tree(address=f"{n} Larkspur Street", side="N", nth=1) for n in (9, 12))
    make.collection(visited, litres="6.5")
    pull = make.tapped_tree(address="31 Larkspur Street", access_note="Ring at number 31. The dog is kind.")
    pull.life = "excluded"
    pull.save()
    shown.refresh([pull.pk])
    return [visited, to_come, pull]


def round_pages(trees: list[Tree]) -> list[str]:
    to_come, pull = (tree.code for tree in trees[1:])
    entry = Collection.objects.get().pk
    return ["/log/", f"/log/{to_come}/", f"/log/{to_come}/sap/", f"/log/{pull}/", f"/log/entry/{entry}/"]


def opened(who: Somebody, path: str) -> Somebody:
    """A page with all that is folded away on it unfolded."""
    who.go(path)
    for fold in who.page.locator("main details:not([open]) > summary").all():
        fold.click()
    return who


@pytest.mark.parametrize("size", [PHONE, pytest.param(NARROW, marks=pytest.mark.slow)])
def test_every_control_of_the_round_is_big_and_well_apart(at: At, trees: list[Tree], size: tuple[int, int]) -> None:
    bob = at(make.bob(), size)
    for path in round_pages(trees):
        boxes = measuring.controls(opened(bob, path).page)
        assert len(boxes) > 2
        assert (path, measuring.too_small(boxes, TARGET_PX)) == (path, [])
        assert (path, measuring.too_close(boxes, GAP_PX)) == (path, [])


def test_the_main_act_lies_under_the_thumb_without_scrolling(at: At, trees: list[Tree]) -> None:
    bob = at(make.bob(), PHONE)
    for path in round_pages(trees)[:3]:
        bob.go(path)
        act = bob.page.locator("main .act.main").bounding_box()
        assert act is not None
        assert act["y"] >= 0.4 * PHONE[1]
        assert act["y"] + act["height"] <= PHONE[1]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_number_of_the_round_can_be_read_in_the_glare(at: At, trees: list[Tree], scheme: str) -> None:
    bob = at(make.bob(), PHONE, color_scheme=scheme)
    for path in round_pages(trees):
        assert (path, measuring.hard_to_read(opened(bob, path).page, 7.0)) == (path, [])


def test_nothing_is_cut_off_when_letters_are_twice_their_size(at: At, trees: list[Tree]) -> None:
    bob = at(make.bob(), PHONE)
    for path in round_pages(trees):
        bob.go(path)
        bob.page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert bob.page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], path
        cut = bob.page.evaluate(
            """() => [...document.querySelectorAll("main :is(button, a, label, h1, p)")]
                 .filter((e) => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0
                   && getComputedStyle(e).display !== "inline" && getComputedStyle(e).overflowX !== "visible")
                 .map((e) => e.innerText)"""
        )
        assert (path, cut) == (path, [])


def test_from_the_round_sap_is_saved_in_four_touches(at: At, trees: list[Tree]) -> None:
    bob = at(make.bob(), PHONE)
    page = bob.go("/log/").page
    touches = [".act.main:has-text('Next:')", ".act.main:has-text('Log sap')", "[data-ml='4000']", "#save"]
    for touch in touches:
        page.locator(touch).tap()
        page.wait_for_load_state("load")
    page.wait_for_selector("text=Saved: 4.00 L, 12 Larkspur Street.")
    assert len(touches) <= 4
    assert Collection.objects.filter(tree=trees[1]).values_list("volume_ml", flat=True).get() == 4_000


@pytest.mark.parametrize("words", ["Empty", "Frozen", "Can’t get in", "Pail gone", "Not safe"])
def test_a_visit_without_sap_is_two_touches(at: At, trees: list[Tree], words: str) -> None:
    bob = at(make.bob(), PHONE)
    page = bob.go("/log/").page
    page.locator(".act.main:has-text('Next:')").tap()
    page.get_by_role("button", name=words).tap()
    page.wait_for_selector(f"text=Saved: {words}")
    assert Collection.objects.filter(tree=trees[1]).count() == 1
