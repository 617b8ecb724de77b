"""A form that is refused behind a web server in front is explained in words."""

from __future__ import annotations

import io
from ipaddress import ip_network

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from sugarbush import environment

HOME = "https://sap.example.org"


@pytest.fixture
def behind_nginx(settings):
    settings.PUBLIC_URL, settings.SECURE, settings.ALLOWED_HOSTS = HOME, True, ["sap.example.org", "localhost"]
    settings.CSRF_TRUSTED_ORIGINS, settings.PROXIES = [HOME], [ip_network("127.0.0.1")]
    return settings


def said(**how: str) -> str:
    with pytest.raises(CommandError) as refusal:
        call_command("check_web", stdout=io.StringIO(), **how)
    return str(refusal.value)


def test_a_form_as_it_should_come_is_taken(behind_nginx):
    out = io.StringIO()
    call_command("check_web", stdout=out, origin=HOME, host="sap.example.org", proto="https")
    assert "Nothing is wrong" in out.getvalue()


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"origin": HOME, "host": "10.0.0.7:8000", "proto": "https"}, "“10.0.0.7:8000”, which is not the address"),
        ({"origin": HOME, "host": "sap.example.org"}, "Let it set X-Forwarded-Proto"),
        ({"origin": HOME, "proto": "https", "remote": "10.0.0.5"}, "10.0.0.5 is not believed"),
        ({"origin": "http://sap.example.org", "proto": "https"}, "Set SUGARBUSH_PUBLIC_URL to http://sap.example.org"),
        ({"origin": "https://elsewhere.example", "proto": "https"}, "refused as it should be"),
        ({"origin": "null", "proto": "https"}, "Origin: null"),
    ],
)
def test_each_way_to_be_refused_has_its_sentence(behind_nginx, how, words):
    assert words in said(**how)


def test_without_a_public_address_and_with_a_dead_one_it_says_so(settings):
    settings.PUBLIC_URL = ""
    assert "SUGARBUSH_PUBLIC_URL is not set" in said()
    settings.PUBLIC_URL = "http://127.0.0.1:9"
    assert "http://127.0.0.1:9/healthz does not answer" in said()


@pytest.mark.django_db
def test_the_log_says_why_and_the_page_says_what_to_do(behind_nginx, caplog):
    client = Client(enforce_csrf_checks=True, headers={"origin": "https://elsewhere.example", "host": "localhost"})
    answer = client.post("/sign-out/")
    assert answer.status_code == 403
    assert "Go back, load the page again" in answer.content.decode()
    assert "elsewhere.example" not in answer.content.decode()
    assert "another site" in caplog.text


def test_what_a_stranger_says_was_forwarded_is_dropped(behind_nginx, rf, monkeypatch):
    monkeypatch.setenv("SUGARBUSH_PROXIES", "10.0.0.5, 10.1.0.0/16")
    assert [str(one) for one in environment.proxies()] == ["10.0.0.5/32", "10.1.0.0/16"]
    monkeypatch.delenv("SUGARBUSH_PROXIES")
    monkeypatch.setenv("SUGARBUSH_PUBLIC_URL", HOME)
    assert [str(one) for one in environment.proxies()] == ["127.0.0.1/32", "::1/128"]
    monkeypatch.setenv("SUGARBUSH_HSTS_DAYS", "365")
    assert environment.hsts_days() == 365
    monkeypatch.setenv("SUGARBUSH_PUBLIC_URL", "http://sap.example.org")
    with pytest.raises(SystemExit, match="needs a SUGARBUSH_PUBLIC_URL that begins with https"):
        environment.hsts_days()
