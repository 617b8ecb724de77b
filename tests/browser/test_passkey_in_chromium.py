"""A passkey is added, and lets its person in again: with Chromium's own authenticator, made of software."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers.models import Passkey
from tests import make
from tests.browser.walk.somebody import Somebody

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_passkey_is_added_on_ones_page_and_lets_in_again(browser: Browser, live_server: Any) -> None:
    from sugarbush.volunteers import signing

    make.programme()
    make.season()
    alice = make.alice()
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
    seat.go(f"/sign-in/{signing.make_link(person=alice, made_by=None)}/")
    seat.press("Come in as Alice")
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
