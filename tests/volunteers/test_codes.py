"""Coming in by a code from an e-mail: the same answer for everybody, and nobody can shut somebody else out."""

from __future__ import annotations

import datetime as dt
import logging
import re
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers import codes, limits, signing, tasks
from sugarbush.volunteers.models import Person, SignInCode
from tests import make

pytestmark = pytest.mark.django_db
BOBS = "bob@quillhaven.example"
FIGURES = re.compile(r"\b\d{4} \d{4}\b")


class Clock:
    """The clock of the limits and codes, set by hand."""

    def __init__(self) -> None:
        self.now = timezone.now()

    def __call__(self) -> dt.datetime:
        return self.now

    def wait(self, **span: int) -> None:
        self.now += dt.timedelta(**span)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(limits, "now", made)
    return made


@pytest.fixture
def bob(settings: Any, clock: Clock) -> Person:
    settings.SENDS_MAIL = True
    make.programme(name="Quillhaven Sap")
    bob = make.bob()
    Person.objects.filter(pk=bob.pk).update(email=BOBS)
    bob.refresh_from_db()
    return bob


def asks(client: Client, email: str = BOBS, *, address: str = "192.0.2.1", **more: str) -> Any:
    return client.post(reverse("sign-in-ask"), {"email": email, **more}, REMOTE_ADDR=address)


def mailed() -> str:
    """Let the worker send what waits; the code of the last mail, or an empty string where none was sent now."""
    before = len(mail.outbox)
    for row in DBTaskResult.objects.filter(status="READY", task_path=tasks.send_code.module_path):
        tasks.send_code.func(*row.args_kwargs["args"])
        row.delete()
    return FIGURES.findall(str(mail.outbox[-1].body))[0] if len(mail.outbox) > before else ""


def types(client: Client, code: str, *, address: str = "192.0.2.1") -> Any:
    return client.post(reverse("sign-in-code"), {"code": code}, REMOTE_ADDR=address)


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def wrong_for(code: str) -> str:
    return f"{(int(code.replace(' ', '')) + 1) % 10**8:08}"


def test_a_code_is_mailed_and_lets_in_once_where_it_was_asked_for(bob: Person, client: Client) -> None:
    answer = asks(client, " BOB@quillhaven.example ", next="/groups/")
    assert (answer.status_code, answer["Location"]) == (302, reverse("sign-in-code"))
    assert mail.outbox == []  # nothing leaves while the page answers
    code, before = mailed(), client.session.session_key
    [sent] = mail.outbox
    assert (sent.to, "Quillhaven Sap" in sent.subject, "http" in sent.body) == ([BOBS], True, False)
    kept = str([*SignInCode.objects.values(), *DBTaskResult.objects.values()])
    assert (code.replace(" ", "") in kept, BOBS in kept) == (False, False)
    other = Client()
    assert types(other, code)["Location"] == reverse("sign-in")  # it opens in no other browser
    asks(other)
    assert types(other, code).status_code == 422
    assert types(client, code)["Location"] == "/groups/"
    assert is_in(client)
    assert client.session.session_key != before
    assert client.session.get_expiry_age() > 140 * 86_400  # the season, not the visit
    assert AuditEvent.objects.get(act="sign in by code").about == bob
    client.logout()
    assert types(client, code)["Location"] == reverse("sign-in")
    away = Client()
    asks(away, next="https://elsewhere.example/")
    assert types(away, mailed())["Location"] == "/"


def test_known_unknown_and_inactive_addresses_take_the_same_path(bob: Person) -> None:
    gone = make.person("Gwen", None, email="gwen@quillhaven.example")
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    seen = []
    for nth, email in enumerate((BOBS, "nobody@quillhaven.example", "gwen@quillhaven.example")):
        client = Client()
        client.get(reverse("sign-in"))
        with CaptureQueriesContext(connection) as asking:
            asked = asks(client, email, address=f"192.0.2.{10 + nth}")
        page = client.get(reverse("sign-in-code")).content.decode()
        page = re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", page)
        with CaptureQueriesContext(connection) as typing:
            typed = types(client, "00000000", address=f"192.0.2.{10 + nth}")
        verbs = [[query["sql"].split()[0] for query in done] for done in (asking, typing)]
        seen.append((asked.status_code, asked["Location"], page, typed.status_code, verbs))
    assert seen[0] == seen[1] == seen[2]
    mailed()
    assert [one.to for one in mail.outbox] == [[BOBS]]


