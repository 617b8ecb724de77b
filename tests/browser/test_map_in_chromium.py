"""The map in a real Chromium: drawing round trees, the same by keyboard, a new tree's place, and a silent console."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import expect

from sugarbush.trees.models import StreetLine, Tree
from sugarbush.volunteers.models import Person
from tests import make

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.django_db(transaction=True)
Opened = Callable[..., "Page"]
VIEW = "/map/?west=-87.352&south=47.0485&east=-87.348&north=47.0515"


@pytest.fixture
def opened(browser: Browser, live_server: Any) -> Iterator[Opened]:
    """Open a page as somebody; whatever the console says by the end fails the test."""
    said: list[str] = []
    contexts = []

    def open_page(person: Person, path: str, *, wide: int = 1280, high: int = 800, scheme: Any = "light") -> Page:
        client = Client()
        client.force_login(person)
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": wide, "height": high}, color_scheme=scheme
        )
        contexts.append(context)
        name = settings.SESSION_COOKIE_NAME
        context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(path)
        page.wait_for_selector("#map-acts:not([hidden])")
        page.wait_for_load_state("networkidle")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert said == []


@pytest.fixture
def street() -> list[Tree]:
    """Nine trees in three rows of three about the middle of the view, and a street through them."""
    make.season()
    make.programme(west=-87.36, south=47.04, east=-87.34, north=47.06)
    StreetLine.objects.create(
        name="Larkspur Street", points=[[-87.352, 47.05], [-87.348, 47.05]], digest="1",
        west=-87.352, south=47.05, east=-87.348, north=47.05,
    )  # fmt: skip
    return [
        make.tree(
            longitude=-87.35 + x * 0.0005, latitude=47.05 + y * 0.0005, address=f"{3 * (y + 1) + x + 2} Heron Row"
        )
        for y in (-1, 0, 1)
        for x in (-1, 0, 1)
    ]


def _middle(page: Page) -> tuple[float, float]:
    box = page.locator("#map").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _wait_for(page: Page, words: str) -> None:
    expect(page.locator("#chosen-count")).to_have_text(words)


@pytest.mark.parametrize(
    ("wide", "high", "scheme"),
    [
        pytest.param(1280, 800, "light", marks=pytest.mark.slow),
        pytest.param(1280, 800, "dark", marks=pytest.mark.slow),
        (360, 640, "light"),
    ],
)
def test_the_map_page_is_within_reach_of_everybody(
    opened: Opened, street: list[Tree], wide: int, high: int, scheme: str
) -> None:
    page = opened(make.alice(), f"{VIEW}&open={street[4].code}", wide=wide, high=high, scheme=scheme)
    assert page.inner_text("#lh") == "9 trees in view"
    assert page.evaluate("document.documentElement.scrollWidth") <= wide
    # The whole map is in sight before anything is scrolled; the key is folded away on a phone only.
    drawn = page.locator("#map").bounding_box()
    assert drawn is not None
    assert drawn["y"] + drawn["height"] <= high
    assert page.locator("#which .rail").is_visible() == (wide > 640)
    found = Axe().run(page)
    assert [each["id"] for each in found.response["violations"]] == []


def test_a_line_drawn_round_trees_chooses_them_and_the_group_gets_them(opened: Opened, street: list[Tree]) -> None:
    page = opened(make.alice(), VIEW)
    x, y = _middle(page)
    page.click("[data-map=lasso]")
    page.mouse.move(x - 40, y - 40)
    page.mouse.down()
    for to_x, to_y in ((40, -40), (40, 40), (-40, 40), (-40, -30)):
        page.mouse.move(x + to_x, y + to_y, steps=5)
    page.mouse.up()
    _wait_for(page, "1 tree chosen")
    assert page.locator("#list input:checked").input_value() == street[4].code
    make.group("Mill Race")
    page.reload()
    page.wait_for_load_state("networkidle")
    # The same without a drag: two corners of a box, pressed one after the other.
    page.click("[data-map=box]")
    page.mouse.click(x - 40, y - 40)
    page.mouse.click(x + 40, y + 40)
    _wait_for(page, "1 tree chosen")
    page.select_option("#chosen-group", label="Mill Race")
    page.click("summary:has-text('Other acts')")
    page.click("text=Put into the group")
    page.wait_for_selector("text=1 tree is now in Mill Race.")
    street[4].refresh_from_db()
    assert street[4].group == make.group("Mill Race")


def test_the_keyboard_does_in_the_list_what_the_map_does(opened: Opened, street: list[Tree]) -> None:
    page = opened(make.lena(), VIEW)
    page.focus("#list input >> nth=0")
    page.keyboard.press("Space")
    _wait_for(page, "1 tree chosen")
    page.focus("[data-choose-all]")
    page.keyboard.press("Enter")
    _wait_for(page, "9 trees chosen")
    assert page.inner_text("#give") == "Give 9 trees to North Bank"
    page.focus("#list a[data-code] >> nth=0")
    page.keyboard.press("Enter")
    page.wait_for_selector("#card .gate")
    assert page.evaluate("document.activeElement.id") == "card"
    page.focus("#map")
    for _ in range(3):
        page.keyboard.press("+")  # the chosen stay chosen when the view changes
    expect(page.locator("#lh")).not_to_have_text("9 trees in view")
    assert page.inner_text("#chosen-count") == "9 trees chosen"
    page.focus("[data-choose-none]")
    page.keyboard.press("Enter")
    _wait_for(page, "None chosen yet.")


def test_a_new_trees_place_is_set_by_steps_of_a_metre(opened: Opened, street: list[Tree]) -> None:
    page = opened(make.bob(), VIEW)
    page.click("summary:has-text('Other acts')")
    page.click("[data-map=place]")
    before = page.get_attribute("#placing-go", "href") or ""
    page.click("[data-nudge=north]")
    after = page.get_attribute("#placing-go", "href") or ""

    def place(href: str) -> dict[str, float]:
        return {name: float(value) for name, value in (pair.split("=") for pair in href.split("?")[1].split("&"))}

    assert place(before)["lon"] == place(after)["lon"]
    # A degree of latitude is 111.2 km on a sphere of the earth's mean radius (IUGG), so a metre is 0.000009 degrees.
    assert place(after)["lat"] - place(before)["lat"] == pytest.approx(1 / 111_195, rel=0.02)
    page.keyboard.press("Escape")
    assert page.is_hidden("#placing")
