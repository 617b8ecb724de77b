"""Coming in by a link that works once, and by nothing else."""

from __future__ import annotations

import datetime as dt
import io
import logging
import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.volunteers import signing
from sugarbush.volunteers.hiding import HideLinks
from sugarbush.volunteers.models import Membership, Person, Role, SignInLink
from tests import make

pytestmark = pytest.mark.django_db


def path(token: str) -> str:
    return reverse("sign-in-link", args=[token])


def is_in(client: Client, person: Person) -> bool:
    return client.session.get("_auth_user_id") == str(person.pk)


def test_opening_a_link_spends_nothing_and_the_button_spends_it(client: Client) -> None:
    bob = make.bob()
    token = signing.make_link(person=bob, made_by=None)
    for _scan in range(3):  # a mail scanner opens links, more than once
        page = client.get(path(token))
        assert page.status_code == 200
        assert "Come in as Bob" in page.content.decode()
    assert not is_in(client, bob)
    assert SignInLink.objects.get().used_at is None
    assert client.post(path(token)).status_code == 302
    assert is_in(client, bob)


def test_a_used_link_opens_for_nobody_else(client: Client) -> None:
    token = signing.make_link(person=make.bob(), made_by=None)
    client.post(path(token))
    other = Client()
    for answer in (other.get(path(token)), other.post(path(token))):
        assert answer.status_code == 410
        assert "used already" in answer.content.decode()
    assert "_auth_user_id" not in other.session


def test_a_link_of_seven_days_opens_and_an_older_one_does_not(client: Client) -> None:
    token = signing.make_link(person=make.bob(), made_by=None)
    SignInLink.objects.update(expires_at=timezone.now() + dt.timedelta(seconds=30))
    assert client.get(path(token)).status_code == 200
    SignInLink.objects.update(expires_at=timezone.now() - dt.timedelta(seconds=1))
    answer = client.post(path(token))
    assert answer.status_code == 410
    assert "more than 7 days old" in answer.content.decode()


def test_a_link_that_was_never_made_is_not_found_and_says_what_to_do(client: Client) -> None:
    answer = client.get(path("x" * 32))
    assert answer.status_code == 404
    assert "Ask your group lead or the coordinator" in answer.content.decode()


def test_a_person_who_left_does_not_come_in_by_an_old_link(client: Client) -> None:
    bob = make.bob()
    token = signing.make_link(person=bob, made_by=None)
    Person.objects.filter(pk=bob.pk).update(is_active=False)
    assert client.post(path(token)).status_code == 410
    assert "_auth_user_id" not in client.session


def test_the_page_of_a_link_is_kept_nowhere_and_tells_no_other_page(client: Client) -> None:
    token = signing.make_link(person=make.bob(), made_by=None)
    for answer in (client.get(path(token)), client.get(path("y" * 32))):
        assert "no-store" in answer["Cache-Control"]
        # RFC draft "Referrer Policy", section 3.7: the origin alone is sent, never the path.
        assert answer["Referrer-Policy"] == "strict-origin"


def test_only_the_hash_of_a_link_is_kept() -> None:
    token = signing.make_link(person=make.bob(), made_by=None)
    kept = SignInLink.objects.values().get()
    assert token not in str(kept)
    # SHA-256 as FIPS 180-4 has it, by another implementation than ours: 64 hexadecimal digits of the token.
    assert re.fullmatch(r"[0-9a-f]{64}", kept["token_hash"])


def test_a_link_opens_no_longer_than_whoever_made_it_might_make_another() -> None:
    alice, lena, bob = make.alice(), make.lena(), make.bob()
    by_lead, by_coordinator = (signing.make_link(person=bob, made_by=maker) for maker in (lena, alice))
    assert signing.link_for(by_lead) is not None
    make.person("Bob", Role.BOIL_LEAD, None)  # by no act: a promotion takes every link away
    assert signing.link_for(by_lead) is None
    assert signing.use_link(by_lead) is None
    assert signing.link_for(by_coordinator) is not None
    for_mine = signing.make_link(person=make.person("Juniper", "volunteer", make.group()), made_by=lena)
    assert signing.link_for(for_mine) is not None
    lena.memberships.update(date_to=make.today() - make.days(1))
    assert signing.link_for(for_mine) is None


def test_no_log_line_holds_the_secret() -> None:
    token = "tW8-k_Qz3nVb5xLr9yHc2mJd7sFg4pAe"
    record = logging.LogRecord("django.request", logging.WARNING, "", 1, "%s: %s", ("Gone", f"/sign-in/{token}/"), None)
    assert HideLinks().filter(record)
    assert record.getMessage() == "Gone: /sign-in/(hidden)/"
    plain = logging.LogRecord("x", logging.INFO, "", 1, "GET /sign-in/demo/ %d", (200,), None)
    HideLinks().filter(plain)
    assert plain.getMessage() == "GET /sign-in/demo/ 200"