def test_a_code_ends_after_ten_minutes_five_wrong_tries_or_signing_out_everywhere(bob: Person, clock: Clock) -> None:
    old, tried, ended = Client(), Client(), Client()
    asks(old)
    code = mailed()
    clock.wait(minutes=10)
    assert types(old, code).status_code == 410
    asks(tried)
    code = mailed()
    left = [types(tried, wrong_for(code)).content.decode() for _nth in range(5)]
    assert "4 tries are left" in left[0]
    assert "1 try is left" in left[3]
    assert types(tried, code).status_code == 410
    asks(ended)
    code = mailed()
    signing.end_sessions(person=bob, by=bob)
    assert types(ended, code).status_code == 410
    assert not any(map(is_in, (old, tried, ended)))


def test_a_stranger_who_floods_shuts_nobody_out(bob: Person, clock: Clock) -> None:
    phone, stranger = Client(), Client()
    asks(phone)
    first = mailed()
    for nth in range(12):  # from many addresses, each a new request with its own tries
        asks(stranger, address=f"198.51.100.{nth}")
        for _again in range(6):
            types(stranger, "00000000", address=f"198.51.100.{nth}")
    mailed()
    assert len(mail.outbox) == codes.BY_ACCOUNT.most
    assert types(phone, first).status_code == 302  # the code asked for before the flood still opens
    phone.post(reverse("sign-out"))
    # The browser that came in once asks again while the flood goes on: its allowance is its own.
    asks(phone, address="203.0.113.9")
    again = mailed()
    assert again
    assert types(phone, again, address="203.0.113.9").status_code == 302
    # A made-up mark is worth nothing, and the cap ends by itself.
    stranger.cookies["sugarbush_known"] = "f" * 32
    asks(stranger, address="198.51.100.77")
    assert mailed() == ""
    clock.wait(hours=1)
    asks(stranger, address="198.51.100.78")
    assert mailed()


def test_one_network_asks_so_often_and_is_told_when_to_come_again(bob: Person, clock: Clock) -> None:
    answers = [asks(Client(), f"a{nth}@quillhaven.example").status_code for nth in range(codes.BY_ADDRESS.most + 1)]
    assert answers == [302] * codes.BY_ADDRESS.most + [429]
    clock.wait(minutes=9, seconds=30)
    refused = asks(Client())
    assert (refused.status_code, refused["Retry-After"]) == (429, "30")
    assert "Try again in 1 minute." in refused.content.decode()
    clock.wait(seconds=30)
    assert asks(Client()).status_code == 302
    clock.wait(days=2)
    DBTaskResult.objects.update(finished_at=timezone.now() - dt.timedelta(days=2))
    codes.sweep()
    assert (SignInCode.objects.count(), DBTaskResult.objects.count()) == (0, 0)


def test_without_a_mail_server_the_page_says_what_to_do_instead(client: Client) -> None:
    make.programme(phone="555-0100")
    page = client.get(reverse("sign-in")).content.decode()
    assert "Send me a code" not in page
    assert "Ask your group lead or the coordinator for a link or a card" in page
    assert asks(client).status_code == 404
    assert client.get(reverse("sign-in-code")).status_code == 404


def test_what_is_no_address_and_no_code_is_said_so_and_kept(bob: Person, client: Client) -> None:
    answer = asks(client, "bob at quillhaven")
    assert (answer.status_code, "bob at quillhaven" in answer.content.decode()) == (422, True)
    asks(client)
    answer = types(client, "1234")
    assert (answer.status_code, "eight figures" in answer.content.decode()) == (422, True)
    assert SignInCode.objects.get().tries == 0


def test_a_mail_server_that_is_down_is_tried_again_and_told_without_the_address(
    bob: Person, client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def down(_mail: object, **_more: object) -> int:
        raise ConnectionRefusedError(f"no route to {BOBS}")

    monkeypatch.setattr("django.core.mail.EmailMessage.send", down)
    caplog.set_level(logging.INFO)
    asks(client)
    waits = []
    while row := DBTaskResult.objects.filter(status="READY").first():
        wait_s = (row.run_after - timezone.now()).total_seconds()
        waits.append(round(wait_s) if wait_s < 86_400 else 0)  # "at once" is a day far off
        row.delete()
        tasks.send_code.func(*row.args_kwargs["args"])
    assert waits == [0, 5, 30, 120]
    said = [record.getMessage() for record in caplog.records if "sign-in code" in record.getMessage()]
    assert (len(said), "could not be sent (ConnectionRefusedError)" in said[-1]) == (4, True)
    assert BOBS not in caplog.text
