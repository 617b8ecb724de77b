"""Whose token it is, what it reaches, when it ends; and that no other way in counts."""

from __future__ import annotations

import datetime as dt
import logging
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.api import door, tokens
from sugarbush.api.models import Token
from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers import forgetting, limits
from sugarbush.volunteers.hiding import HideLinks
from sugarbush.volunteers.models import Membership
from tests import make
from tests.api.asking import PROBLEM, Program

pytestmark = pytest.mark.django_db


def test_a_person_makes_a_token_sees_it_once_and_takes_it_away():
    make.programme()
    bob = Client()
    bob.force_login(make.bob())
    page = reverse("my-tokens")
    assert page in bob.get(reverse("me")).content.decode()
    assert bob.post(page, {"name": "map"}).status_code == 422
    assert bob.post(page, {"name": "map", "scopes": ["everything"]}).status_code == 422
    made = bob.post(page, {"name": "<b>map</b>", "scopes": ["trees"]})
    (secret,) = re.findall(r"sbt_[A-Za-z0-9_-]{43}", made.content.decode())
    assert "no-store" in made["Cache-Control"]
    assert f"it opens for {tokens.GOOD_FOR.days} days at most" in bob.get(reverse("privacy")).content.decode()
    listed = bob.get(page).content.decode()
    assert secret not in listed
    assert "not used yet" in listed
    assert "&lt;b&gt;map" in listed
    token = Token.objects.get()
    assert secret not in str(Token.objects.values())
    program = Program(None)
    assert program.ask("api-trees", secret=secret).status_code == 200
    assert "last used" in bob.get(page).content.decode()
    mira = Client()
    mira.force_login(make.mira())
    mira.post(page, {"act": "withdraw", "token": token.pk})
    assert program.ask("api-trees", secret=secret).status_code == 200
    assert bob.post(page, {"act": "withdraw", "token": "1" * 5_000}).status_code == 302
    bob.post(page, {"act": "withdraw", "token": token.pk})
    gone = program.ask("api-trees", secret=secret)
    assert (gone.status_code, gone["Content-Type"]) == (401, PROBLEM)
    assert 'error="invalid_token"' in gone["WWW-Authenticate"]
    told = AuditEvent.objects.filter(act__endswith="token").order_by("pk").values_list("act", "new")
    assert list(told) == [("make token", {"scopes": ["trees"]}), ("withdraw token", {})]
    for _nth in range(tokens.MOST):
        tokens.make(person=make.bob(), name="one more", scopes=["trees"])
    assert bob.post(page, {"name": "map", "scopes": ["trees"]}).status_code == 409


def test_a_token_ends_with_its_day_the_last_role_and_the_name():
    make.programme()
    program = Program(make.bob(), ("trees",))
    assert program.ask("api-trees").status_code == 200
    other = program.ask("api-seasons")
    assert (other.status_code, "insufficient_scope" in other["WWW-Authenticate"]) == (403, True)
    Token.objects.update(good_until=timezone.now())
    assert program.ask("api-trees").status_code == 401
    Token.objects.update(good_until=timezone.now() + dt.timedelta(days=1))
    Membership.objects.filter(person=make.bob()).update(date_to=make.today() - dt.timedelta(days=1))
    assert program.ask("api-trees").status_code == 401
    forgetting._copies[0](make.bob(), frozenset())
    for put_right in forgetting._copies:
        put_right(make.bob(), frozenset())
    assert not Token.objects.exists()


def test_no_cookie_no_address_and_no_write_comes_in(monkeypatch, caplog):
    make.programme()
    program = Program(make.alice())
    signed_in = Client()
    signed_in.force_login(make.alice())
    assert signed_in.get(reverse("api-trees")).status_code == 401
    assert program.ask("api-trees", secret="", access_token=program.secret).status_code == 401
    refused = program.ask("api-trees", access_token="x")
    assert (refused.status_code, refused["Content-Type"]) == (400, PROBLEM)
    assert Client().get(reverse("api-trees"), headers={"Authorization": f"Basic {program.secret}"}).status_code == 401
    strict = Client(enforce_csrf_checks=True)
    for method in (strict.post, strict.put, strict.delete, strict.options):
        answer = method(reverse("api-trees"), headers={"Authorization": f"Bearer {program.secret}"})
        assert answer.status_code == 405
        assert answer["Allow"].startswith("GET, HEAD")
    plain = program.ask("api-trees", secret=program.secret)
    assert not [name for name in plain.headers if name.lower().startswith("access-control")]
    assert (plain["Vary"], plain["Cache-Control"], plain.cookies) == ("Authorization", "private, no-store", {})
    for nowhere in (
        "/api/elsewhere",
        "/api/seasons/20%0A26/totals",
        "/api/collections/roads/items",
        "/api/seasons/x/y",
    ):
        assert program.ask(nowhere).json()["status"] == 404
    line = logging.LogRecord(
        "x", logging.INFO, "", 0, 'head "Bearer %s" and %s', (program.secret, program.secret), None
    )
    assert HideLinks().filter(line)
    assert program.secret[8:] not in line.getMessage()
    # Many wrong tokens from one address are slowed down, and so is one token that never rests.
    monkeypatch.setattr(door, "BY_ADDRESS", limits.Limit(name="a", most=2, within=dt.timedelta(minutes=1)))
    monkeypatch.setattr(door, "BY_TOKEN", limits.Limit(name="t", most=2, within=dt.timedelta(minutes=1)))
    monkeypatch.setattr(limits, "SHARED", 1)
    assert [program.ask("api-trees").status_code for _n in range(3)] == [200, 200, 429]
    wrong = [program.ask("api-trees", secret="sbt_" + "x" * 43) for _n in range(3)]
    assert [answer.status_code for answer in wrong] == [401, 401, 429]
    assert int(wrong[2]["Retry-After"]) <= 60


def test_a_page_of_many_trees_asks_the_database_no_more():
    make.programme()
    program = Program(make.bob())
    for _nth in range(2):
        make.tree(group=make.group())
    program.read("api-tree-items")
    with CaptureQueriesContext(
        connection,
    ) as few:
        program.read("api-tree-items")
    for _nth in range(8):
        make.tree(group=make.group())
    with CaptureQueriesContext(connection) as many:
        assert program.read("api-tree-items")["numberMatched"] == 10
    assert len(many) == len(few) <= 12
