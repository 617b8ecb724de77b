"""What the browser tests share: people on pages of a server within the test, each page looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.conf import settings
from django.test import Client

from sugarbush.volunteers.models import Person
from tests.browser.walk.pocket import Pocket
from tests.browser.walk.somebody import DESK, Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

At = Callable[..., Somebody]
Pick = Callable[..., Pocket]


@pytest.fixture
def at(browser: Browser, live_server: Any) -> Iterator[At]:
    """Somebody who is signed in, at a screen; whatever went wrong on their pages by the end fails the test."""
    opened: list[Somebody] = []

    def sit_down(person: Person, size: tuple[int, int] = DESK, **how: Any) -> Somebody:
        client = Client()
        client.force_login(person)
        who = Somebody(browser, live_server.url, person.display_name, size, **how)
        name = settings.SESSION_COOKIE_NAME
        who.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        opened.append(who)
        return who

    yield sit_down
    for who in opened:
        who.close()
    assert [line for who in opened for line in who.said] == []


@pytest.fixture
def pocket(browser: Browser, chromium_path: str, live_server: Any, tmp_path: Path) -> Iterator[Pick]:
    """A phone with a disk of its own, switched on; what went wrong on its pages by the end fails the test."""
    phones: list[Pocket] = []

    def pick_up(*, on_disk: bool = False, **how: Any) -> Pocket:
        folder = tmp_path / f"phone-{len(phones)}" if on_disk else None
        phones.append(Pocket(browser, chromium_path, live_server.url, folder, **how))
        return phones[-1]

    yield pick_up
    for phone in phones:
        phone.close()
    assert [line for phone in phones for line in phone.said] == []
