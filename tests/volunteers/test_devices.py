"""The devices a person is signed in on: listed, ended one by one or all, written seldom."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sugarbush.audit.models import AuditEvent
from sugarbush.volunteers import actions, devices
from sugarbush.volunteers.models import Device
from sugarbush.volunteers.signing import hash_of
from tests import make

pytestmark = pytest.mark.django_db
PHONE = "Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0"


def signed_in() -> Client:
    client = Client(headers={"user-agent": PHONE})
    client.force_login(make.bob())
    Device.objects.filter(words__startswith="a device").update(words="Firefox on Android")
    return client


def test_a_person_sees_their_devices_and_signs_one_out():
    make.programme()
    here, lost = signed_in(), signed_in()
    assert Device.objects.filter(person=make.bob()).count() == 2
    other = Device.objects.get(key_hash=hash_of(lost.session.session_key or ""))
    page = here.get(reverse("me")).content.decode()
    assert page.count("this one") == 2  # in the list, and in the words about all of them
    assert page.count("Firefox on Android") == 4  # each in the list and in the name of its button
    assert signed_in_as_mira().post(reverse("device-end", args=[other.pk])).status_code == 404
    assert here.post(reverse("device-end", args=[other.pk])).status_code == 302
    assert lost.get(reverse("me")).status_code == 302
    assert here.get(reverse("me")).status_code == 200
    assert AuditEvent.objects.get(act="end one session").about == make.bob()
    mine = Device.objects.get(person=make.bob())
    assert here.post(reverse("device-end", args=[mine.pk]))["Location"] == reverse("sign-in")
    assert here.get(reverse("me")).status_code == 302


def test_all_others_are_signed_out_at_once_and_this_one_stays():
    make.programme()
    here, lost, sold, mira = signed_in(), signed_in(), signed_in(), signed_in_as_mira()
    page = here.get(reverse("me")).content.decode()
    assert "Sign out all others" in page
    assert here.post(reverse("devices-end-others"), follow=True).content.decode().count("2 other devices are") == 1
    assert [one.get(reverse("me")).status_code for one in (here, lost, sold, mira)] == [200, 302, 302, 200]
    assert "Sign out all others" not in here.get(reverse("me")).content.decode()
    assert AuditEvent.objects.get(act="end other sessions").new == {"devices": 2}
    here.post(reverse("devices-end-others"))  # nothing left to end, nothing written
    assert AuditEvent.objects.filter(act="end other sessions").count() == 1


def signed_in_as_mira() -> Client:
    client = Client()
    client.force_login(make.mira())
    return client


def test_signing_out_here_or_everywhere_clears_the_list_and_old_ones_go_at_night():
    make.programme()
    client = signed_in()
    client.post(reverse("sign-out"))
    assert not Device.objects.exists()
    signed_in(), signed_in()
    actions.end_sessions(by=make.alice(), person=make.bob())
    assert not Device.objects.exists()
    signed_in()
    devices.sweep(timezone.now() + dt.timedelta(days=149))
    assert Device.objects.exists()
    devices.sweep(timezone.now() + dt.timedelta(days=151))
    assert not Device.objects.exists()


def test_being_seen_is_written_once_an_hour_and_asks_nothing_in_between():
    make.programme()
    client = signed_in()
    long_ago = timezone.now() - dt.timedelta(hours=3)
    Device.objects.update(seen_at=long_ago)
    with CaptureQueriesContext(connection) as asked:
        client.get(reverse("me"))
    assert not [query for query in asked if "UPDATE" in query["sql"] and "device" in query["sql"]]
    devices._written.clear()
    client.get(reverse("me"))
    assert Device.objects.get().seen_at > long_ago + dt.timedelta(hours=2)
    Device.objects.all().delete()  # a session from before there was such a list
    devices._written.clear()
    client.get(reverse("me"))
    assert Device.objects.get().words == "Firefox on Android"


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (PHONE, "Firefox on Android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Version/18.0 Safari/604.1", "Safari on iPhone"),
        ("Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 Chrome/130.0 Safari/537.36", "Chrome on Linux"),
        ("<script>", "a device that does not say what it is"),
    ],
)  # fmt: skip
def test_a_device_is_named_in_a_few_words(agent: str, words: str):
    assert devices.words_of(agent) == words
