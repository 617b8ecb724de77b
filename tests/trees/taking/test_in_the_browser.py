"""Bringing in a tree file with a real Chromium: console and axe stay clean at desk and phone width."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from playwright.sync_api import Browser, Page, expect

from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.taking import run as engine
from tests import make
from tests.trees.taking.making import row, rows, write_csv

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZES = {"desk": (1280, 800), "phone": (360, 640)}


def opened(browser: Browser, live_server: Any, size: str, told: list[str]) -> Page:
    """A page signed in as Alice, which notes what the console says."""
    alice = make.alice()
    session = SessionStore()
    session[SESSION_KEY] = str(alice.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = alice.get_session_auth_hash()
    session.save()
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=live_server.url)
    context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": str(session.session_key), "url": live_server.url}]
    )
    page = context.new_page()
    page.on("console", lambda message: told.append(message.text))
    page.on("pageerror", lambda why: told.append(str(why)))
    return page


def looked_over(page: Page, name: str) -> None:
    if folder := os.environ.get("SHOTS"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    # Nothing but a table in its own frame may be wider than the page.
    too_wide = page.evaluate(
        "[...document.querySelectorAll('body *')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1"
        " && !e.closest('.wide, nav, .away, .skip')).map((e) => e.outerHTML.slice(0, 120))"
    )
    assert too_wide == [], name


@pytest.mark.parametrize("size", ["phone", pytest.param("desk", marks=pytest.mark.slow)])
def test_a_file_from_upload_to_report(
    browser: Browser, live_server: Any, tmp_path: Path, size: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    make.season()
    lines = [*rows(30), row("0031", status="Stump"), row("0032", size="7/6/5", status="Dead")]
    path = write_csv(tmp_path, [*lines, *rows(400, first=100)])
    told: list[str] = []
    page = opened(browser, live_server, size, told)
    page.goto("/files/")
    looked_over(page, f"files-empty-{size}")
    page.goto("/files/new/")
    looked_over(page, f"new-{size}")
    page.get_by_label("The file").set_input_files(path)
    page.get_by_role("button", name="Look at this file").click()
    expect(page.get_by_role("heading", name="What would come of it")).to_be_visible()
    looked_over(page, f"choose-{size}")
    assert not Tree.objects.exists()
    # Another column chosen is looked at first, even when the act is pressed at once.
    page.get_by_label("Name of this list").fill("Quillhaven parks")
    page.get_by_role("button", name="Take in these trees").click()
    expect(page.get_by_text("You changed something.")).to_be_visible()
    page.get_by_role("button", name="Take in these trees").click()
    expect(page.get_by_text("Waiting for its turn.")).to_be_visible()
    looked_over(page, f"waiting-{size}")

    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 200)
    run = ImportRun.objects.get()

    def halfway(now: ImportRun) -> None:
        if now.rows_read == 200:
            # The page hears of it by itself.
            expect(page.get_by_text("% of the file is read")).to_be_visible(timeout=10_000)
            looked_over(page, f"running-{size}")

    engine.take_in(run.pk, told=halfway)
    expect(page.get_by_text("The file is taken in as “Quillhaven parks”.")).to_be_visible(timeout=10_000)
    looked_over(page, f"report-{size}")
    assert Tree.objects.count() == 431
    page.get_by_role("link", name="Not taken").click()
    expect(page.get_by_text("This is a stump")).to_be_visible()
    page.goto("/files/")
    looked_over(page, f"files-{size}")
    assert told == []
