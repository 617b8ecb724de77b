"""A city's season kept in one file, and taken in again: 250,000 entries with what hangs on them, 1.4 million rows.

The limits are the project's own: five minutes to make it, and memory that does not grow with the rows.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.db import transaction

from sugarbush.archive.reading import Archive
from sugarbush.archive.writing import write
from tests.bench.test_chain_bench import COLLECTIONS, WHEN, City, Row
from tests.bench.test_review_bench import put

MADE_WITHIN_S, TAKEN_IN_WITHIN_S, MOST_MORE_MB, TAKING_IN_MOST_MB = 300, 600, 40, 200
ROOT = Path(__file__).resolve().parents[2]
EVENT = "at act subject_kind subject_id subject_text reason old new by_id"
TAKE_IN = """
import json, pathlib, sys, time, django
django.setup()
from sugarbush.archive.loading import restore
from sugarbush.archive.reading import Archive
began = time.perf_counter()
with Archive(pathlib.Path(sys.argv[1])) as archive:
    rows = restore(archive).rows
said = pathlib.Path("/proc/self/status").read_text()
most_kb = int(said.split("VmHWM:")[1].split()[0])
print(json.dumps([rows, time.perf_counter() - began, time.process_time(), most_kb * 1024 / 1e6]))
"""


def _now_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


@pytest.mark.django_db
def test_a_citys_season_is_kept_in_minutes_and_taken_in_again(
    tmp_path: Path, database_template: Path | None, capsys: pytest.CaptureFixture[str]
) -> None:
    path, most = tmp_path / "city.zip", [0.0]
    with transaction.atomic():
        city = City()
        old, new = json.dumps({"volume_ml": 4_200}), json.dumps({"volume_ml": 4_300, "settled_by": 7})
        for _half in range(2):
            events: list[Row] = [
                (
                    WHEN,
                    "change entry",
                    "gathering.collection",
                    city.key(),
                    "QH-0001, 4 Row 12",
                    "a typo",
                    old,
                    new,
                    city.by,
                )
                for _nth in range(COLLECTIONS)
            ]
            put("audit_auditevent", EVENT, events)
            events.clear()
        before = _now_mb()

        def tell(_done: int, _whole: int) -> None:
            most[0] = max(most[0], _now_mb() - before)

        began = time.perf_counter()
        with path.open("w+b") as file:
            manifest = write(file, tell=tell)
        made_s = time.perf_counter() - began
        transaction.set_rollback(True)
    began = time.perf_counter()
    with Archive(path) as archive:
        archive.verify()
    verified_s = time.perf_counter() - began
    rows = sum(table["rows"] for table in manifest["tables"])
    assert rows > 1_000_000
    assert database_template is not None
    shutil.copyfile(database_template, tmp_path / "sugarbush.sqlite3")
    told = subprocess.run(
        [sys.executable, "-c", TAKE_IN, path],
        cwd=ROOT,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "sugarbush.settings", "SUGARBUSH_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stderr
    again, taken_in_s, busy_s, most_mb = json.loads(told.stdout)
    with capsys.disabled():
        print(
            f"\n{rows:,} rows, {path.stat().st_size / 1e6:.0f} MB packed, "
            f"{sum(table['bytes'] for table in manifest['tables']) / 1e6:.0f} MB of lines: made in {made_s:.0f} s with "
            f"{most[0]:.0f} MB more, read back in {verified_s:.0f} s, taken in and proved in {taken_in_s:.0f} s "
            f"({busy_s:.0f} s of them at work, {most_mb:.0f} MB at most)"
        )
    assert again == rows
    assert made_s + verified_s < MADE_WITHIN_S
    assert taken_in_s < TAKEN_IN_WITHIN_S
    assert most[0] < MOST_MORE_MB
    assert most_mb < TAKING_IN_MOST_MB
