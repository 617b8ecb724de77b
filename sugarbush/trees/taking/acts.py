"""What a coordinator does with a file: bring it, choose its columns, take it in, stop, go on, put it away."""

from __future__ import annotations

from collections.abc import Mapping as Values
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Programme
from sugarbush.trees.files import ImportRun
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.guess import guess_columns
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.streets import StreetFile
from sugarbush.trees.taking import past, preview, stored
from sugarbush.trees.taking.tasks import queue
from sugarbush.trees.taking.work import known_species, mapping_of
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Person

ACT = "files.take"
State = ImportRun.State
SAMPLE_ROWS = 200


def bring(*, by: Person | None, kind: str, kept: stored.Kept, file_name: str) -> ImportRun:
    """Enter a file that has just been kept, with its columns guessed and its box drawn.

    by: None on the command line.  Raises CannotRead when it is no such file; the file is then removed again.
    """
    if by is not None:
        require(by, ACT, anywhere=True)
    run = ImportRun(
        kind=kind,
        file_name=_plain_name(file_name),
        path=str(kept.path),
        sha256=kept.sha256,
        size_bytes=kept.size_bytes,
        started_by=by,
    )
    programme = Programme.current()
    box = programme.box if programme else None
    try:
        if kind == ImportRun.Kind.STREETS:
            notices: list[str] = []
            StreetFile(kept.path)
        elif kind == ImportRun.Kind.PAST:
            sheet = past.open_past(kept.path)
            notices = list(sheet.notices)
            run.mapping = past.guess(sheet.columns)
        else:
            table = open_table(kept.path)
            notices = list(table.notices)
            known = Box(*box) if box else None
            mapping = guess_columns(table.columns, table.sample(SAMPLE_ROWS), known=known_species(), box=known)
            run.mapping = asdict(mapping)
        run.report = {"notices": notices}
        if kind != ImportRun.Kind.PAST:
            run.report["box"] = list(box) if box else preview.drawn_box(run)
        if kind == ImportRun.Kind.TREES:
            run.source = preview.likely_source(run) or _list_name(file_name)
    except Exception:
        stored.let_go(str(kept.path))
        raise
    run.save()
    stored.forget_old()
    return run


def _plain_name(file_name: str) -> str:
    return Path(file_name.replace("\\", "/")).name.replace("\x00", "")[-200:] or "file"


def _list_name(file_name: str) -> str:
    words = Path(_plain_name(file_name)).stem.replace("_", " ").replace("-", " ").split()
    return " ".join(words)[:60] or _("town’s trees")


def choose(*, run: ImportRun, mapping: Mapping | None, box: Box | None, source: str) -> ImportRun:
    """Set how a file that was brought is to be read."""
    with transaction.atomic():
        held = _held(run, State.UPLOADED)
        if mapping is not None:
            held.mapping = asdict(mapping)
        held.source = source
        held.report["box"] = _corners(box)
        held.save()
    return held


def choose_past(*, run: ImportRun, chosen: dict[str, str]) -> ImportRun:
    """Set which column of a sheet of past years says what."""
    with transaction.atomic():
        held = _held(run, State.UPLOADED)
        held.mapping = chosen
        held.save()
    return held


def _corners(box: Box | None) -> list[float] | None:
    return [box.west_deg, box.south_deg, box.east_deg, box.north_deg] if box else None


def start(*, by: Person | None, run: ImportRun, in_background: bool = True) -> ImportRun:
    """Take the file in. Its box becomes the programme's where the programme has none.

    Raises Refused when the columns do not do, the programme is not opened, or the file was started already.
    """
    if by is not None:
        require(by, ACT, anywhere=True)
    with transaction.atomic():
        held = _held(run, State.UPLOADED)
        programme = Programme.objects.select_for_update().first()
        if programme is None:
            raise _refused("no_programme", _("The programme is not opened yet."), _("Open the programme first"))
        if held.kind == ImportRun.Kind.TREES:
            problems = mapping_of(held).problems(open_table(held.path).columns)
            if problems:
                raise _refused("columns", problems[0], _("Look at the columns again"))
            if not held.source:
                raise _refused("source", _("The list has no name."), _("Give the list a name"))
        if held.kind == ImportRun.Kind.PAST:
            missing = past.problems(held.mapping, past.open_past(held.path).columns)
            if missing:
                raise _refused("columns", missing[0], _("Look at the columns again"))
        box = held.report.get("box")
        if box and programme.box is None:
            programme.west, programme.south, programme.east, programme.north = box
            programme.save()
            record(by=by, act="draw the programme’s box", subject=programme, new={"box": box, "file": held.file_name})
        held.state = State.WAITING
        held.started_by = by or held.started_by
        held.save()
        if in_background:
            queue(held)
    return held


def stop(*, by: Person, run: ImportRun) -> ImportRun:
    """Stop a reading after the piece in hand. What was taken in stays."""
    require(by, ACT, anywhere=True)
    with transaction.atomic():
        held = _held(run, State.WAITING, State.RUNNING)
        held.state = State.STOPPED
        held.report["ended"] = ["by_hand", {}]
        held.save()
        record(by=by, act="stop a file", subject=held, new={"rows_read": held.rows_read})
    return held


def go_on(*, by: Person, run: ImportRun) -> ImportRun:
    """Read on where a run stopped."""
    require(by, ACT, anywhere=True)
    with transaction.atomic():
        held = _held(run, State.STOPPED)
        held.report.pop("ended", None)
        held.state, held.finished_at = State.WAITING, None
        held.save()
        queue(held)
    return held


def put_away(*, by: Person, run: ImportRun) -> None:
    """Forget a file that was brought but never taken in."""
    require(by, ACT, anywhere=True)
    with transaction.atomic():
        held = _held(run, State.UPLOADED)
        path = held.path
        held.delete()
    stored.let_go(path)


def again(*, by: Person, run: ImportRun) -> ImportRun:
    """The same file once more, with the columns it was read by: to mend them, or to see what changed."""
    require(by, ACT, anywhere=True)
    if not Path(run.path).is_file():
        raise _refused("file_gone", _("The file is no longer on this machine."), _("Bring it again"))
    return ImportRun.objects.create(
        kind=run.kind,
        source=run.source,
        file_name=run.file_name,
        path=run.path,
        sha256=run.sha256,
        size_bytes=run.size_bytes,
        mapping=run.mapping,
        report={name: run.report[name] for name in ("box", "notices") if name in run.report},
        started_by=by,
    )


def _held(run: ImportRun, *states: str) -> ImportRun:
    held = ImportRun.objects.select_for_update().filter(pk=run.pk).first()
    if held is None:
        raise _refused("put_away", _("This file was put away meanwhile."), _("Look at the files brought in"))
    if held.state not in states:
        fact = _("This file is %(state)s by now.") % {"state": held.get_state_display()}
        raise _refused("moved_on", fact, _("Look how it stands"))
    return held


def _refused(code: str, fact: str, next_text: str) -> Refused:
    return Refused([Reason(code=code, fact=fact, next_text=next_text)])


def mapping_from(run: ImportRun, changes: Values[str, Any]) -> Mapping:
    """The run's columns with some chosen by hand. Raises ValueError for a value that cannot be."""
    return mapping_of(run).with_changes(**changes)
