"""By a code from a mail to a passkey, which lets in again: with Chromium's own authenticator, made of software."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from django.core import mail

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers import tasks
from sugarbush.volunteers.models import Passkey, Person, SignInCode
from tests import make
from tests.browser.walk.somebody import Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_code_lets_in_to_add_a_passkey_and_that_lets_in_again(
    browser: Browser, live_server: Any, settings: Any
) -> None:
    settings.SENDS_MAIL = True
    make.programme()
    make.season()
    alice = make.alice()
    Person.objects.filter(pk=alice.pk).update(email="alice@quillhaven.example")
    # A passkey belongs to a name; a browser takes none for a bare number such as 127.0.0.1.
    address = f"http://localhost:{live_server.thread.port}"
    seat = Somebody(browser, address, "Alice", (1280, 800))
    device = seat.context.new_cdp_session(seat.page)
    device.send("WebAuthn.enable")
    options = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True}
    made = device.send(
        "WebAuthn.addVirtualAuthenticator",
        {"options": {**options, "isUserVerified": True, "automaticPresenceSimulation": True}},
    )
    seat.go("/sign-in/")
    seat.fill(email="alice@quillhaven.example")
    seat.press("Send me a code")
    tasks.send_code.func(str(SignInCode.objects.get().pk))
    seat.fill(code=str(mail.outbox[0].body).split("\n")[2].strip())
    seat.press("Come in")
    seat.says("Come in by a passkey")  # the coordinator is asked, and may say no
    seat.press("Add a passkey")
    seat.fill(**{"passkey-name": "Alice’s phone"})
    seat.press("Add a passkey")
    seat.says("From now on you can come in with “Alice’s phone”.")
    [held] = device.send("WebAuthn.getCredentials", {"authenticatorId": made["authenticatorId"]})["credentials"]
    assert (held["isResidentCredential"], held["rpId"]) == (True, "localhost")
    assert Passkey.objects.get().person == alice
    seat.press("Sign out", within="header")
    seat.says("You are signed out on this device.")
    seat.go("/sign-in/?next=/groups/")
    seat.press("Come in with a passkey")
    assert seat.page.url == f"{address}/groups/"
    assert AuditEvent.objects.filter(act="sign in by passkey", about=alice).count() == 1
    seat.go("/")
    assert "Come in by a passkey" not in seat.words
    seat.go("/me/")
    seat.press("Remove Alice’s phone")
    seat.press("Sign out", within="header")
    with seat.refused(422):
        seat.press("Come in with a passkey")
    seat.says("This passkey opens nothing here.")
    seat.close()
    assert seat.said == []
