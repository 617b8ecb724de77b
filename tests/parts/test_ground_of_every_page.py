"""What every page has: its version, its ways, its messages, nothing inline; and pages for what goes wrong."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.messages import constants
from django.contrib.messages.storage.base import Message
from django.template.loader import render_to_string
from django.test import RequestFactory

from sugarbush import __version__
from sugarbush.parts import context as ground

pytestmark = pytest.mark.pure

ROOT = Path(__file__).resolve().parents[2]
WRONG_PAGES = ["400.html", "403.html", "403_csrf.html", "404.html", "409.html", "500.html"]


class Signed:
    is_authenticated = True
    is_active = False  # so that no roles are looked up: this file opens no database
    display_name = "Odile Brandvold"
    units = "us"


class Stranger:
    is_authenticated = False


@pytest.fixture
def hooks(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    fresh: dict[str, Any] = {}
    monkeypatch.setattr(ground, "_hooks", fresh)
    return fresh


def ask(rf: RequestFactory, person: object) -> Any:
    request = rf.get("/")
    request.user = person  # type: ignore[assignment]
    return request


@pytest.mark.parametrize("name", WRONG_PAGES)
def test_a_page_for_what_went_wrong_needs_no_request_and_names_a_next_step(name: str) -> None:
    # Django draws some of these with an empty context, when nothing else can be relied on.
    html = render_to_string(name)
    assert html.lstrip().startswith("<!doctype html>")
    assert 'class="act main"' in html
    assert "<h1>" in html
    for word in ("error", "submit", "sync", "invalid"):
        assert word not in re.sub(r"<[^>]+>", " ", html).lower()


def test_a_conflict_shows_who_changed_it_and_what_was_typed() -> None:
    html = render_to_string("409.html", {"who": "Rafe <i>", "typed": [("Girth", "141 cm")], "next_url": "/trees/7/"})
    assert "Changed by Rafe &lt;i&gt;." in html
    assert "<dt>Girth</dt><dd>141 cm</dd>" in html
    assert 'href="/trees/7/"' in html


def test_a_page_carries_the_version_and_the_ways(rf: RequestFactory, hooks: dict[str, Any]) -> None:
    ground.register("programme", lambda request: "Quillhaven sugarbush")
    ground.register("nav", lambda request: [("/map/", "Map", True), ("/trees/", "Trees", False)])
    html = render_to_string("base.html", request=ask(rf, Signed()))
    assert f"Sugarbush {__version__}" in html
    assert '<a href="/map/" aria-current="page">Map</a>' in html
    assert '<a href="/trees/">Trees</a>' in html
    assert "Quillhaven sugarbush" in html
    assert "Odile Brandvold" in html
    assert re.search(r'<form method="post" action="[^"]*sign-out/"', html)
    assert "csrfmiddlewaretoken" in html
    for way in ("cautions", "who-may-do-what", "about"):
        assert re.search(rf'href="[^"]*/{way}/"', html), way
    assert '<a class="skip" href="#main">' in html


def test_before_there_is_a_programme_the_page_is_called_sugarbush(rf: RequestFactory, hooks: dict[str, Any]) -> None:
    ground.register("programme", lambda request: None)
    html = render_to_string("base.html", request=ask(rf, Stranger()))
    assert re.search(r'<a class="home" href="[^"]*">Sugarbush</a>', html)
    assert "Sign out" not in html


def test_what_a_page_does_not_use_is_not_looked_up(rf: RequestFactory, hooks: dict[str, Any]) -> None:
    looked: list[str] = []
    ground.register("programme", lambda request: looked.append("programme"))
    ground.register("default_units", lambda request: looked.append("units"))
    held = ground.page(ask(rf, Stranger()))
    assert looked == []
    assert str(held["units"]) == "metric"
    assert looked == ["units"]


def test_units_are_the_persons_then_the_programmes_then_metric(rf: RequestFactory, hooks: dict[str, Any]) -> None:
    assert ground.units_of(ask(rf, Signed())) == "us"
    assert ground.units_of(ask(rf, Stranger())) == "metric"
    ground.register("default_units", lambda request: "us")
    assert ground.units_of(ask(rf, Stranger())) == "us"


@pytest.mark.parametrize(
    ("level", "looks"),
    [
        (constants.SUCCESS, '<div class="say done" role="status"><div><b>Done so</b>'),
        (constants.WARNING, "<b>Mind</b><p>Done so</p>"),
        (constants.ERROR, '<div class="say stop" role="alert"><div><b>Stop</b><p>Done so</p>'),
        (constants.INFO, '<div class="say" role="status"><div><p>Done so</p>'),
    ],
)
def test_a_message_says_what_happened_in_its_own_way(level: int, looks: str) -> None:
    html = render_to_string("parts/said.html", {"messages": [Message(level, "Done so")]})
    assert looks in html


def test_the_phone_page_has_its_strip_above_everything(rf: RequestFactory, hooks: dict[str, Any]) -> None:
    html = render_to_string("hand.html", request=ask(rf, Signed()))
    assert 'class="hand"' in html
    assert "Signal needed" in html
    assert html.index('class="strip"') < html.index("<main")
    assert html.index("<main") < html.index("<footer")


def test_no_page_carries_inline_style_or_script() -> None:
    # The strict content security policy would drop them without a word.
    for page in (ROOT / "templates").rglob("*.html"):
        text = page.read_text()
        assert not re.search(r"\sstyle\s*=|<style|\son[a-z]+\s*=\s*[\"']|javascript:", text), page.name
        assert not re.search(r"<script(?![^>]*\bsrc=)", text), page.name


def test_marks_in_lists_and_on_the_map_have_the_same_shape() -> None:
    sheet = (ROOT / "static/img/marks.svg").read_text()
    script = (ROOT / "static/js/marks.js").read_text()
    paths = dict(re.findall(r"^  (\w+): \[\"([^\"]+)\"", script, re.MULTILINE))
    symbols = dict(re.findall(r'<symbol id="k-(\w+)"[^>]*>(.*?)</symbol>', sheet))
    assert set(paths) == set(symbols)
    assert len(paths) == 10
    for state, path in paths.items():
        assert f'd="{path}"' in symbols[state], state
    assert json.dumps(sorted(paths)).count("felled") == 0
