"""What is kept about people: said to everybody, with the lengths and roles the programme works with."""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from sugarbush.api import tokens
from sugarbush.audit.models import AuditEvent
from sugarbush.desk.privacy import kept, own_data
from sugarbush.phone.pack import GOOD_DAYS
from sugarbush.volunteers import actions
from sugarbush.volunteers.signing import hash_of
from tests import make

pytestmark = pytest.mark.django_db


def test_everybody_reads_what_is_kept_why_how_long_and_who_sees_it():
    page = Client().get(reverse("privacy")).content.decode()
    rows = kept.table()
    assert all(text in page for row in rows for text in (row.what.split("’")[0], row.how_long.split("’")[0]))
    assert all(row.why and row.how_long and row.who for row in rows)
    assert f"put away after {GOOD_DAYS} days without contact" in page
    assert f"{settings.SESSION_COOKIE_AGE // kept.DAY_S} days at most" in page
    assert kept.seen_by("contact.see") == "Coordinator, group lead"
    assert reverse("privacy") in Client().get(reverse("about")).content.decode().split("<footer")[1]


def test_a_person_takes_their_own_data_as_a_file_and_a_coordinator_anothers():
    make.programme()
    bob, lena = make.bob(), make.lena()
    entry = make.collection(make.tapped_tree(), litres="2", by=bob, note="=1+1")
    make.collection(make.tapped_tree(), litres="7", by=lena)
    actions.end_sessions(by=make.alice(), person=bob)
    _token, secret = tokens.make(person=bob, name="a map", scopes=["trees"])
    tokens.make(person=lena, name="another", scopes=["trees"])
    mine = Client()
    mine.force_login(make.bob())
    assert mine.get(reverse("my-data")).status_code == 405
    answer = mine.post(reverse("my-data"))
    assert "no-store" in answer["Cache-Control"]
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    data = json.loads(archive.read("my-data.json"))
    assert set(data["fields"]) == set(data) - {"made_at", "programme", "fields"}
    assert (data["person"]["display_name"], data["roles"][0]["role"]) == ("Bob", "volunteer")
    assert [(row["tree"], row["volume_ml"]) for row in data["entries"]] == [(entry.tree.code, 2_000)]
    assert [row["act"] for row in data["history"]] == ["end sessions", "make token", "take own data"]
    assert [(row["name"], row["scopes"], row["withdrawn_at"]) for row in data["tokens"]] == [("a map", ["trees"], None)]
    assert secret not in str(data)
    assert hash_of(secret) not in str(data)
    table = archive.read("entries.csv").decode()
    assert table.count("\r\n") == 2
    assert '"\'=1+1"' in table
    alice = Client()
    alice.force_login(make.alice())
    actions.stop_person(by=make.alice(), person=make.bob(), reason="moved away")
    other = alice.post(reverse("person-data", args=[bob.pk]))
    assert b"my-data.json" in other.content
    assert AuditEvent.objects.get(act="take a person’s data").about == bob
    for person, status in ((lena, 403), (make.mira(), 404), (make.rhea(), 403), (make.charlie(), 404)):
        client = Client()
        client.force_login(person)
        assert client.post(reverse("person-data", args=[bob.pk])).status_code == status, person
    assert own_data.collected(make.charlie())["entries"] == []
