"""Whoever is given the whole programme comes in anew: a lead may have kept a way in of theirs."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.api import tokens
from sugarbush.api.models import Token
from sugarbush.volunteers import actions, calendar_links, signing
from sugarbush.volunteers.models import Passkey, Role
from tests import make

pytestmark = pytest.mark.django_db


def test_what_a_lead_could_have_kept_opens_nothing_after_a_promotion() -> None:
    bob, alice, lead_as_bob = make.bob(), make.alice(), Client()
    link = signing.make_link(person=bob, made_by=make.lena())
    lead_as_bob.post(reverse("sign-in-link", args=[link]))
    spare = signing.make_link(person=bob, made_by=make.lena())
    Passkey.objects.create(person=bob, name="a stick", credential_hash="0" * 64, attested="AA", sign_count=0)
    calendar = calendar_links.token_of(calendar_links.make(person=bob))
    _token, secret = tokens.make(person=bob, name="a script", scopes=["trees"])
    assert lead_as_bob.get(reverse("me")).status_code == 200

    actions.give_role(by=alice, person=bob, role=Role.VOLUNTEER, group=make.group("Mill Race"))
    assert lead_as_bob.get(reverse("me")).status_code == 200  # another group is not the whole programme

    actions.give_role(by=alice, person=bob, role=Role.COORDINATOR, group=None)
    assert lead_as_bob.get(reverse("me")).status_code == 302
    assert Client().post(reverse("sign-in-link", args=[spare])).status_code == 410
    assert not bob.passkeys.exists()
    assert Client().get(reverse("calendar-feed", args=[calendar])).status_code == 404
    assert tokens.token_for(secret) is None
    assert Token.objects.filter(person=bob).exists()

    fresh = Client()
    fresh.post(reverse("sign-in-link", args=[signing.make_link(person=bob, made_by=alice)]))
    actions.give_role(by=alice, person=bob, role=Role.STEWARD, group=None)
    assert fresh.get(reverse("me")).status_code == 200  # they hold the programme already


def test_the_page_says_so() -> None:
    client = Client()
    client.force_login(make.alice())
    bob = make.bob()
    day = make.today().isoformat()
    answer = client.post(
        reverse("person-role", args=[bob.pk]), {"role": Role.REVIEWER, "group": "", "date_from": day}, follow=True
    )
    assert "comes in anew" in answer.content.decode()
