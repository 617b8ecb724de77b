"""Starting, stopping, starting again: what is kept, what ends, what is done again."""

from __future__ import annotations

import os
import signal
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from deploy import postgres
from tests.setup.conftest import FirstRun
from tests.setup.serving import gone, serving


def rows_by_table(data: Path) -> dict[str, int]:
    with closing(sqlite3.connect(data / "sugarbush.sqlite3")) as database:
        tables = [name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: database.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables}


def test_an_empty_start_prints_its_address_and_a_link_that_signs_in(first_run: FirstRun) -> None:
    assert f"is ready at http://127.0.0.1:{first_run.port}" in first_run.printed
    assert f"http://127.0.0.1:{first_run.port}/sign-in/" in first_run.printed


def test_it_answers_on_its_port(first_run: FirstRun) -> None:
    assert (first_run.healthz, first_run.readyz) == (200, 200)


def test_style_sheets_go_out_under_hashed_names(first_run: FirstRun) -> None:
    assert first_run.style_sheet == 200


def test_ctrl_c_ends_all_its_processes_with_a_clean_status(first_run: FirstRun) -> None:
    assert first_run.processes == 4  # the parent, gunicorn's two, the background worker
    assert first_run.status == 0
    assert first_run.all_gone


def test_a_second_server_on_the_same_data_is_refused(first_run: FirstRun) -> None:
    assert "already running" in first_run.second_server


def test_data_and_key_are_their_owners_alone(first_run: FirstRun) -> None:
    assert stat.S_IMODE(first_run.data.stat().st_mode) == 0o700
    assert stat.S_IMODE((first_run.data / "secret-key").stat().st_mode) == 0o600


@pytest.mark.parametrize("which", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_when_one_process_dies_the_others_stop_too(data: Path, which: int) -> None:
    with serving(data, "--empty") as server:
        family = server.family()
        os.kill(family[which], signal.SIGKILL)
        assert server.process.wait(30) == 1
        assert gone(family)


def test_a_server_killed_outright_leaves_nothing_running_and_the_next_start_keeps_all(data: Path) -> None:
    key, before = (data / "secret-key").read_text(), rows_by_table(data)
    assert before["volunteers_person"] == 1  # the first coordinator
    with serving(data, "--empty") as server:
        family = server.family()
        server.process.kill()
        assert gone(family)
    with serving(data, "--empty") as server:
        assert server.get("/readyz") == 200
        assert server.stop(signal.SIGTERM) == 0
    after = rows_by_table(data)
    assert after["volunteers_person"] == 1
    assert all(after[table] >= rows for table, rows in before.items())
    assert (data / "secret-key").read_text() == key


def test_it_serves_on_postgresql(tmp_path: Path) -> None:
    with postgres.running() as socket_folder:
        address = f"postgres://{postgres.USER}@/{socket_folder}/{postgres.USER}"
        with serving(tmp_path, "--empty", SUGARBUSH_DATABASE_URL=address) as server:
            assert server.get("/readyz") == 200
            assert server.stop() == 0
    assert not (tmp_path / "sugarbush.sqlite3").exists()
