"""Archives made by the background worker: kept for a day, in the data folder, for who asked and nobody else."""

from __future__ import annotations

import contextlib
import datetime as dt
import errno
import hashlib
import logging
import os
import secrets
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tasks import task

from sugarbush.archive.models import Archive, State
from sugarbush.audit.models import record
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

log = logging.getLogger(__name__)
KEPT = dt.timedelta(hours=24)
FORGOTTEN = dt.timedelta(days=30)
TOLD_EVERY_S = 1.0


def folder() -> Path:
    found = Path(settings.DATA) / "archives"
    found.mkdir(mode=0o700, exist_ok=True)
    return found


def make(path: Path, *, tell: Callable[[int, int], None] | None = None) -> tuple[dict[str, Any], str]:
    """An archive of the programme as it is now, at this path; gives its manifest and the file's own SHA-256.

    It is read back before it gets its name: an archive that cannot be taken in is none.
    Raises FileExistsError, OSError where it cannot be written, CannotRestore where it cannot be read back.
    """
    from sugarbush.archive.reading import Archive as Kept
    from sugarbush.archive.writing import one_moment, write

    if path.exists():
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    coming = path.with_name(f"{path.name}.part")
    try:
        with os.fdopen(os.open(coming, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600), "w+b") as file:
            with one_moment():
                manifest = write(file, tell=tell or (lambda _done, _whole: None))
            file.flush()
            os.fsync(file.fileno())
        with Kept(coming) as kept:
            kept.verify()
        with coming.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        coming.rename(path)
    except BaseException:
        coming.unlink(missing_ok=True)
        raise
    return manifest, sha256


@transaction.atomic
def ask(*, by: Person, reason: str) -> Archive:
    """Leave an archive to the worker. One that this person waits for already is that one."""
    access.require(by, "programme.archive")
    sweep()
    Person.objects.select_for_update().get(pk=by.pk)  # of two presses at once the second finds the first's
    for there in Archive.objects.filter(by=by, state__in=(State.WAITING, State.AT_WORK)):
        if there.at_work:
            return there
    job = Archive.objects.create(by=by, reason=reason)
    record(by=by, act="make archive", subject=job, reason=reason)
    make_in_background.enqueue(str(job.pk))
    return job


@task()
def make_in_background(job_id: str) -> None:
    """Make one archive. Safe to run twice: what is ready stays, what was cut off begins anew."""
    from sugarbush.archive.manifest import CannotRestore

    job = Archive.objects.select_related("by").filter(pk=job_id, state__in=(State.WAITING, State.AT_WORK)).first()
    if job is None:
        return
    if access.why_not(job.by, "programme.archive"):
        _stop(job, _("The right to take an archive ended before it was made."))
        return
    Archive.objects.filter(pk=job.pk).update(state=State.AT_WORK)
    name = f"{secrets.token_hex(16)}.zip"
    try:
        with _telling(job) as tell:
            manifest, sha256 = make(folder() / name, tell=tell)
    except OSError as why:
        log.exception("An archive could not be written")
        full = why.errno in {errno.ENOSPC, errno.EDQUOT}
        _stop(job, _("The machine has no room left. Make room on its disk, then make the archive again.") if full else
              _("It could not be written. Look whether the data folder can be written to."))  # fmt: skip
    except CannotRestore as why:
        log.exception("An archive could not be read back")
        _stop(job, why.sentence)
    else:
        Archive.objects.filter(pk=job.pk).update(
            state=State.DONE,
            file_name=name,
            sha256=sha256,
            size_bytes=(folder() / name).stat().st_size,
            missing=len(manifest["uploads_missing"]),
            finished_at=timezone.now(),
        )


@contextlib.contextmanager
def _telling(job: Archive) -> Iterator[Callable[[int, int], None]]:
    """How far it is, by a connection of its own: what the archive's own look writes, nobody else would see."""
    beside = connections.create_connection(DEFAULT_DB_ALIAS)
    told = [0.0]
    key = Archive._meta.pk.get_db_prep_value(job.pk, beside)

    def tell(done: int, whole: int) -> None:
        if time.monotonic() < told[0] + TOLD_EVERY_S:
            return
        told[0] = time.monotonic()
        with beside.cursor() as cursor:
            cursor.execute("UPDATE archive_archive SET done = %s, whole = %s WHERE id = %s", [done, whole, key])

    try:
        yield tell
    finally:
        beside.close()


def _stop(job: Archive, why: str) -> None:
    Archive.objects.filter(pk=job.pk).update(state=State.STOPPED, why_stopped=why[:300], finished_at=timezone.now())


def file_of(job: Archive) -> Path | None:
    """The archive, while it is kept."""
    if job.state != State.DONE or not job.file_name or "/" in job.file_name:
        return None
    if job.finished_at is None or job.finished_at < timezone.now() - KEPT:
        return None
    path = folder() / job.file_name
    return path if path.is_file() else None


def sweep() -> int:
    """Files go after a day, what was asked after a month, and files no job knows at once; how many files went."""
    now = timezone.now()
    over = Archive.objects.filter(finished_at__lt=now - KEPT).exclude(file_name="")
    over.update(file_name="")
    Archive.objects.filter(asked_at__lt=now - FORGOTTEN).delete()
    known = set(Archive.objects.exclude(file_name="").values_list("file_name", flat=True))
    at_work = any(job.at_work for job in Archive.objects.filter(state__in=(State.WAITING, State.AT_WORK)))
    gone = 0
    for path in folder().iterdir():
        if path.name not in known and not at_work:
            path.unlink(missing_ok=True)
            gone += 1
    return gone
