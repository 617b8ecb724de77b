"""What every answer is held to (OWASP ASVS 5.0: 3.3, 3.4, 3.5.8, 4.1.4, 13.4.4, 14.3.2)."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from tests import make
from tests.setup.serving import environment

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[2]
COOKIES = """
import json
from django.conf import settings
print(json.dumps({name: getattr(settings, name) for name in (
    "SESSION_COOKIE_NAME", "SESSION_COOKIE_PATH", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY",
    "SESSION_COOKIE_SAMESITE", "CSRF_COOKIE_NAME", "CSRF_COOKIE_SECURE", "CSRF_COOKIE_HTTPONLY", "CSRF_COOKIE_SAMESITE",
    "SESSION_COOKIE_DOMAIN")}))
"""


def test_a_signed_in_page_stays_in_no_browser_and_an_open_one_may() -> None:
    make.tapped_tree()
    person = Client()
    person.force_login(make.alice())
    for name in ("today", "people", "trees", "owners"):
        assert "no-store" in person.get(reverse(name))["Cache-Control"], name
    assert "private" in person.get(reverse("map-trees"))["Cache-Control"]
    assert "Cache-Control" not in Client().get(reverse("cautions"))


def test_every_answer_has_its_headers() -> None:
    answer = Client().get(reverse("cautions"))
    policy = answer["Content-Security-Policy"]
    for said in ("default-src 'none'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert said in policy
    assert "unsafe" not in policy
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "Access-Control-Allow-Origin" not in answer


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "PATCH", "BREW"])
def test_a_method_that_nothing_asks_for_is_refused(method: str) -> None:
    assert Client().generic(method, reverse("today")).status_code == 405


@pytest.mark.parametrize(("path", "prefix"), [("", "__Host-"), ("/sap", "__Secure-")])
def test_behind_https_cookies_are_for_this_host_alone_and_no_script(path: str, prefix: str, tmp_path: Path) -> None:
    env = environment(tmp_path, {"SUGARBUSH_PUBLIC_URL": f"https://sap.example.org{path}"})
    env["DJANGO_SETTINGS_MODULE"] = "sugarbush.settings"
    done = subprocess.run(
        [sys.executable, "-c", COOKIES], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    said = json.loads(done.stdout)
    for kind in ("SESSION", "CSRF"):
        assert said[f"{kind}_COOKIE_NAME"].startswith(prefix)
        assert said[f"{kind}_COOKIE_SECURE"] is said[f"{kind}_COOKIE_HTTPONLY"] is True
        assert said[f"{kind}_COOKIE_SAMESITE"] == "Lax"
    assert said["SESSION_COOKIE_PATH"] == f"{path}/"
    assert said["SESSION_COOKIE_DOMAIN"] is None
