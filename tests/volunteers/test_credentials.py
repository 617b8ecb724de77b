"""Trainings and waivers: who vouches, and from when they count."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers import actions
from sugarbush.volunteers.models import CredentialKind, Person, Role
from tests import make

pytestmark = pytest.mark.django_db
TAPPING = CredentialKind.TAPPING


def lone_coordinator() -> Person:
    return make.person("Ada", Role.COORDINATOR, None)


def test_a_credential_counts_through_its_last_day_and_names_who_vouches() -> None:
    alice, bob, today = make.alice(), make.person("Nell"), make.today()
    made = actions.record_credential(by=alice, person=bob, kind=TAPPING, valid_from=today, valid_to=today)
    assert made.vouched_by == alice
    assert bob.credential_on(TAPPING, today) == made
    assert bob.credential_on(TAPPING, today + dt.timedelta(days=1)) is None
    assert bob.credential_on(TAPPING, today - dt.timedelta(days=1)) is None


def test_nobody_vouches_for_themselves_once_others_have_joined() -> None:
    ada = lone_coordinator()
    make.bob()
    with pytest.raises(PermissionDenied, match="Nobody vouches for themselves"):
        actions.record_credential(by=ada, person=ada, kind=TAPPING, valid_from=make.today())
    client = Client()
    client.force_login(ada)
    assert client.post(reverse("person-credential", args=[ada.pk]), {}).status_code == 403


def test_the_first_person_vouches_for_themselves_and_it_counts_from_another_day() -> None:
    ada, today = lone_coordinator(), make.today()
    made = actions.record_credential(by=ada, person=ada, kind=TAPPING, valid_from=today)
    assert ada.credential_on(TAPPING, today) is None
    assert ada.credential_on(TAPPING, today + dt.timedelta(days=1)) == made
    assert AuditEvent.objects.filter(act="vouch for oneself", by=ada).count() == 1


def test_a_lead_does_not_record_credentials() -> None:
    lena, bob = make.lena(), make.bob()
    client = Client()
    client.force_login(lena)
    assert client.post(reverse("person-credential", args=[bob.pk]), {}).status_code == 403


def test_a_last_day_before_the_first_is_questioned_and_nothing_typed_is_lost() -> None:
    alice, bob = make.alice(), make.person("Nell")
    client = Client()
    client.force_login(alice)
    typed = {
        "credential-kind": "tapping",
        "credential-valid_from": "2026-03-02",
        "credential-valid_to": "2026-03-01",
        "credential-note": "at the mill",
    }
    answer = client.post(reverse("person-credential", args=[bob.pk]), typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "The last day comes before the first" in page
    assert 'value="at the mill"' in page
    assert not bob.credentials.exists()


def test_ending_one_keeps_it_for_the_days_it_counted() -> None:
    alice, bob = make.alice(), make.bob()
    held = bob.credentials.get()
    client = Client()
    client.force_login(alice)
    url = reverse("person-credential-end", args=[bob.pk, held.pk])
    yesterday = make.today() - dt.timedelta(days=1)
    assert client.post(url, {"last_day": yesterday.isoformat()}).status_code == 302
    assert bob.credential_on(TAPPING, yesterday) == held
    assert bob.credential_on(TAPPING, make.today()) is None
    other = reverse("person-credential-end", args=[alice.pk, held.pk])
    assert client.post(other, {"last_day": yesterday.isoformat()}).status_code == 404  # not on that page
