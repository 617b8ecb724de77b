"""The town's files."""

from __future__ import annotations

from pathlib import Path

from tests.browser.walk.somebody import Somebody

READING_WAIT_MS = 60_000


def look_at_file(who: Somebody, page: str, file: Path) -> None:
    """Bring a file on one of the pages for it, and see what would come of it."""
    who.go("/trees/").press("Town’s files").press(page)
    who.page.set_input_files("main input[type=file]", file)
    who.press("Look at this file")


def take(who: Somebody, words: str) -> None:
    """Take it in, and watch the background work come to its end on the page."""
    who.press(words)
    who.says("How far it is")
    assert who.page.locator("progress").count() == 1
    who.page.wait_for_selector("text=What came of it", timeout=READING_WAIT_MS)
    who.look()