@pytest.mark.parametrize("typed", ["/join/K7MQR4XW9/", "/join/K7M QR4 XW9/", "/join/k7m-qr4-xw9", "//join//K7MQR4XW9/"])
def test_no_log_line_holds_a_cards_code_however_it_was_typed(typed: str) -> None:
    record = logging.LogRecord("x", logging.WARNING, "", 1, "refused 429: GET %s, from %s", (typed, "192.0.2.1"), None)
    HideLinks().filter(record)
    assert record.getMessage().endswith("(hidden)/, from 192.0.2.1" if typed[-1] == "/" else "(hidden), from 192.0.2.1")
    assert "XW9" not in record.getMessage().upper()


def test_signing_in_writes_no_row_into_the_persons_history(client: Client) -> None:
    bob = make.bob()
    rows = bob.history.count()
    client.post(path(signing.make_link(person=bob, made_by=None)))
    bob.refresh_from_db()
    assert bob.last_login is not None
    assert bob.history.count() == rows


def test_demo_people_are_listed_and_let_in_only_in_a_demo_programme(client: Client) -> None:
    bob = make.bob()
    make.programme(is_demo=False)
    assert "Come in as Bob" not in client.get(reverse("sign-in")).content.decode()
    assert client.post(reverse("sign-in-demo"), {"person": bob.pk}).status_code == 404
    assert not is_in(client, bob)
    make.programme(is_demo=True)
    page = client.get(reverse("sign-in")).content.decode()
    assert "Come in as Bob" in page
    assert "volunteer, North Bank" in page
    assert client.get(reverse("sign-in-demo")).status_code == 405
    assert client.post(reverse("sign-in-demo"), {"person": bob.pk}).status_code == 302
    assert is_in(client, bob)


@pytest.mark.parametrize("person", ["", "x", "-1", "9" * 40, "٣"])
def test_a_demo_sign_in_for_nobody_is_not_found(client: Client, person: str) -> None:
    make.programme(is_demo=True)
    assert client.post(reverse("sign-in-demo"), {"person": person}).status_code == 404


def test_the_way_on_after_a_demo_sign_in_stays_in_the_house(client: Client) -> None:
    bob = make.bob()
    make.programme(is_demo=True)
    away = client.post(reverse("sign-in-demo"), {"person": bob.pk, "next": "https://elsewhere.example/"})
    assert away["Location"] == "/"
    inside = client.post(reverse("sign-in-demo"), {"person": bob.pk, "next": "/groups/"})
    assert inside["Location"] == "/groups/"


def test_signing_out_is_a_press_not_a_visit(client: Client) -> None:
    client.force_login(make.bob())
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out"), follow=True).status_code == 200
    assert "_auth_user_id" not in client.session


def test_ending_sessions_signs_out_every_device_and_spends_waiting_links(client: Client) -> None:
    bob, other = make.bob(), Client()
    client.force_login(bob)
    other.force_login(bob)
    token = signing.make_link(person=bob, made_by=None)
    client.post(reverse("person-signed-out", args=[bob.pk]))
    for device in (client, other):
        assert device.get(reverse("me")).status_code == 302
    assert client.get(path(token)).status_code == 410


def link_of(*args: str, **options: object) -> str:
    said = io.StringIO()
    call_command("sign_in_link", *args, stdout=said, **options)
    found = re.search(r"https?://\S+", said.getvalue())
    assert found
    return found[0]


def test_the_very_first_link_makes_the_coordinator_and_only_once(client: Client) -> None:
    with pytest.raises(CommandError, match="--first"):
        call_command("sign_in_link")
    url = link_of("--first")
    coordinator = Person.objects.get()
    assert (coordinator.display_name, coordinator.memberships.get().role) == ("Coordinator", "coordinator")
    link_of("--first")
    assert Person.objects.count() == 1
    assert client.post(url.split("8000", 1)[-1]).status_code == 302
    assert is_in(client, coordinator)


def test_the_first_coordinator_is_not_locked_out_where_it_is_still_yesterday() -> None:
    link_of("--first")
    start = Membership.objects.get().date_from
    # The westernmost zone of the tz database, UTC-11 (Pacific/Pago_Pago), may be a day behind UTC.
    assert start == timezone.localdate() - dt.timedelta(days=1)


def test_a_link_from_the_command_line_is_for_the_person_named_and_uses_the_public_address(
    settings: object, client: Client
) -> None:
    bob = make.bob()
    settings.PUBLIC_URL = "https://sap.example.org"  # type: ignore[attr-defined]
    url = link_of(person="bob")
    assert url.startswith("https://sap.example.org/sign-in/")
    client.post(url.removeprefix("https://sap.example.org"))
    assert is_in(client, bob)
    with pytest.raises(CommandError, match="Nobody called"):
        link_of(person="Nobody")
    make.person("BOB", None)
    with pytest.raises(CommandError, match="More than one"):
        link_of(person="bob")
