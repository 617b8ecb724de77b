"""Takes a file in, piece by piece.

Each piece is one transaction that holds its trees, its refusals and the run's counters together. A server killed at
any moment leaves whole pieces behind; the next reading passes over the rows before, which only fills its memory of
numbers, and goes on with the first row that was not stored. No row is stored twice and no count is off.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Refused
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.taking.past import PastWork
from sugarbush.trees.taking.streets import StreetWork
from sugarbush.trees.taking.work import Tally, TreeWork, Work

ROWS_IN_A_PIECE = 2_000
Told = Callable[[ImportRun], None]
State = ImportRun.State
log = logging.getLogger("sugarbush.files")


def take_in(run_id: uuid.UUID, *, told: Told | None = None) -> ImportRun | None:
    """Read the file of a waiting run to its end, or on from where it was cut off. The run as it stands then.

    None when it does not wait (any more): it was stopped, is done, or another worker has taken it over.
    told: called after each piece.
    """
    run = _begin(run_id)
    if run is None:
        return None
    programme = Programme.current()
    if programme is None:
        return _end_early(run, "no_programme")
    with timezone.override(programme.zone):
        return _guarded(run, told)


def _guarded(run: ImportRun, told: Told | None) -> ImportRun | None:
    """Whatever happens, the run says how it ended, as long as the database can be written to."""
    try:
        return _read(run, told)
    except CannotRead as why:
        return _end_early(run, "file_gone" if why.code == "missing" else why.code, why.values)
    except Refused:
        return _end_early(run, "no_programme")
    except (DatabaseError, OSError) as why:
        log.exception("Taking in %s stopped.", run.pk)
        full = any(word in str(why).lower() for word in ("full", "no space", "quota"))
        return _end_early(run, "disk_full" if full else "unforeseen")
    except Exception:
        log.exception("Taking in %s stopped.", run.pk)
        return _end_early(run, "unforeseen")


def _begin(run_id: uuid.UUID) -> ImportRun | None:
    with transaction.atomic():
        run = ImportRun.objects.select_for_update().filter(pk=run_id, state__in=(State.WAITING, State.RUNNING)).first()
        if run is None:
            return None
        run.state = State.RUNNING
        run.started_at = run.started_at or timezone.now()
        if "listed_before" not in run.report:
            run.report["listed_before"] = Tree.objects.filter(inventory_source=run.source).exists()
        run.save()
    return run


def _read(run: ImportRun, told: Told | None) -> ImportRun | None:
    if not Path(run.path).is_file() or Path(run.path).stat().st_size != run.size_bytes:
        return _end_early(run, "file_gone")
    try:
        work = _opened(run)
    except CannotRead:
        raise
    except ValueError:
        return _end_early(run, "columns_gone")
    for items in _pieces(work.items(), after=run.rows_read):
        kept = _keep(run, work, items)
        if kept is None:
            return None
        run = kept
        if told is not None:
            told(run)
    return _finish(run, work)


def _opened(run: ImportRun) -> Work:
    if run.kind == ImportRun.Kind.STREETS:
        return StreetWork(run)
    return PastWork(run) if run.kind == ImportRun.Kind.PAST else TreeWork(run)


def _pieces(items: Iterator[Any], *, after: int) -> Iterator[list[Any]]:
    """Lists of what comes after so many items. Where the file breaks, what was read before it comes first."""
    piece: list[Any] = []
    broken: CannotRead | None = None
    try:
        for count, item in enumerate(items, start=1):
            if count <= after:
                continue
            piece.append(item)
            if len(piece) >= ROWS_IN_A_PIECE:
                yield piece
                piece = []
    except CannotRead as why:
        broken = why
    if piece:
        yield piece
    if broken is not None:
        raise broken


def _keep(run: ImportRun, work: Work, items: list[Any]) -> ImportRun | None:
    try:
        return _keep_piece(run, work, items)
    except IntegrityError:
        # Trees of this list came in by another way meanwhile. Look each one up from here on.
        if work.look_up:
            raise
        work.look_up = True
        return _keep_piece(run, work, items)


def _keep_piece(run: ImportRun, work: Work, items: list[Any]) -> ImportRun | None:
    """Store one piece and move the counters; None when the run is no longer where this reading left it."""
    with transaction.atomic():
        held = _held(run)
        if held is None:
            return None
        _count(held, work.keep(held, items))
        held.rows_read += len(items)
        held.bytes_read = min(work.read_bytes, held.size_bytes)
        held.save()
    return held


def _held(run: ImportRun) -> ImportRun | None:
    """The run's row, locked, if nobody stopped it or read on since."""
    rows = ImportRun.objects.select_for_update()
    return rows.filter(pk=run.pk, state=State.RUNNING, rows_read=run.rows_read).first()


def _count(run: ImportRun, tally: Tally) -> None:
    run.taken += tally.taken
    run.changed += tally.changed
    run.same += tally.same
    run.refused += tally.refused
    for name, counts in (("reasons", tally.reasons), ("changes", tally.changes)):
        kept = run.report.setdefault(name, {})
        for code, count in counts.items():
            kept[code] = kept.get(code, 0) + count
    remarks = run.report.setdefault("remarks", {})
    for code, (count, first_row) in tally.remarks.items():
        before = remarks.setdefault(code, [0, first_row])
        before[0] += count


def _finish(run: ImportRun, work: Work) -> ImportRun | None:
    with transaction.atomic():
        held = _held(run)
        if held is None:
            return None
        held.state = State.DONE
        held.finished_at = timezone.now()
        held.bytes_read = held.size_bytes
        work.finish(held)
        held.save()
        _tell_history(held)
    return held


def _end_early(run: ImportRun, code: str, values: dict[str, Any] | None = None) -> ImportRun | None:
    """Say why the reading ends here. What was stored before stays."""
    try:
        with transaction.atomic():
            held = ImportRun.objects.select_for_update().filter(pk=run.pk, state=State.RUNNING).first()
            if held is None:
                return None
            held.state = State.STOPPED
            held.finished_at = timezone.now()
            held.report["ended"] = [code, values or {}]
            held.save()
            _tell_history(held)
    except DatabaseError:
        # Not even this could be written. The run stays "being read" and goes on at the next start.
        log.exception("How the taking-in of %s ended could not be kept.", run.pk)
        return None
    return held


def _tell_history(run: ImportRun) -> None:
    counts = {name: getattr(run, name) for name in ("rows_read", "taken", "changed", "same", "refused")}
    record(
        by=run.started_by,
        act=f"take in {run.kind}",
        subject=run,
        new={"file": run.file_name, "list": run.source, "state": str(run.state), **counts},
    )
