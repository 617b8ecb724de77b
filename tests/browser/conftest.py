"""What the browser tests share: people on pages of a server within the test, each page looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from django.conf import settings
from django.test import Client

from sugarbush.volunteers.models import Person
from tests.browser.walk.somebody import DESK, Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

At = Callable[..., Somebody]


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
