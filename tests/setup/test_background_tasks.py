"""A task that was cut off is done again, but not for ever."""

from __future__ import annotations

import pytest
from django_tasks_db.models import DBTaskResult, get_date_max

from deploy.serve import TRIES_PER_TASK, give_back_tasks


def task(*, status: str, workers: int) -> DBTaskResult:
    return DBTaskResult.objects.create(
        status=status,
        worker_ids=[f"worker {number}" for number in range(workers)],
        args_kwargs={"args": [], "kwargs": {}},
        task_path="somewhere.some_task",
        backend_name="default",
        run_after=get_date_max(),
    )


@pytest.mark.django_db
def test_a_task_cut_off_by_a_stop_is_queued_again() -> None:
    cut_off = task(status="RUNNING", workers=1)
    done = task(status="SUCCESSFUL", workers=1)
    give_back_tasks()
    assert list(DBTaskResult.objects.ready()) == [cut_off]
    done.refresh_from_db()
    assert done.status == "SUCCESSFUL"


@pytest.mark.django_db
def test_a_task_that_keeps_stopping_its_worker_rests() -> None:
    hopeless = task(status="RUNNING", workers=TRIES_PER_TASK)
    give_back_tasks()
    hopeless.refresh_from_db()
    assert hopeless.status == "FAILED"
    assert hopeless.finished_at is not None
