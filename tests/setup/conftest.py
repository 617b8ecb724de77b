"""One first start for all tests: what was seen while it ran, and the data folder it left."""

from __future__ import annotations

import shutil
import signal
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.setup.serving import free_port, gone, serving, start_refused


@dataclass(frozen=True)
class FirstRun:
    """What an empty first start showed, from its first line to its end."""

    port: int
    printed: str
    healthz: int
    readyz: int
    style_sheet: int
    processes: int
    second_server: str
    status: int
    all_gone: bool
    data: Path


@pytest.fixture(scope="session")
def first_run(tmp_path_factory: pytest.TempPathFactory) -> FirstRun:
    data = tmp_path_factory.mktemp("first") / "data"
    with serving(data, "--empty") as server:
        hashed = next((data / "static" / "css").glob("*.????????????.css")).name
        healthz, readyz = server.get("/healthz"), server.get("/readyz")
        family = server.family()  # now: the process that has answered is among them
        return FirstRun(
            port=server.port,
            printed=server.printed,
            healthz=healthz,
            readyz=readyz,
            style_sheet=server.get(f"/static/css/{hashed}"),
            processes=len(family),
            second_server=start_refused(data, SUGARBUSH_PORT=str(free_port())),
            status=server.stop(signal.SIGINT),
            all_gone=gone(family),
            data=data,
        )


@pytest.fixture
def data(first_run: FirstRun, tmp_path: Path) -> Path:
    """A copy of the data folder that the first start left, for one test."""
    copy = tmp_path / "data"
    shutil.copytree(first_run.data, copy)
    return copy
