"""Taking in a tree file: against a bare bulk load of the same rows, and its memory as the file grows."""

from __future__ import annotations

import csv
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from sugarbush.demo import town
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Species, Tree
from sugarbush.trees.reading.place import Box
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking import rows as sql
from sugarbush.trees.taking.run import take_in
from tests import make

ROOT = Path(__file__).resolve().parents[2]
ROWS = 20_000
ROUNDS = 3
MOST_RATIO = 8.0
A_BIG_TOWN = 700_000
MOST_MINUTES = 10
MOST_GROWTH_MB = 25


def write(path: Path, rows: int) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, town.COLUMNS)
        writer.writeheader()
        writer.writerows(town.iter_inventory(rows))
    return path


def bare_rows(path: Path, species_id: int, source: str) -> Iterator[tuple[Any, ...]]:
    """The same columns filled from the same cells, with nothing looked at."""
    alike = sql._ALIKE
    with path.open(newline="", encoding="utf-8") as file:
        for at, cells in enumerate(csv.reader(file)):
            if not at:
                continue
            number, size = cells[0], int(float(cells[3]) * 25_400)
            yield (
                f"{source}-{number}", float(cells[9]), float(cells[10]), 3_390_044_824 + at // 40, cells[4], cells[5],
                species_id, 1, size, cells[3], "unknown", source, number, species_id, size, cells[12], cells[11], at,
                "2026-03-01 00:00:00", *alike,
            )  # fmt: skip


def bare_load(place: Path, path: Path, species_id: int, source: str) -> None:
    names = ", ".join(f'"{name}"' for name in sql.NEW_TREE)
    marks = ", ".join("?" * len(sql.NEW_TREE))
    with sqlite3.connect(place) as bare:
        bare.execute("PRAGMA journal_mode=WAL")
        bare.execute("PRAGMA synchronous=OFF")
        bare.execute("PRAGMA foreign_keys=ON")
        bare.executemany(f"INSERT INTO trees_tree ({names}) VALUES ({marks})", bare_rows(path, species_id, source))
    bare.close()


@pytest.mark.django_db(transaction=True)
def test_with_all_its_checks_it_takes_no_more_than_eight_times_a_bare_load(tmp_path: Path) -> None:
    make.programme(west=-89, south=46, east=-86, north=48)
    species_id = make.species().pk
    bare = tmp_path / "bare.sqlite3"
    with connection.cursor() as cursor:
        # The same empty tables with the same indexes.
        cursor.execute("VACUUM INTO %s", [str(bare)])
    path = write(tmp_path / "big.csv", ROWS)
    ours: list[float] = []
    theirs: list[float] = []
    again: list[float] = []
    for turn in range(ROUNDS):
        source = f"S{turn}"
        begun = time.process_time()
        bare_load(bare, path, species_id, source)
        theirs.append(time.process_time() - begun)
        for times in (ours, again):
            run = acts.bring(by=None, kind="trees", kept=stored.keep_copy(path), file_name="big.csv")
            run = acts.choose(run=run, mapping=None, box=Box(*run.report["box"]), source=source)
            run = acts.start(by=None, run=run, in_background=False)
            begun = time.process_time()
            done = take_in(run.pk)
            times.append(time.process_time() - begun)
            assert done is not None
            assert (done.state, done.taken + done.same) == (ImportRun.State.DONE, ROWS)
    assert Tree.objects.count() == ROWS * ROUNDS
    assert Species.objects.exists()
    each_us, bare_us, again_us = (min(times) / ROWS * 1e6 for times in (ours, theirs, again))
    ratio = min(ours) / min(theirs)
    minutes = each_us * A_BIG_TOWN / 60e6
    print(
        f"\ntaken in {each_us:.0f} us a row, bare load {bare_us:.0f} us: {ratio:.1f}x; the same file again "
        f"{again_us:.0f} us; {A_BIG_TOWN:,} rows in about {minutes:.1f} min of one processor"
    )
    assert ratio <= MOST_RATIO
    assert minutes <= MOST_MINUTES


# VmHWM, not getrusage: ru_maxrss starts at what the parent had when it forked, and hides what the child needs.
MEASURE = """
import re, sys
import django; django.setup()
from pathlib import Path
from sugarbush.seasons.models import Programme
from sugarbush.trees.reading.place import Box
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking.run import take_in
Programme.objects.create(name="Quillhaven", place="Quillhaven", tag_prefix="QH", west=-89, south=46, east=-86, north=48)
run = acts.bring(by=None, kind="trees", kept=stored.keep_copy(Path(sys.argv[1])), file_name="big.csv")
run = acts.start(by=None, run=run, in_background=False)
def peak_kb():
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])
before = peak_kb()
done = take_in(run.pk)
print(done.taken, before, peak_kb())
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux keeps the peak there")
def test_memory_does_not_grow_with_the_rows(tmp_path: Path, database_template: Path | None) -> None:
    peaks = {}
    for rows in (20_000, 200_000):
        data = tmp_path / str(rows)
        data.mkdir()
        if database_template is not None and database_template.exists():
            shutil.copyfile(database_template, data / "sugarbush.sqlite3")
        path = write(tmp_path / f"{rows}.csv", rows)
        plain = {name: value for name, value in os.environ.items() if not name.startswith(("SUGARBUSH_", "DJANGO_"))}
        environment = {**plain, "SUGARBUSH_DATA": str(data), "DJANGO_SETTINGS_MODULE": "sugarbush.settings"}
        # In a process of its own: its memory would hide what the reading needs.
        subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, check=True, env=environment)
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, str(path)], cwd=ROOT, check=True, capture_output=True, text=True,
            env=environment,
        )  # fmt: skip
        taken, before, peak = (int(word) for word in done.stdout.split())
        assert taken == rows
        assert peak > before, "the peak must come from taking in, or it shows nothing"
        peaks[rows] = peak / 1024
        print(f"\n{rows:,} rows: {before / 1024:.0f} MB before, {peak / 1024:.0f} MB at its peak")
    growth = peaks[200_000] - peaks[20_000]
    print(f"\npeak {peaks[20_000]:.0f} MB at 20,000 rows, {peaks[200_000]:.0f} MB at 200,000: {growth:.1f} MB more")
    # What is left is the memory of numbers already met: 12 bytes a slot, so that doubles are seen.
    assert growth <= MOST_GROWTH_MB
