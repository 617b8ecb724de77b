"""Starting, stopping, starting again: what is kept, what ends, what is done again."""

from __future__ import annotations

import os
import signal
import stat
from pathlib import Path

import pytest

from tests.setup.serving import gone, manage, serving


def test_an_empty_start_serves_prints_a_link_and_stops_cleanly(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with serving(data, "--empty") as server:
        assert f"is ready at http://127.0.0.1:{server.port}" in server.printed
        assert server.get("/healthz") == 200
        assert server.get("/readyz") == 200
        family = server.family()
        assert len(family) == 4  # the parent, gunicorn's two, the background worker
        assert server.stop(signal.SIGINT) == 0
        assert gone(family)
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert stat.S_IMODE((data / "secret-key").stat().st_mode) == 0o600


def test_a_second_start_keeps_everything(data: Path) -> None:
    key = (data / "secret-key").read_text()
    make = "from sugarbush.volunteers.models import Group; Group.objects.create(name='Kept Lane')"
    manage(data, "shell", "-c", make)
    with serving(data, "--empty") as server:
        assert server.stop(signal.SIGTERM) == 0
    assert (data / "secret-key").read_text() == key
    count = "from sugarbush.volunteers.models import Group; print(Group.objects.filter(name='Kept Lane').count())"
    assert manage(data, "shell", "-v", "0", "-c", count).strip() == "1"


@pytest.mark.parametrize("which", [1, 2])
def test_when_one_process_dies_the_others_stop_too(data: Path, which: int) -> None:
    with serving(data, "--empty") as server:
        family = server.family()
        os.kill(family[which], signal.SIGKILL)
        assert server.process.wait(30) == 1
        assert gone(family)


def test_a_server_killed_outright_leaves_nothing_behind_and_starts_again(data: Path) -> None:
    with serving(data, "--empty") as server:
        family = server.family()
        server.process.kill()
        assert gone(family)
    with serving(data, "--empty") as server:
        assert server.get("/healthz") == 200
        assert server.stop() == 0


def test_static_files_go_out_under_hashed_names(data: Path) -> None:
    with serving(data, "--empty") as server:
        hashed = next((data / "static" / "css").glob("*.????????????.css")).name
        assert server.get(f"/static/css/{hashed}") == 200
        assert server.stop() == 0
