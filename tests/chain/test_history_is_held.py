"""The history is only added to, whoever asks, and holds nobody's name."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from sugarbush.audit.models import AuditEvent, record
from sugarbush.parts.append_only import lifted
from sugarbush.volunteers import actions
from sugarbush.volunteers.changing import change, edition_of
from tests import make

pytestmark = pytest.mark.django_db

ON_EACH = {
    "sqlite": ["INSERT OR REPLACE INTO audit_auditevent SELECT * FROM audit_auditevent"],
    "postgresql": ["TRUNCATE audit_auditevent"],
}


def test_an_act_in_the_history_stays_as_it_was_written():
    record(by=make.alice(), act="stop person", subject=make.bob(), reason="moved away")
    before = list(AuditEvent.objects.values())
    for sql in [
        "UPDATE audit_auditevent SET reason = ''",
        "UPDATE audit_auditevent SET about_id = NULL",
        "DELETE FROM audit_auditevent",
        *ON_EACH[connection.vendor],
    ]:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            with pytest.raises(IntegrityError, match="only ever added to"), transaction.atomic():
                cursor.execute(sql)
    assert list(AuditEvent.objects.values()) == before


def test_the_history_holds_numbers_and_no_names():
    bob = make.bob()
    actions.stop_person(by=make.alice(), person=bob, reason="moved away")
    values = {"display_name": "Robert Nowhere", "email": "robert@quillhaven.example", "units": "us"}
    change(row=bob, by=make.alice(), values=values, seen=edition_of(bob, values), act="change person")
    actions.give_role(by=make.alice(), person=bob, role="depot_keeper", group=None)
    about_bob = AuditEvent.objects.filter(about=bob)
    assert {event.act for event in about_bob} == {"stop person", "end sessions", "change person", "give role"}
    assert about_bob.get(act="change person").new == {"units": "us", "changed": ["display_name", "email"]}
    kept = str(list(AuditEvent.objects.values()))
    assert not [text for text in ("Bob", "Robert", "robert@") if text in kept]


def test_names_kept_before_the_history_was_held_go_from_it():
    bob, member = make.bob(), make.bob().memberships.get()
    kinds = {"volunteers.person": bob, "volunteers.membership": member}
    for kind, row in kinds.items():
        AuditEvent.objects.create(
            act="change person", subject_kind=kind, subject_id=str(row.pk), subject_text="Bob: volunteer (North Bank)",
            old={"display_name": "Bob", "units": "us"}, new={"display_name": "Rob"} if row is bob else {},
        )  # fmt: skip
    with lifted():
        import_module("sugarbush.audit.migrations.0003_no_names").write(apps, None)
    person, role = AuditEvent.objects.filter(act="change person").order_by("pk")
    assert (person.about, person.subject_text, person.old) == (bob, "", {"units": "us", "changed": ["display_name"]})
    assert (role.about, role.subject_text) == (bob, "volunteer (North Bank)")
