"""From SQLite to PostgreSQL and back, by the commands a person types, from a server that runs."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from deploy import postgres
from tests.phone.real_server import served
from tests.setup.serving import ROOT, environment

# The mark is for the migrated file that the server starts from; that database is not touched here.
pytestmark = [pytest.mark.django_db, pytest.mark.sqlite_only, pytest.mark.slow]


def manage(env: dict[str, str], *words: str | Path) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def said(path: Path) -> dict[str, Any]:
    with zipfile.ZipFile(path) as kept:
        found: dict[str, Any] = json.loads(kept.read("manifest.json"))
    return {**found, "made_at": ""}


def test_a_programme_moves_to_the_other_database_and_back(tmp_path: Path, database_template: Path | None) -> None:
    first, second, third = (tmp_path / f"{name}.zip" for name in ("first", "second", "third"))
    with served(tmp_path / "here", database_template, people=3, trees=5) as here:
        manage(here.env, "keep_archive", first)
    assert sum(table["rows"] for table in said(first)["tables"]) > 250
    with postgres.running() as socket:
        url = f"postgres://{postgres.USER}@/{postgres.USER}?host={socket}"
        there = environment(tmp_path / "there", {"SUGARBUSH_DATABASE_URL": url})
        (tmp_path / "there").mkdir()
        manage(there, "migrate", "-v0")
        told = manage(there, "restore_archive", first)
        assert "Rows, sums and hashes are those of the archive." in told
        assert "adds up to the millilitre" in told
        manage(there, "keep_archive", second)
    back = environment(tmp_path / "back", {})
    (tmp_path / "back").mkdir()
    if database_template is not None:
        shutil.copyfile(database_template, tmp_path / "back" / "sugarbush.sqlite3")
    manage(back, "migrate", "-v0")
    manage(back, "restore_archive", second)
    manage(back, "keep_archive", third)
    assert said(first) == said(second) == said(third)
    again = subprocess.run(
        [sys.executable, "manage.py", "restore_archive", third], cwd=ROOT, env=back, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert again.returncode == 1
    assert "not empty" in again.stderr
