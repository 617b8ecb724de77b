"""Reading files in the background, and going on after a server was stopped in the middle."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone
from django_tasks import task
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from sugarbush.trees.files import ImportRun
from sugarbush.trees.taking.run import take_in


@task()
def take_in_file(run_id: str) -> None:
    """Read one waiting file to its end."""
    take_in(uuid.UUID(run_id))


def queue(run: ImportRun) -> None:
    """Have the background worker read this file when its turn comes."""
    take_in_file.enqueue(str(run.pk))


def resume() -> int:
    """Queue what a stopped server left waiting or half read; how many were queued. Call it before a worker starts.

    A file whose task waits already is not queued again. One that has stopped its worker time after time is put to
    rest with a word of why: a person decides whether it goes on.
    """
    count = 0
    with transaction.atomic():
        for run in ImportRun.objects.select_for_update().filter(
            state__in=(ImportRun.State.WAITING, ImportRun.State.RUNNING)
        ):
            newest = _newest_task(run)
            if newest is not None and newest.status in {TaskResultStatus.READY, TaskResultStatus.RUNNING}:
                continue
            if newest is not None and newest.status == TaskResultStatus.FAILED:
                run.state = ImportRun.State.STOPPED
                run.finished_at = timezone.now()
                run.report["ended"] = ["cut_off", {}]
                run.save()
                continue
            queue(run)
            count += 1
    return count


def _newest_task(run: ImportRun) -> DBTaskResult[..., Any] | None:
    tasks = DBTaskResult.objects.filter(task_path=take_in_file.module_path).order_by("-enqueued_at")
    return next((one for one in tasks if one.args_kwargs.get("args") == [str(run.pk)]), None)
