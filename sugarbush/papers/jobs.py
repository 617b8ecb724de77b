"""Long documents: made by the background worker, kept for a day, for who asked and nobody else."""

from __future__ import annotations

import datetime as dt
import logging
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import Http404
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django_tasks import task

from sugarbush.papers import documents
from sugarbush.papers.kinds import Asked, Kind, kind_of
from sugarbush.papers.models import JobState, PaperSettings, PrintJob
from sugarbush.papers.press import CannotShow, PressFailed
from sugarbush.papers.printing import make
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Programme
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

log = logging.getLogger(__name__)
KEPT = dt.timedelta(hours=24)
FORGOTTEN = dt.timedelta(days=7)
LONGEST_S = 180.0
MOST_WAITING = 5
"""So many unfinished prints of one person at a time."""
OPEN = (JobState.WAITING, JobState.GATHERING, JobState.SETTING)


def folder() -> Path:
    found = Path(settings.DATA) / "papers"
    found.mkdir(mode=0o700, exist_ok=True)
    return found


def start(kind: Kind, asked: Asked, *, anyway: bool = False) -> PrintJob:
    """Leave a long document to the worker. The same one asked again while it waits is the one that is there.

    What the person may not see is refused here and now already, where gathering says so before it gathers.
    """
    sweep()
    if kind.may is not None:
        kind.may(asked)
    kept = {
        "paper": asked.paper,
        "units": asked.units,
        "base": asked.base,
        "choices": dict(asked.choices),
        "anyway": anyway,
        "roles": _roles(asked.person),
        "language": translation.get_language() or "en",
    }
    waiting = PrintJob.objects.filter(by=asked.person, state__in=OPEN)
    for job in waiting.filter(kind=kind.key):
        if job.asked == kept:
            return job
    if waiting.count() >= MOST_WAITING:
        raise PermissionDenied(_("Five prints of yours are still waiting. Look again when one is ready."))
    job = PrintJob.objects.create(
        by=asked.person, kind=kind.key, asked=kept, title=str(kind.label), whole=kind.size(asked)
    )
    print_in_background.enqueue(str(job.pk))
    return job


@task()
def print_in_background(job_id: str) -> None:
    """Make one long document. Safe to run twice: what is ready stays."""
    from sugarbush.taps.tasks import local_time

    documents.load()
    job = PrintJob.objects.select_related("by").filter(pk=job_id, state__in=OPEN).first()
    if job is None:
        return
    with local_time(), translation.override(job.asked.get("language")):
        try:
            _print(job)
        except CannotShow as why:
            _stop(job, "", cannot_show=why.characters)
        except (Http404, PermissionDenied, Refused) as why:
            _stop(job, _("You may not print this any more, or it is gone.") if isinstance(why, Http404) else str(why))
        except PressFailed:
            log.exception("A long document could not be set")
            _stop(job, _("It could not be set. Try again; if that does not help, print less at once."))


def _print(job: PrintJob) -> None:
    kind = kind_of(job.kind)

    def progress(done: int, whole: int) -> None:
        PrintJob.objects.filter(pk=job.pk).update(done=done, whole=whole)

    job.state = JobState.GATHERING
    job.save(update_fields=["state"])
    made = make(
        kind,
        asked_again(job, progress=progress),
        anyway=bool(job.asked.get("anyway")),
        longest_s=LONGEST_S,
        setting=lambda: PrintJob.objects.filter(pk=job.pk).update(state=JobState.SETTING),
    )
    name = f"{secrets.token_hex(16)}.pdf"
    path = folder() / name
    with path.open("xb") as out:
        path.chmod(0o600)
        out.write(made)
    PrintJob.objects.filter(pk=job.pk).update(
        state=JobState.DONE, file_name=name, finished_at=timezone.now(), why_stopped=""
    )


def _stop(job: PrintJob, why: str, *, cannot_show: str = "") -> None:
    PrintJob.objects.filter(pk=job.pk).update(
        state=JobState.STOPPED, why_stopped=why[:300], cannot_show=cannot_show[:400], finished_at=timezone.now()
    )


def _roles(person: Person) -> list[list[Any]]:
    return sorted([[role, group or 0] for role, group in access.roles_of(person)])


def require_same_part(job: PrintJob, person: Person) -> None:
    """Refuse a file to somebody who has lost a role since they asked: it was gathered with the right of that role."""
    now = _roles(person)
    if any(role not in now for role in job.asked.get("roles", [])):
        raise PermissionDenied(_("Your part in the programme has changed since you asked for this. Print it again."))


def asked_again(job: PrintJob, **given: Any) -> Asked:
    """What a job was asked for, as of now: a person who may no longer see something does not find it."""
    programme = Programme.current()
    person = Person.objects.get(pk=job.by_id)
    if programme is None or not access.roles_of(person):
        raise PermissionDenied(_("You have no role in the programme today. Ask a coordinator to add you."))
    kept: Mapping[str, Any] = job.asked
    return Asked(
        person=person,
        programme=programme,
        settings=PaperSettings.current(),
        paper=kept["paper"],
        units=kept["units"],
        base=kept["base"],
        choices=kept["choices"],
        **given,
    )


def file_of(job: PrintJob) -> Path | None:
    """The finished document, while it is kept."""
    if job.state != JobState.DONE or not job.file_name or "/" in job.file_name:
        return None
    path = folder() / job.file_name
    return path if path.is_file() else None


def sweep() -> int:
    """Files go after a day, what was asked after a week, and files no job knows at once; how many files went."""
    now = timezone.now()
    for job in PrintJob.objects.filter(finished_at__lt=now - KEPT).exclude(file_name=""):
        (folder() / job.file_name).unlink(missing_ok=True)
        PrintJob.objects.filter(pk=job.pk).update(file_name="")
    PrintJob.objects.filter(Q(finished_at__lt=now - FORGOTTEN) | Q(asked_at__lt=now - 2 * FORGOTTEN)).delete()
    known = set(PrintJob.objects.exclude(file_name="").values_list("file_name", flat=True))
    gone = 0
    for path in folder().glob("*.pdf"):
        age_s = now.timestamp() - path.stat().st_mtime
        if path.name not in known and age_s > 3600:
            path.unlink(missing_ok=True)
            gone += 1
    return gone
