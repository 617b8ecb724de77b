"""What the commands that take in a file on the command line share."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from pathlib import Path

from django.core.management.base import CommandError

from sugarbush.parts.csvfile import lines
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.taking import acts, stored
from sugarbush.trees.taking.report import csv_header, csv_rows
from sugarbush.trees.taking.run import take_in
from sugarbush.trees.taking.words import ended_sentence, reason_words, remark_words, what_words

Say = Callable[[str], object]


def bring(file: str, *, kind: str) -> ImportRun:
    """Enter a file of this machine. Every refusal is one plain sentence."""
    place = Path(file)
    if Programme.current() is None:
        raise CommandError("The programme is not opened yet. Open it in the browser first.")
    try:
        kept = stored.keep_copy(place)
    except stored.NotKept as why:
        raise CommandError(why.sentence) from None
    except OSError as why:
        code = "missing" if isinstance(why, FileNotFoundError) else "not_open"
        raise CommandError(f"{place}: {CannotRead(code).sentence}") from None
    try:
        return acts.bring(by=None, kind=kind, kept=kept, file_name=place.name)
    except CannotRead as why:
        raise CommandError(f"{place.name}: {why.sentence}") from None


def read(run: ImportRun, say: Say) -> ImportRun:
    """Take the file in here and now, saying how far it has come."""
    drew = run.report.get("box") and Programme.objects.filter(west=None).exists()
    run = acts.start(by=None, run=run, in_background=False)
    if drew:
        say(f"The programme’s box was drawn from this file: {box_words(run)}.")
    last = [-1]

    def told(now: ImportRun) -> None:
        share = now.bytes_read * 100 // max(1, now.size_bytes)
        # Some twenty lines, however large the file.
        if share >= last[0] + 5:
            last[0] = share
            say(f"{share:3d} %  {now.rows_read} rows read, {now.taken} taken, {now.refused} not taken")

    done = take_in(run.pk, told=told)
    if done is None:
        raise CommandError("Somebody stopped this file, or the server reads it now. Look at /files/.")
    return done


def box_words(run: ImportRun) -> str:
    """The run's box in a sentence."""
    west, south, east, north = run.report["box"]
    return f"longitude {west} to {east}, latitude {south} to {north}"


def tell(run: ImportRun, say: Say) -> None:
    """What came of it, in the words of the page."""
    say(f"{run.rows_read} rows read: {run.taken} taken, {run.changed} changed, {run.same} the same as before, "
        f"{run.refused} not taken.")  # fmt: skip
    for code, count in sorted(run.report.get("reasons", {}).items()):
        say(f"  not taken, {reason_words(code)}: {count}")
    for what, count in sorted(run.report.get("changes", {}).items()):
        say(f"  changed, {what_words(what)}: {count}")
    for code, (count, first) in sorted(run.report.get("remarks", {}).items()):
        say(f"  {remark_words(code)}: {count}, first in row {first}")
    if run.report.get("gone"):
        say(f"  listed before, but not taken from this file: {run.report['gone']}")
    if run.state != ImportRun.State.DONE:
        raise CommandError(f"{ended_sentence(run)} The {run.rows_read} rows before are taken care of.")


def write_problems(run_id: uuid.UUID, path: str, *, units: str) -> None:
    """The rows to look at as a CSV file."""
    try:
        with Path(path).open("w", encoding="utf-8-sig", newline="") as file:
            file.writelines(lines(csv_header(), csv_rows(run_id, units)))
    except OSError as why:
        raise CommandError(f"{path} could not be written: {why.strerror}. Give another place.") from None


def forget(run: ImportRun) -> None:
    """Leave nothing of a preview behind."""
    path = run.path
    run.delete()
    stored.let_go(path)
