"""A reading cut off at any moment goes on where it was, without doubles and with the counters right."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connections
from django_tasks_db.models import DBTaskResult

from sugarbush.trees.files import ImportProblem, ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.taking import acts, tasks
from sugarbush.trees.taking import rows as rows_module
from sugarbush.trees.taking import run as engine
from sugarbush.trees.taking.words import ended_sentence, may_go_on
from tests import make
from tests.trees.taking.making import brought, counts, row, rows, taken, write_csv

ROOT = Path(__file__).resolve().parents[3]


class Killed(BaseException):
    """The machine goes away: nothing may catch it and tidy up."""


@pytest.fixture
def small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 50)


def mixed(count: int) -> list[list[str]]:
    """Every seventh row swapped; every eleventh uses the number of the row ten before it."""
    lines = rows(count)
    for at in range(20, count):
        if at % 7 == 0:
            lines[at] = row(f"{at + 1:04d}", longitude="47.05", latitude="-87.35")
        elif at % 11 == 0:
            lines[at] = row(f"{at - 9:04d}")
    return lines


@pytest.mark.django_db
@pytest.mark.usefixtures("small_pieces")
@pytest.mark.parametrize("where", ["work.keep", "after"])
def test_cut_off_anywhere_it_goes_on_with_the_next_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    path = write_csv(tmp_path, mixed(330))
    whole = taken(path, source="whole")
    run = acts.start(by=make.alice(), run=brought(path, source="cut"), in_background=False)
    real, pieces = engine._keep_piece, [0]

    def keep_piece(*args: object) -> ImportRun | None:
        pieces[0] += 1
        if pieces[0] == 4 and where == "after":
            real(*args)  # type: ignore[arg-type]
            raise Killed
        return real(*args)  # type: ignore[arg-type]

    def insert_trees(*args: object, **kwargs: object) -> None:
        if pieces[0] == 4 and where == "work.keep":
            raise Killed
        real_insert(*args, **kwargs)  # type: ignore[arg-type]

    real_insert = rows_module.insert_trees
    monkeypatch.setattr(engine, "_keep_piece", keep_piece)
    monkeypatch.setattr("sugarbush.trees.taking.work.insert_trees", insert_trees)
    with pytest.raises(Killed):
        engine.take_in(run.pk)
    run.refresh_from_db()
    # What is stored and what is counted belong together.
    assert run.state == ImportRun.State.RUNNING
    assert run.rows_read == (150 if where == "work.keep" else 200)
    assert Tree.objects.filter(inventory_source="cut").count() == run.taken
    assert run.problems.count() == run.refused

    engine.take_in(run.pk)
    run.refresh_from_db()
    assert run.state == ImportRun.State.DONE
    assert counts(run) == counts(whole)
    assert run.report["reasons"] == whole.report["reasons"]
    assert Tree.objects.filter(inventory_source="cut").count() == whole.taken
    stripped = [
        list(ImportProblem.objects.filter(run=one).values_list("row_number", "number", "reason", "values"))
        for one in (run, whole)
    ]
    assert stripped[0] == stripped[1]


@pytest.mark.django_db
@pytest.mark.usefixtures("small_pieces")
def test_a_reading_that_was_taken_over_stops_by_itself(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(200))), in_background=False)

    def told(now: ImportRun) -> None:
        if now.rows_read == 100:
            # Another worker reads the same run to its end while this one holds its next piece.
            engine.take_in(run.pk)

    assert engine.take_in(run.pk, told=told) is None
    run.refresh_from_db()
    assert (run.state, counts(run)) == (ImportRun.State.DONE, (200, 0, 0, 0))
    assert Tree.objects.count() == 200


@pytest.mark.django_db
@pytest.mark.usefixtures("small_pieces")
def test_stopped_by_hand_and_gone_on_with(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(200))), in_background=False)

    def told(now: ImportRun) -> None:
        if now.rows_read == 100:
            acts.stop(by=make.alice(), run=now)

    engine.take_in(run.pk, told=told)
    run.refresh_from_db()
    assert (run.state, run.rows_read, Tree.objects.count()) == (ImportRun.State.STOPPED, 100, 100)
    assert ended_sentence(run) == "Stopped by hand."
    assert may_go_on(run)
    engine.take_in(run.pk)  # a stopped run is not read
    assert Tree.objects.count() == 100
    acts.go_on(by=make.alice(), run=run)
    engine.take_in(run.pk)
    run.refresh_from_db()
    assert (run.state, counts(run)) == (ImportRun.State.DONE, (200, 0, 0, 0))
    assert not ended_sentence(run)


def queued(run: ImportRun) -> list[DBTaskResult]:
    return [one for one in DBTaskResult.objects.all() if one.args_kwargs["args"] == [str(run.pk)]]


@pytest.mark.django_db
def test_each_start_queues_what_was_left_and_never_twice(tmp_path: Path) -> None:
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(3))))
    assert len(queued(run)) == 1
    call_command("resume_files")
    assert len(queued(run)) == 1
    # Its task is lost, as after a foreground reading that was killed.
    DBTaskResult.objects.all().delete()
    call_command("resume_files")
    call_command("resume_files")
    assert [one.status for one in queued(run)] == ["READY"]
    tasks.take_in_file.call(str(run.pk))
    run.refresh_from_db()
    assert run.state == ImportRun.State.DONE
    DBTaskResult.objects.all().delete()
    call_command("resume_files")
    assert queued(run) == []


@pytest.mark.django_db
def test_a_file_that_stops_its_worker_again_and_again_waits_for_a_person(tmp_path: Path) -> None:
    from deploy.serve import TRIES_PER_TASK, give_back_tasks

    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(3))))
    task = queued(run)[0]
    task.status, task.worker_ids = "RUNNING", ["one"] * TRIES_PER_TASK
    task.save()
    give_back_tasks()
    call_command("resume_files")
    run.refresh_from_db()
    assert run.state == ImportRun.State.STOPPED
    assert "several times" in ended_sentence(run)
    assert may_go_on(run)
    acts.go_on(by=make.alice(), run=run)
    assert len(queued(run)) == 2


@pytest.mark.django_db(transaction=True)
def test_two_workers_at_one_file_store_each_row_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "ROWS_IN_A_PIECE", 20)
    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(400))), in_background=False)
    together = threading.Barrier(2)

    def work() -> None:
        together.wait()
        engine.take_in(run.pk)
        connections.close_all()

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    run.refresh_from_db()
    assert (run.state, counts(run), run.rows_read) == (ImportRun.State.DONE, (400, 0, 0, 0), 400)
    assert Tree.objects.count() == 400


@pytest.fixture
def own_folder(tmp_path: Path) -> dict[str, str]:
    """An install of its own, for processes that are killed."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("SUGARBUSH_", "DJANGO_"))}
    return {**environment, "SUGARBUSH_DATA": str(tmp_path / "data"), "DJANGO_SETTINGS_MODULE": "sugarbush.settings"}


