"""A person who has left asks for their name to go: it goes everywhere it may, and what was counted stays."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sugarbush.api import tokens
from sugarbush.audit.models import AuditEvent
from sugarbush.gathering.models import Collection
from sugarbush.notices.models import Notice, Recipient
from sugarbush.parts.append_only import lifted
from sugarbush.parts.reasons import Refused
from sugarbush.sap.ledger import Move, hands_of, post
from sugarbush.sap.models import ActKind, Cause
from sugarbush.seasons.models import Programme
from sugarbush.shares import runs
from sugarbush.shares.models import ShareRun
from sugarbush.taps import tasks
from sugarbush.volunteers import actions, forgetting
from sugarbush.volunteers import rules as house_rules
from sugarbush.volunteers.models import Credential, Device, Passkey, Person, SignInCode
from tests import make
from tests.shares import season as small

pytestmark = pytest.mark.django_db
ROBERT = "Robert Nowhere"


def leaver() -> Person:
    """Somebody with a name in every place that keeps one, who carries nothing and has left."""
    make.programme()
    robert = make.person(ROBERT, "volunteer", "North Bank")
    robert.email, robert.age_band = "robert@quillhaven.example", "youth"
    robert.save()
    credential = Credential.objects.create(
        person=robert, kind="tapping", valid_from=make.today(), vouched_by=make.alice()
    )
    credential.note = "Robert brought a paper"
    credential.save()
    return robert


def stand_in_every_text(*texts: str) -> list[str]:
    """Which of these texts stand anywhere in the database, and in which table."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f'SELECT * FROM "{table}"')
            rows = str(cursor.fetchall())
            found += [f"{table}: {text}" for text in texts if text in rows]
    return found


def test_the_name_goes_and_the_litres_stay():
    robert = leaver()
    tree = make.tapped_tree()
    make.collection(tree, litres="3", by=robert)
    post(
        kind=ActKind.CORRECT, season=make.season(), author=make.alice(), happened_at=timezone.now(), reason="spilt",
        moves=[Move(volume_ml=3_000, cause=Cause.SPILLED, source=hands_of(robert, make.season()))],
    )  # fmt: skip
    office = Client()
    office.force_login(make.alice())
    url = reverse("person-forget", args=[robert.pk])
    asked = {"forget-reason": "asked for it", "forget-sure": "on"}
    answer = office.post(url, asked)
    assert answer.status_code == 409
    assert "has not left" in answer.content.decode()
    actions.stop_person(by=make.alice(), person=robert, reason="moved away")
    answer = office.post(url, {"forget-reason": "asked for it"})
    assert answer.status_code == 422
    assert "Tick this if it is meant" in answer.content.decode()
    for person, status in ((make.lena(), 403), (make.rhea(), 403), (make.mira(), 404)):
        other = Client()
        other.force_login(person)
        assert other.post(url, asked).status_code == status
    assert office.post(url, asked).status_code == 302
    assert stand_in_every_text("Robert", "robert@") == []
    robert.refresh_from_db()
    assert (str(robert), robert.email, robert.age_band) == (f"A former volunteer {robert.pk}", None, "adult")
    assert Collection.objects.get(person=robert).volume_ml == 3_000
    assert Credential.objects.get(person=robert).note == ""
    assert AuditEvent.objects.filter(about=robert, act="forget person").count() == 1
    assert office.post(url, asked).status_code == 302
    assert AuditEvent.objects.filter(about=robert, act="forget person").count() == 1
    assert office.post(reverse("person-back", args=[robert.pk])).status_code == 409
    assert office.post(reverse("person", args=[robert.pk]), {"display_name": ROBERT}).status_code == 403
    assert f"A former volunteer {robert.pk}" in office.get(reverse("person", args=[robert.pk])).content.decode()


def test_no_column_of_any_table_names_who_was_forgotten_nor_their_guardian():
    """Robert has gone through every way in, and stands in everything that keeps people; a guardian is named for him."""
    named = ("Nowhere", "Robert", "robert@", "old-robert@", "Gudrun", "Yale")
    robert = leaver()
    Person.objects.filter(pk=robert.pk).update(email="old-robert@quillhaven.example")
    Person.objects.get(pk=robert.pk).save()  # an older version with another address
    robert.save()
    season = small.ready()
    house_rules.publish(by=make.alice(), words="Be kind.", after=0, asks_anew=True, needed_from=make.today())
    house_rules.say_yes(person=robert, number=1, guardian="Gudrun Yale")
    run = runs.make_run(season=season, by=small.sol())
    assert run.shares.filter(person=robert).exists()
    Passkey.objects.create(person=robert, name="Robert’s phone", credential_id="x", credential_hash="x", attested="x")
    Device.objects.create(person=robert, key_hash="y", words="Robert’s Firefox")
    SignInCode.objects.create(person=robert, seed="s", expires_at=timezone.now())
    tokens.make(person=robert, name="Robert’s map", scopes=["trees"])
    theirs = Client()
    theirs.force_login(robert)
    theirs.post(reverse("my-data"))
    theirs.post(reverse("my-messages"), {"act": "stop"})
    writes = {"kind": "other", "audience": "role", "body": "Come.", "subject": "Round", "to": "people"}
    kept = Notice.objects.create(written_by=make.alice(), reply_to="Robert@quillhaven.example", **writes)
    Notice.objects.create(written_by=make.lena(), reply_to="old-robert@quillhaven.example", **writes)
    Recipient.objects.create(
        notice=kept, person=robert, name=ROBERT, way="email", address="former-robert@quillhaven.example"
    )
    assert len({row.split(":")[0] for row in stand_in_every_text(*named)}) >= 10
    actions.stop_person(by=make.alice(), person=robert, reason="moved away")
    forgetting.forget(person=Person.objects.get(pk=robert.pk), by=make.alice(), reason="asked for it")
    assert stand_in_every_text(*named) == []
    assert not runs.differs(ShareRun.objects.get(pk=run.pk))


def test_sap_in_hands_and_open_approvals_come_first():
    robert = leaver()
    make.collection(make.tapped_tree(), litres="3", by=robert)
    post(
        kind=ActKind.COLLECT, season=make.season(), author=make.bob(), happened_at=timezone.now(), approver=robert,
        moves=[Move(volume_ml=1_000, cause=Cause.OUT_OF_TREE, target=hands_of(make.bob(), make.season()))],
    )  # fmt: skip
    actions.stop_person(by=make.alice(), person=robert, reason="moved away")
    with pytest.raises(Refused) as refused:
        forgetting.forget(person=robert, by=make.alice(), reason="asked for it")
    assert [reason.code for reason in refused.value.reasons] == ["sap-in-hands", "approvals-open"]
    assert Person.objects.get(pk=robert.pk).display_name == ROBERT


def test_at_night_only_those_go_who_left_so_long_ago():
    robert = leaver()
    actions.stop_person(by=make.alice(), person=robert, reason="moved away")
    assert forgetting.forget_long_gone(years=3) == 0
    left = AuditEvent.objects.get(act="stop person")
    with lifted():
        AuditEvent.objects.filter(pk=left.pk).update(at=timezone.now() - dt.timedelta(days=3 * 366))
    assert tasks.forget_names() == 0
    Programme.objects.update(forget_after_years=4)
    assert tasks.forget_names() == 0
    Programme.objects.update(forget_after_years=3)
    assert tasks.forget_names() == 1
    assert tasks.forget_names() == 0
    assert "3 years after you left" in Client().get(reverse("privacy")).content.decode()
    assert AuditEvent.objects.get(act="forget person").by is None
