"""The whole way, as a stranger goes it: a copy of the project, one command, nothing installed before."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.setup.serving import ROOT, serving

NOT_IN_A_COPY = shutil.ignore_patterns(
    ".venv*", ".git", "data", "node_modules", "__pycache__", ".*_cache", ".hypothesis"
)


@pytest.mark.slow
def test_one_command_brings_a_fresh_copy_to_its_first_page(tmp_path: Path) -> None:
    project = tmp_path / "project"
    shutil.copytree(ROOT, project, ignore=NOT_IN_A_COPY)
    data = tmp_path / "data"
    with serving(data, "--empty", command=["sh", "deploy/start"], cwd=project) as server:
        assert "Making the virtual environment" in server.printed
        assert server.get("/readyz") == 200
        assert server.stop() == 0
    with serving(data, command=["sh", "deploy/start"], cwd=project) as server:
        assert "Installing" not in server.printed
        assert server.stop() == 0
