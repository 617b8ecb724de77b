"""What nobody is coming for: pails that fill before the next run, and rounds without anybody tomorrow."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sugarbush.gathering.board import Board, Line
from sugarbush.gathering.filling import Filling, FullFirst, full_first
from sugarbush.gathering.models_rounds import Answer, Part, Round, RoundRun, RunPerson, RunState
from sugarbush.gathering.rounds import day_span
from sugarbush.gathering.run_state import WAITS, Standing, cut_off
from sugarbush.gathering.way import live_stops
from sugarbush.seasons.models import Season
from sugarbush.volunteers.models import Person
from sugarbush.weather.outlook import Tomorrow

ALL_OF_THEM = 10_000
SHOWN_AT_ONCE = 12


@dataclass(frozen=True, kw_only=True)
class Overflow:
    """A pail that is full before somebody comes. comes_at: latest start of the next run; None where nobody comes."""

    filling: Filling
    round: Round | None
    comes_at: dt.datetime | None


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A round without anybody tomorrow. run: where one is planned all the same; said_no: who cannot come."""

    round: Round
    run: RoundRun | None
    said_no: tuple[Person, ...]
    standby: tuple[Person, ...]


@dataclass(frozen=True, kw_only=True)
class Uncovered:
    """Both lists. quiet: tomorrow does not pass freezing, so only what is full before tomorrow is listed."""

    overflows: tuple[Overflow, ...]
    more: int
    gaps: tuple[Gap, ...]
    quiet: bool
    full: FullFirst


def uncovered(person: Person, season: Season, board: Board, tomorrow: Tomorrow) -> Uncovered:
    """What the board says about the hours to come; three queries."""
    full = full_first(person, season, units=person.units, now=board.now, most=ALL_OF_THEM)
    by_tree = {stop.tree_id: stop.round_id for stop in live_stops([line.round.pk for line in board.lines])}
    lines = {line.round.pk: line for line in board.lines}
    quiet = tomorrow.rating == "quiet"
    before = day_span(tomorrow.day)[0] if quiet else None
    found = []
    for row in full.rows:
        line = lines.get(by_tree.get(row.tree.pk, 0))
        comes_at = next_coming(line, board, row.tree.pk)
        # By a quiet forecast nothing runs from tomorrow on: what is not full by then is no worry yet.
        if before is not None and row.full_at >= before:
            continue
        if comes_at is None or row.full_at < comes_at:
            found.append(Overflow(filling=row, round=line.round if line else None, comes_at=comes_at))
    return Uncovered(
        overflows=tuple(found[:SHOWN_AT_ONCE]),
        more=max(0, len(found) - SHOWN_AT_ONCE),
        gaps=tuple(_gaps(board)),
        quiet=quiet,
        full=full,
    )


def next_coming(line: Line | None, board: Board, tree_id: int) -> dt.datetime | None:
    """By when somebody is to have come to a tree: today while its round is not over, else the next planned run."""
    if line is None:
        return None
    open_today = line.standing in WAITS or line.standing == Standing.PART
    if line.run is not None and open_today and any(stop.pk == tree_id for stop in line.left):
        return line.cut_off
    run = board.coming.get(line.round.pk)
    return cut_off(run.date, line.round.latest_start) if run else None


def _gaps(board: Board) -> list[Gap]:
    found = []
    for line in board.lines:
        run = board.tomorrow.get(line.round.pk)
        people: tuple[RunPerson, ...] = board.people.get(run.pk, ()) if run else ()
        called_off = run is not None and run.state == RunState.CALLED_OFF
        if line.standing == Standing.BARE or called_off or any(one.comes for one in people):
            continue
        found.append(
            Gap(
                round=line.round,
                run=run,
                said_no=tuple(one.person for one in people if one.answer == Answer.NO),
                standby=tuple(
                    one.person for one in people if one.part == Part.STANDBY and one.answer != Answer.NO and not one.out
                ),
            )
        )
    return sorted(found, key=lambda gap: (gap.round.group.name, gap.round.name))
