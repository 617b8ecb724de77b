"""The page: made by the background worker, for coordinators, for who asked, for a day; all of it in the history."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import zipfile

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from sugarbush.archive import jobs
from sugarbush.archive.models import Archive, State
from sugarbush.audit.models import AuditEvent
from sugarbush.taps import tasks
from sugarbush.volunteers.models import Membership, Role
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_coordinator_has_an_archive_made_and_takes_it_away():
    make.programme()
    alice, other, bob = Client(), Client(), Client()
    alice.force_login(make.alice())
    other.force_login(make.person("Aurelia", Role.COORDINATOR, None))
    bob.force_login(make.bob())
    page = reverse("archive")
    assert page in alice.get(reverse("programme")).content.decode()
    assert (bob.get(page).status_code, bob.post(page, {"reason": "x"}).status_code) == (403, 403)
    assert alice.post(page, {"reason": " "}).status_code == 422
    assert alice.post(page, {"reason": "moving house"}).status_code == 302
    alice.post(page, {"reason": "moving house"})
    job = Archive.objects.get()
    assert DBTaskResult.objects.count() == 1
    waiting = alice.get(page).content.decode()
    assert 'http-equiv="refresh"' in waiting
    assert "Make the archive" not in waiting
    jobs.make_in_background.func(str(job.pk))
    jobs.make_in_background.func(str(job.pk))
    job.refresh_from_db()
    assert (job.state, job.missing, job.whole > 0) == (State.DONE, 0, True)
    there = reverse("archive-file", args=[job.pk])
    ready = alice.get(page).content.decode()
    assert there in ready
    assert job.sha256 in ready
    assert (other.get(there).status_code, bob.get(there).status_code) == (404, 403)
    answer = alice.get(there)
    body = b"".join(answer)
    assert hashlib.sha256(body).hexdigest() == job.sha256
    assert "manifest.json" in zipfile.ZipFile(io.BytesIO(body)).namelist()
    assert "private, no-store" in answer["Cache-Control"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    told = AuditEvent.objects.filter(act__endswith="archive").order_by("pk").values_list("act", "reason")
    assert list(told) == [("make archive", "moving house"), ("take archive", "")]
    assert (jobs.folder() / job.file_name).stat().st_mode & 0o777 == 0o600

    # Its day is over; and who is no coordinator any more makes none, though they asked while they were.
    Archive.objects.update(finished_at=timezone.now() - jobs.KEPT)
    assert alice.get(there).status_code == 404
    assert list(jobs.folder().iterdir()) != []
    tasks._BY_NIGHT["archives"]()
    assert list(jobs.folder().iterdir()) == []
    late = jobs.ask(by=make.alice(), reason="late")
    Membership.objects.filter(person=make.alice()).update(date_to=make.today() - dt.timedelta(days=1))
    jobs.make_in_background.func(str(late.pk))
    late.refresh_from_db()
    assert (late.state, late.file_name) == (State.STOPPED, "")
    assert alice.get(page).status_code == 403
