"""What the phone keeps of the page: the same for everybody, complete, and renewed when anything of it changes."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from sugarbush.phone import views_shell
from sugarbush.phone.words import words
from tests import make

pytestmark = pytest.mark.django_db


def phone(person=None) -> Client:
    client = Client()
    client.force_login(person or make.bob())
    return client


def kept() -> dict[str, Any]:
    script = Client().get(reverse("service-worker")).content.decode()
    (found,) = re.findall(r"^const KEPT = (.*);$", script, re.MULTILINE)
    said: dict[str, Any] = json.loads(found)
    return said


def test_the_worker_keeps_every_file_that_the_page_asks_for():
    files = kept()["files"]
    page = Client().get(reverse("round-shell")).content.decode()
    asked = re.findall(r'<(?:link rel="(?:stylesheet|modulepreload)" href|script type="module" src)="([^"]+)"', page)
    assert len(asked) >= 6
    assert set(asked) <= set(files)
    for path in files:
        if path.startswith("/static/"):
            source = finders.find(path.removeprefix("/static/"))
            assert source, path
            text = Path(source).read_text(encoding="utf-8") if path.endswith(".js") else ""
            for imported in re.findall(r'(?:from|import\()\s*"(\.{1,2}/[^"]+)"', text):
                name = imported.rsplit("/", 1)[-1]
                assert any(one.endswith(f"/{name}") for one in files), (path, imported)


def test_the_worker_answers_for_the_whole_site_and_is_asked_for_each_time():
    answer = Client().get("/service-worker.js")
    assert answer["Service-Worker-Allowed"] == "/"
    assert "no-cache" in answer["Cache-Control"]
    assert answer["Content-Type"].startswith("text/javascript")


def test_a_browser_whose_workers_cannot_import_gets_one_that_does_not():
    script = Client().get("/service-worker.js?classic").content.decode()
    assert not re.search(r"^import ", script, re.MULTILINE)
    assert re.search(r"^import \* as outbox", Client().get("/service-worker.js").content.decode(), re.MULTILINE)


def test_any_change_of_what_is_kept_is_a_new_version(monkeypatch):
    first = kept()["version"]
    assert kept()["version"] == first
    content = views_shell.content
    monkeypatch.setattr(views_shell, "content", lambda path: content(path) + (b" " if path == "js/steps.js" else b""))
    second = kept()["version"]
    monkeypatch.setattr(views_shell, "words", lambda: {"title": "Another word"})
    assert len({first, second, kept()["version"]}) == 3


def test_the_page_that_is_kept_knows_nobody():
    make.tapped_tree(address="27 Larkspur Street")
    bob = make.bob()
    pages = {client.get(reverse("round-shell")).content for client in (Client(), phone(), phone(make.alice()))}
    assert len(pages) == 1
    (page,) = pages
    for of_somebody in (bob.display_name, str(bob.key), "Larkspur", "csrfmiddlewaretoken"):
        assert of_somebody.encode() not in page


def test_the_first_time_the_page_brings_the_pack_along_and_may_not_be_stored():
    make.tapped_tree(address="27 Larkspur Street")
    answer = phone().get(reverse("round"))
    assert "Larkspur" in answer.content.decode()
    assert "no-store" in answer["Cache-Control"]


def test_the_page_runs_under_the_strict_rules_of_all_pages():
    answer = phone().get(reverse("round"))
    policy = answer["Content-Security-Policy"]
    assert "'unsafe" not in policy
    assert "worker-src 'self'" in policy
    assert "manifest-src 'self'" in policy
    page = answer.content.decode()
    assert not re.search(r"<style|\sstyle=|\son\w+=", page)
    assert re.findall(r"<script(?![^>]*(?:src=|application/json))[^>]*>", page) == []


def test_the_home_screen_has_icons_that_are_there():
    make.programme()
    said = Client().get(reverse("manifest")).json()
    assert (said["name"], said["start_url"], said["display"]) == ("Quillhaven sugarbush", "/round/", "standalone")
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in said["icons"]}
    assert "maskable" in {icon.get("purpose") for icon in said["icons"]}
    for icon in said["icons"]:
        assert finders.find(icon["src"].removeprefix("/static/")), icon["src"]


def test_a_stranger_has_no_round_and_one_signed_out_is_asked_to_come_in():
    assert phone(make.charlie()).get(reverse("round")).status_code == 403
    answer = Client().get(reverse("round"))
    assert answer["Location"] == "/sign-in/?next=/round/"


def test_every_sentence_the_script_asks_for_is_there():
    known = set(words())
    used = set()
    for path in views_shell.SCRIPTS:
        text = Path(str(finders.find(path))).read_text(encoding="utf-8")
        # say("one") and say(that ? "one" : "other")
        found = re.findall(r'\bsay\((?:[^"()?]*\?\s*)?"(\w+)"(?:\s*:\s*"(\w+)")?', text)
        used |= {name for pair in found for name in pair if name}
    assert len(used) > 40
    assert used <= known