MAKE_READY = """
import django; django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)  # nothing left to do where a migrated database was copied
from sugarbush.seasons.models import Programme
Programme.objects.create(name="Quillhaven", place="Quillhaven", tag_prefix="QH")
"""
COUNT = """
import django; django.setup()
from sugarbush.trees.models import Tree, ImportRun
run = ImportRun.objects.get()
print(run.state, run.rows_read, run.taken, run.refused, Tree.objects.count(), run.problems.count())
"""
WORK = """
import django; django.setup()
from django.core.management import call_command
from sugarbush.trees.taking.tasks import take_in_file
from django_tasks_db.models import DBTaskResult
call_command("resume_files")
call_command("resume_files")
assert DBTaskResult.objects.count() == 1
take_in_file.call(*DBTaskResult.objects.get().args_kwargs["args"])
"""


@pytest.mark.slow
@pytest.mark.sqlite_only
def test_killed_outright_in_the_middle_the_next_start_finishes_it(
    own_folder: dict[str, str], tmp_path: Path, database_template: Path | None
) -> None:
    def python(code: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=own_folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    (tmp_path / "data").mkdir()
    if database_template is not None and database_template.exists():
        shutil.copyfile(database_template, tmp_path / "data" / "sugarbush.sqlite3")
    path = write_csv(tmp_path, mixed(20_000))
    python(MAKE_READY)
    reading = subprocess.Popen(
        [sys.executable, "manage.py", "import_trees", str(path)], cwd=ROOT, env=own_folder, stdout=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    assert reading.stdout is not None
    for line in reading.stdout:
        if " rows read" in line:
            time.sleep(0.05)
            reading.send_signal(signal.SIGKILL)
            break
    assert reading.wait() == -signal.SIGKILL
    state, read, stored, refused, trees, problems = python(COUNT).split()
    assert state == "running"
    assert 0 < int(read) < 20_000
    assert (int(stored), int(refused)) == (int(trees), int(problems))
    python(WORK)
    state, read, stored, refused, trees, problems = python(COUNT).split()
    lines = mixed(20_000)
    bad = sum(1 for at in range(20, len(lines)) if at % 7 == 0 or (at % 11 == 0))
    # A number used a second time is refused, unless its first use was a swapped row.
    freed = sum(1 for at in range(20, len(lines)) if at % 7 and at % 11 == 0 and at - 10 >= 20 and (at - 10) % 7 == 0)
    assert (state, int(read), int(refused)) == ("done", 20_000, bad - freed)
    assert int(stored) == int(trees) == 20_000 - int(refused)
    assert int(problems) == int(refused)


@pytest.mark.django_db(transaction=True)
def test_the_background_worker_takes_a_started_file_in(tmp_path: Path) -> None:
    from django_tasks_db.management.commands.db_worker import Worker

    run = acts.start(by=make.alice(), run=brought(write_csv(tmp_path, rows(40))))
    # The worker of deploy.serve, told to end when nothing waits.
    Worker(
        queue_names=["*"], excluded_queue_names=[], interval=0, batch=True, backend_name="default",
        startup_delay=False, max_tasks=None, worker_id="one",
    ).run()  # fmt: skip
    run.refresh_from_db()
    assert (run.state, counts(run)) == (ImportRun.State.DONE, (40, 0, 0, 0))
    assert [one.status for one in queued(run)] == ["SUCCESSFUL"]
