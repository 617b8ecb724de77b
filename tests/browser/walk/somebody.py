"""One person at one screen: opens pages, presses what stands on them, and looks hard at each page that comes."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from axe_playwright_python.sync_playwright import Axe

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Locator, Page, Response

# WALK_PICTURES=folder keeps a picture of every page, for somebody to look at.
PICTURES = os.environ.get("WALK_PICTURES")
DESK, PHONE = (1280, 800), (360, 640)
# What must hold for everybody: WCAG 2.2 AA and below, and what axe itself counts as good habits.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
NUMBERS = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|(?<=/)[A-Z]{2,}-\w+|\d+")
LINKS = re.compile(r"/sign-in/[^/]+")
READ = """() => [...document.querySelectorAll("select")]
  .reduce((all, one) => all.replace(one.innerText, " "), document.body.innerText)"""
_looked_at: set[tuple[str, str, int, str]] = set()


class Somebody:
    """A person with a browser of their own. Everything the console says by the end is in `said`."""

    def __init__(self, browser: Browser, address: str, name: str, size: tuple[int, int] = DESK, **how: Any) -> None:
        self.name, self.size, self.address = name, size, address
        self.scheme: str = how.get("color_scheme", "light")
        self.scripts: bool = how.get("java_script_enabled", True)
        self.context = browser.new_context(
            base_url=address,
            viewport={"width": size[0], "height": size[1]},
            locale="en-US",
            has_touch=size == PHONE,
            **how,
        )
        self.context.set_default_timeout(20_000)
        self.page: Page = self.context.new_page()
        self.said: list[str] = []
        self.status = 0
        self._expected: int | None = None
        self.pictures = 0
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda wrong: self.said.append(f"{self.page.url}: {wrong}"))
        self.page.on("response", self._answered)

    def _heard(self, message: ConsoleMessage) -> None:
        # Chromium writes a line for every answer of 400 and more; whether that was meant is judged by the status.
        if not message.text.startswith("Failed to load resource"):
            self.said.append(f"{self.page.url}: {message.type}: {message.text}")

    def _answered(self, response: Response) -> None:
        is_page = response.request.is_navigation_request()
        if is_page and not 300 <= response.status < 400:
            self.status = response.status
        if response.status >= 400 and not (is_page and response.status == self._expected):
            self.said.append(f"{response.request.method} {response.url} answered {response.status}")

    @contextlib.contextmanager
    def refused(self, status: int) -> Iterator[None]:
        """What is done inside shall be refused with this status."""
        self._expected = status
        yield
        assert self.status == status, f"{self.page.url} answered {self.status}, not {status}"
        self._expected = None

    def go(self, path: str) -> Somebody:
        self.page.goto(path)
        return self.look()

    def press(self, words: str, *, within: str = "main", exact: bool = True) -> Somebody:
        """Press a button or follow a link that carries these words, and look at the page that comes."""
        place = self.page.locator(within)
        found = place.get_by_role("button", name=words, exact=exact).or_(
            place.get_by_role("link", name=words, exact=exact)
        )
        return self.follow(found.first)

    def follow(self, found: Locator) -> Somebody:
        with self.page.expect_navigation():
            found.click()
        return self.look()

    def unfold(self, words: str) -> None:
        """Open what is folded away under these words, if it is not open yet."""
        fold = self.page.locator("details", has=self.page.locator("summary", has_text=words)).last
        if fold.get_attribute("open") is None:
            fold.locator("summary").first.click()

    def fill(self, **fields: str) -> None:
        """Fill fields by their names in the form, as a person would: type, choose or tick."""
        for name, value in fields.items():
            field = self.page.locator(f"main [name='{name}']:not([type=hidden])")
            kind = field.first.evaluate("(e) => e.type")
            if kind in {"radio", "checkbox"} and value:
                self.page.locator(f"main [name='{name}'][value='{value}']").check()
            elif kind in {"radio", "checkbox"}:
                field.first.check()
            elif kind.startswith("select"):
                field.first.select_option(label=value)
            else:
                field.first.fill(value)

    @property
    def words(self) -> str:
        """What the page says, spaces evened out; what could be chosen from lists left out."""
        return " ".join(self.page.evaluate(READ).split())

    def says(self, words: str) -> None:
        assert words in self.words, f"{self.page.url} does not say “{words}”:\n{self.words[:1500]}"

    def figure(self, words: str) -> str:
        """The number that stands under these words, without its unit."""
        named = self.page.locator("dl.figures > div", has=self.page.get_by_text(words, exact=True))
        return re.sub(r"[^\d.]", "", named.locator("dd").first.inner_text())

    def look(self) -> Somebody:
        """Judge the page that stands here: it came, nothing sticks out sideways, and axe finds nothing serious."""
        self.page.wait_for_load_state("load")
        heading = self.page.locator("h1").first.inner_text() if self.page.locator("h1").count() else ""
        path = LINKS.sub("/sign-in/LINK", NUMBERS.sub("N", self.page.url.removeprefix(self.address).split("?")[0]))
        self._picture(path)
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= self.size[0], f"{self.page.url} is {wide} px wide on a screen of {self.size[0]} px"
        kind = (path, NUMBERS.sub("N", heading), self.size[0], self.scheme)
        if self.scripts and kind not in _looked_at:  # axe is itself a script
            _looked_at.add(kind)
            assert serious(self.page) == []
        return self

    def _picture(self, path: str) -> None:
        if PICTURES:
            self.pictures += 1
            slug = re.sub(r"\W+", "-", path).strip("-") or "today"
            name = f"{self.name.split()[0].lower()}-{self.pictures:02}-{slug}-{self.size[0]}-{self.scheme}.png"
            self.page.screenshot(path=Path(PICTURES) / name, full_page=True)

    def close(self) -> None:
        self.context.close()


def serious(page: Page) -> list[str]:
    """What axe finds on the page that keeps somebody out: serious and critical, with the place and the reason."""
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]})
    return [
        f"{page.url}: {each['id']} ({each['impact']}): {each['help']}: "
        + "; ".join(f"{node['html'][:160]} [{node.get('failureSummary', '')[:200]}]" for node in each["nodes"][:4])
        for each in found.response["violations"]
        if each["impact"] in {"serious", "critical"}
    ]
