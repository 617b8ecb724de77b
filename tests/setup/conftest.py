"""A data folder that has been started once, so that only the tests of a first start pay for one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.setup.serving import serving


@pytest.fixture(scope="session")
def first_start(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder after one empty start and a clean stop. Copy it, do not use it."""
    data = tmp_path_factory.mktemp("first") / "data"
    with serving(data, "--empty") as server:
        assert server.stop() == 0
    return data


@pytest.fixture
def data(first_start: Path, tmp_path: Path) -> Path:
    """A copy of that folder for one test."""
    copy = tmp_path / "data"
    shutil.copytree(first_start, copy)
    return copy
