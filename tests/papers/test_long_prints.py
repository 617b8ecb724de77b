"""Long documents: made by the worker, kept a day for who asked, and asked about again when they are fetched."""

from __future__ import annotations

import dataclasses
import datetime as dt
import os

import pytest
from django.urls import reverse
from django.utils import timezone

from sugarbush.papers import documents, jobs
from sugarbush.papers.kinds import kind_of
from sugarbush.papers.models import JobState, PrintedTag, PrintJob
from sugarbush.taps import tasks
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Membership
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def long_kind(monkeypatch):
    """Slips are long from the second one on."""
    documents.load()
    kind = kind_of("permission")
    monkeypatch.setattr("sugarbush.papers.kinds._KINDS", {**_kinds(), "permission": _shorter(kind)})


def _kinds():
    from sugarbush.papers.kinds import _KINDS

    return _KINDS


def _shorter(kind):
    return dataclasses.replace(kind, long_above=1)


def ask(client, *slips, **given):
    data = {"numbers": " ".join(slip.number for slip in slips), "paper": "a4", **given}
    return client.post(reverse("paper-print", args=["permission"]), data)


def test_a_long_print_waits_shows_how_far_it_is_and_is_fetched_by_who_asked_alone(client, long_kind):
    make.season()
    slips = [make.permission(make.tree()) for _ in range(3)]
    client.force_login(make.lena())
    answer = ask(client, *slips)
    assert answer.status_code == 302
    page = answer.headers["Location"]
    shown = client.get(page).content.decode()
    assert 'http-equiv="refresh"' in shown
    assert "It waits for its turn." in shown
    assert ask(client, *slips).headers["Location"] == page  # a second press is the same print
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    job.refresh_from_db()
    assert job.state == JobState.DONE
    ready = client.get(page).content.decode()
    assert 'http-equiv="refresh"' not in ready
    file = reverse("paper-job-file", args=[job.pk])
    got = client.get(file)
    assert b"".join(got.streaming_content).startswith(b"%PDF-")
    assert (jobs.folder() / job.file_name).stat().st_mode & 0o077 == 0
    client.force_login(make.alice())
    assert client.get(page).status_code == client.get(file).status_code == 404
    # Lena's part ends: the file is there, but no longer for her.
    client.force_login(make.lena())
    Membership.objects.filter(person=make.lena()).update(date_to=make.today() - make.days(1))
    assert client.get(file).status_code == 403


def test_what_was_seen_when_asked_but_no_longer_when_fetched_is_not_handed_out(client, long_kind):
    make.season()
    slips = [make.permission(make.tree()) for _ in range(2)]
    client.force_login(make.lena())
    ask(client, *slips)
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    slips[0].trees.update(group=make.group("Mill Race"))
    assert client.get(reverse("paper-job-file", args=[job.pk])).status_code == 404


def test_who_lost_a_role_since_gets_no_file_made_with_its_right(client):
    """Tags say no more which trees they were for once they are printed, so the role itself is asked about."""
    trees = [make.given_tree() for _ in range(3)]
    client.force_login(make.lena())
    documents.load()
    kind = dataclasses.replace(kind_of("tags"), long_above=1)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sugarbush.papers.kinds._KINDS", {**_kinds(), "tags": kind})
        page = reverse("paper-print", args=["tags"])
        answer = client.post(page, {"layout": "a4-8", "which": "missing", "group": "", "codes": ""})
    assert answer.status_code == 302
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    assert PrintedTag.objects.count() == len(trees)
    file = reverse("paper-job-file", args=[job.pk])
    assert client.get(file).status_code == 200
    Membership.objects.filter(person=make.lena()).update(group=make.group("Mill Race"))
    assert client.get(file).status_code == 403


def test_signs_without_a_font_stop_a_long_print_until_somebody_says_go_on(client, long_kind):
    make.season()
    slips = [make.permission(make.tree(), owner=make.owner(f"糖 {n}", "person")) for n in range(2)]
    client.force_login(make.alice())
    ask(client, *slips)
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    job.refresh_from_db()
    assert (job.state, job.cannot_show) == (JobState.STOPPED, "糖")
    page = reverse("paper-job", args=[job.pk])
    assert "SUGARBUSH_FONTS" in client.get(page).content.decode()
    go_on = client.post(page)
    assert go_on.status_code == 302
    second = PrintJob.objects.exclude(pk=job.pk).get()
    jobs.print_in_background.func(str(second.pk))
    second.refresh_from_db()
    assert second.state == JobState.DONE


def test_files_go_after_a_day_and_what_no_print_knows_goes_too(client, long_kind):
    make.season()
    slips = [make.permission(make.tree()) for _ in range(2)]
    client.force_login(make.alice())
    ask(client, *slips)
    job = PrintJob.objects.get()
    jobs.print_in_background.func(str(job.pk))
    job.refresh_from_db()
    path = jobs.file_of(job)
    stray = jobs.folder() / "left-behind.pdf"
    stray.write_bytes(b"%PDF-")
    jobs.sweep()
    assert path.exists()
    assert stray.exists()  # it may be one that is being written
    old = timezone.now() - jobs.KEPT - dt.timedelta(minutes=1)
    os.utime(stray, (old.timestamp(), old.timestamp()))
    PrintJob.objects.update(finished_at=old)
    tasks.midnight.func()
    assert not path.exists()
    assert not stray.exists()
    assert client.get(reverse("paper-job-file", args=[job.pk])).status_code == 404
    PrintJob.objects.update(finished_at=timezone.now() - jobs.FORGOTTEN - dt.timedelta(minutes=1))
    jobs.sweep()
    assert not PrintJob.objects.exists()


def test_nobody_fills_the_queue(client, long_kind):
    make.season()
    slips = [make.permission(make.tree()) for _ in range(jobs.MOST_WAITING + 3)]
    client.force_login(make.alice())
    answers = [ask(client, slips[0], slip).status_code for slip in slips[1:]]
    assert answers.count(302) == jobs.MOST_WAITING
    assert set(answers[jobs.MOST_WAITING :]) == {403}
    access.forget_roles(make.alice())
