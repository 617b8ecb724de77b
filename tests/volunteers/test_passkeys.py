"""Passkeys: what lets in and what does not. The browser's side is walked in tests/browser."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core import mail
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from sugarbush.audit.models import AuditEvent
from sugarbush.desk.privacy import own_data
from sugarbush.volunteers import actions, forgetting, limits, passkeys, tasks
from sugarbush.volunteers.models import Passkey, Person, SignInCode
from tests import make
from tests.volunteers.authenticator import PRESENT, Authenticator

pytestmark = pytest.mark.django_db
ORIGIN = "http://localhost"


def browser(person: Person | None = None) -> Client:
    client = Client(headers={"host": "localhost"})
    if person is not None:
        client.force_login(person)
    return client


def adds(client: Client, key: Authenticator, name: str = "my phone", origin: str = ORIGIN) -> Any:
    asked = client.post(reverse("passkey-begin")).json()
    return client.post(reverse("passkey-add"), {"passkey-name": name, "answer": key.create(asked, origin)})


def comes(key: Authenticator, origin: str = ORIGIN, **other: Any) -> Any:
    client = browser()
    asked = client.post(reverse("sign-in-passkey-begin")).json()
    told = {"answer": key.get(asked, origin, **other), "next": "/groups/"}
    answer: Any = client.post(reverse("sign-in-passkey"), told)
    answer.let_in = "_auth_user_id" in client.session
    return answer


@pytest.fixture
def bob() -> Person:
    make.programme()
    return make.bob()


@pytest.fixture
def key(bob: Person) -> Authenticator:
    made = Authenticator()
    assert adds(browser(bob), made).status_code == 302
    return made


def test_a_passkey_lets_its_person_in_and_its_count_rises(bob: Person, key: Authenticator) -> None:
    key.count = 7
    answer = comes(key)
    assert (answer.let_in, answer["Location"]) == (True, "/groups/")
    kept = Passkey.objects.get()
    assert (kept.name, kept.sign_count, kept.used_at is not None) == ("my phone", 7, True)
    # A copy of the key tells a count that was told before.
    assert comes(key).content.decode().count("as a copy of it would") == 1
    acts = [event.act for event in AuditEvent.objects.filter(about=bob).order_by("pk")]
    assert acts == ["add passkey", "sign in by passkey", "refuse passkey"]
    assert "my phone" not in str(list(AuditEvent.objects.values("old", "new", "subject_text")))
    assert [row["name"] for row in own_data.collected(bob)["passkeys"]] == ["my phone"]


@pytest.mark.parametrize(
    "how",
    [
        {"origin": "https://localhost.evil.example"},
        {"challenge": "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"},
        {"rp_id": "evil.example"},
        {"flags": PRESENT},  # nobody showed a finger, a face or a PIN
        {"user": "AAAAAAAAAAAAAAAAAAAAAA"},
        {"forged": "by another key"},
    ],
    ids=["another site", "another challenge", "another host", "not verified", "another person", "forged"],
)
def test_an_answer_that_is_not_to_our_question_lets_nobody_in(key: Authenticator, how: dict[str, Any]) -> None:
    answer = comes(key, **how)
    assert (answer.status_code, answer.let_in) == (422, False)
    assert "This passkey opens nothing here." in answer.content.decode()


def test_a_question_is_good_once_and_for_five_minutes(key: Authenticator, monkeypatch: pytest.MonkeyPatch) -> None:
    client = browser()
    asked = client.post(reverse("sign-in-passkey-begin")).json()
    assert asked["userVerification"] == "required"
    assert asked["allowCredentials"] == []  # a question that names nobody tells nobody who has one
    told = {"answer": key.get(asked, ORIGIN)}
    assert client.post(reverse("sign-in-passkey"), {"answer": key.get(asked, ORIGIN, flags=0)}).status_code == 422
    assert b"sent twice" in client.post(reverse("sign-in-passkey"), told).content  # one question, one answer
    asked = client.post(reverse("sign-in-passkey-begin")).json()
    later = timezone.now() + dt.timedelta(minutes=5)
    monkeypatch.setattr(limits, "now", lambda: later)
    answer = client.post(reverse("sign-in-passkey"), {"answer": key.get(asked, ORIGIN)})
    assert (answer.status_code, "took too long" in answer.content.decode()) == (422, True)
    for rubbish in ("", "[]", "{", "[" * 9_000, '{"id": 1, "response": {}}', '{"id": "x", "response": []}'):
        client.post(reverse("sign-in-passkey-begin"))
        assert client.post(reverse("sign-in-passkey"), {"answer": rubbish}).status_code == 422


def test_nobody_adds_anothers_key_or_removes_it_and_ones_own_goes(bob: Person, key: Authenticator) -> None:
    mira, at_bobs = browser(make.mira()), browser(bob)
    assert adds(mira, key).status_code == 422  # the same key a second time
    assert adds(mira, Authenticator(), origin="https://evil.example").status_code == 422
    kept = Passkey.objects.get()
    assert mira.post(reverse("passkey-remove", args=[kept.pk])).status_code == 404
    assert b"my phone" in at_bobs.get(reverse("me")).content
    assert at_bobs.post(reverse("passkey-remove", args=[kept.pk])).status_code == 302
    assert at_bobs.post(reverse("passkey-remove", args=[kept.pk])).status_code == 404
    assert comes(key).let_in is False
    assert AuditEvent.objects.filter(act="remove passkey", about=bob).count() == 1


def test_a_person_with_an_address_is_told_by_mail(settings: Any, bob: Person) -> None:
    settings.SENDS_MAIL = True
    Person.objects.filter(pk=bob.pk).update(email="bob@quillhaven.example")
    client = browser(bob)
    adds(client, Authenticator())
    client.post(reverse("passkey-remove", args=[Passkey.objects.get().pk]))
    for row in DBTaskResult.objects.filter(task_path=tasks.tell_of_passkey.module_path).order_by("enqueued_at"):
        tasks.tell_of_passkey.func(*row.args_kwargs["args"])
    assert [one.to for one in mail.outbox] == [["bob@quillhaven.example"]] * 2
    assert ["was added" in str(one.body) for one in mail.outbox] == [True, False]


def test_who_has_left_stays_out_and_whose_name_went_has_none(bob: Person, key: Authenticator) -> None:
    SignInCode.objects.create(person=bob, seed="0" * 32, expires_at=timezone.now())
    actions.stop_person(by=make.alice(), person=bob, reason="moved away")
    assert comes(key).let_in is False
    forgetting.forget(person=bob, by=make.alice(), reason="asked for it")
    assert (Passkey.objects.count(), SignInCode.objects.count()) == (0, 0)


def test_tries_from_one_network_are_limited(bob: Person) -> None:
    client, here = browser(), "192.0.2.1"
    for _nth in range(passkeys.BY_ADDRESS.most):
        assert client.post(reverse("sign-in-passkey"), {"answer": ""}, REMOTE_ADDR=here).status_code == 422
    for page in ("sign-in-passkey", "sign-in-passkey-begin"):
        assert client.post(reverse(page), {"answer": ""}, REMOTE_ADDR=here).status_code == 429
    assert browser().post(reverse("sign-in-passkey-begin"), REMOTE_ADDR="192.0.2.2").status_code == 200


def test_where_passkeys_cannot_work_the_page_says_why(settings: Any, bob: Person) -> None:
    def why(host: str, *, secure: bool = False) -> str:
        return passkeys.site_of(RequestFactory(headers={"host": host}).get("/", secure=secure)).why_not

    assert (why("localhost:8000"), why("sap.example.org", secure=True)) == ("", "")
    assert "begins with https" in why("sap.example.org")
    assert "http://localhost" in why("127.0.0.1:8000")
    settings.PUBLIC_URL, settings.PUBLIC_PATH = "https://sap.example.org/quill", "/quill"
    site = passkeys.site_of(RequestFactory(headers={"host": "sap.example.org"}).get("/", secure=True))
    assert site == passkeys.Site("sap.example.org", "https://sap.example.org")
    assert "https://sap.example.org" in why("localhost:8000")
    settings.PUBLIC_URL = settings.PUBLIC_PATH = ""
    plain = Client()
    assert b"begins with https" in plain.get(reverse("sign-in")).content
    assert plain.post(reverse("sign-in-passkey-begin")).status_code == 409


def test_a_coordinator_is_asked_to_add_one_until_they_have_or_say_no() -> None:
    make.programme()
    make.season()
    ask = "Come in by a passkey"
    alice, lena = browser(make.alice()), browser(make.lena())
    assert ask in alice.get(reverse("today")).content.decode()
    assert ask not in lena.get(reverse("today")).content.decode()
    assert alice.post(reverse("passkey-later"))["Location"] == reverse("today")
    assert ask not in alice.get(reverse("today")).content.decode()
    again = browser(make.alice())
    adds(again, Authenticator())
    assert ask not in again.get(reverse("today")).content.decode()
