"""Depots: where sap is brought, when, and who has the key."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sugarbush.audit.models import AuditEvent
from sugarbush.kit.models import Depot
from sugarbush.volunteers.changing import edition_of
from sugarbush.volunteers.models import Person
from tests import make

pytestmark = pytest.mark.django_db
YARD = {"name": "Mill Race yard", "place": "behind the mill", "hours": "daily 16:00 to 18:00", "keyholder": "Dora"}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_coordinator_adds_a_depot_for_its_groups_and_every_member_reads_it() -> None:
    north = make.group()
    client = signed_in(make.alice())
    assert client.post(reverse("depot-new"), {**YARD, "groups": [north.pk]}).status_code == 302
    assert client.post(reverse("depot-new"), YARD).status_code == 422
    assert list(Depot.objects.get().groups.all()) == [north]
    page = signed_in(make.bob()).get(reverse("depots")).content.decode()
    for words in (*YARD.values(), "North Bank"):
        assert words in page


def test_others_do_not_change_a_depot() -> None:
    depot = make.depot()
    for person in (make.bob(), make.lena(), make.dora(), make.rhea(), make.charlie()):
        client = signed_in(person)
        assert client.post(reverse("depot", args=[depot.pk]), YARD).status_code == 403
        assert client.post(reverse("depot-new"), YARD).status_code == 403
    assert signed_in(make.charlie()).get(reverse("depots")).status_code == 403
    assert Depot.objects.get().place == ""


def test_a_change_is_kept_with_what_stood_there_before_and_a_stale_page_is_told() -> None:
    depot, north = make.depot(), make.group()
    client = signed_in(make.alice())
    seen = edition_of(depot, ["name", "place", "hours", "keyholder"])
    url = reverse("depot", args=[depot.pk])
    assert client.post(url, {**YARD, "groups": [north.pk], "edition": seen}).status_code == 302
    event = AuditEvent.objects.get(act="change depot")
    assert (event.old["place"], event.new["place"]) == ("", "behind the mill")
    assert AuditEvent.objects.get(act="change depot groups").new == {"groups": [north.pk]}
    stale = client.post(url, {**YARD, "place": "by the weir", "edition": seen})
    assert stale.status_code == 409
    assert 'value="by the weir"' in stale.content.decode()
    assert "behind the mill" in stale.content.decode()
