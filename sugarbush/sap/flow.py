"""The movements of a season in the order in which they mix: what was taken back never happened.

How the rows are read stands at the head of sap/trace.py, which follows sap through them.
"""

from __future__ import annotations

import uuid
from array import array
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import accumulate, chain, compress, islice
from itertools import count as count_from
from operator import eq, ne
from typing import Any

from django.db import connection
from django.db.models import CharField, Min, Window
from django.db.models.functions import Cast

from sugarbush.sap.models import Cause, Movement
from sugarbush.seasons.models import Season

# seq, act, from, to, millilitres, cause
Row = tuple[int, str, str | None, str | None, int, str]

TREE, RAIN, UNKNOWN, TIPPED, POURED = range(5)
_KINDS = {str(cause): POURED for cause in Cause} | {
    Cause.OUT_OF_TREE.value: TREE,
    Cause.RAIN_KEPT.value: RAIN,
    Cause.MEASURED_OVER.value: UNKNOWN,
    Cause.DISCARDED.value: TIPPED,
    Cause.SPILLED.value: TIPPED,
}
_AT_THE_TREE = {TREE, RAIN, TIPPED}
NOTHING_ML = 1e-6  # floating sums of millilitres differ from whole ones by less than this
_CHUNK = 400  # small enough to stay in the processor’s own memory while its columns are taken


class _Numbers(dict[str | None, int]):
    """A number for each vessel, in the order they turn up; outside is -1."""

    def __init__(self) -> None:
        super().__init__({None: -1})

    def __missing__(self, text: str | None) -> int:
        self[text] = number = len(self) - 1
        return number


@dataclass
class Flow:
    """The season's movements in the order they mix, as columns: a few tens of bytes a row.

    Rows that count for nothing stay in their place with no volume.
    """

    number: _Numbers = field(default_factory=_Numbers)
    seqs: array[int] = field(default_factory=lambda: array("q"))
    acts: array[int] = field(default_factory=lambda: array("l"))  # the same number: the same act
    sources: array[int] = field(default_factory=lambda: array("l"))  # -1: from outside
    targets: array[int] = field(default_factory=lambda: array("l"))  # -1: gone
    volumes: array[float] = field(default_factory=lambda: array("d"))
    kinds: array[int] = field(default_factory=lambda: array("b"))
    watched: set[int] = field(default_factory=set)

    @property
    def columns(self) -> tuple[array[Any], ...]:
        return self.seqs, self.acts, self.sources, self.targets, self.volumes, self.kinds

    @property
    def size(self) -> int:
        return len(self.number) - 1

    def find(self, vessel_id: uuid.UUID) -> int | None:
        return self.number.get(vessel_id.hex, self.number.get(str(vessel_id)))

    @property
    def vessel_ids(self) -> list[uuid.UUID]:
        return [uuid.UUID(text) for text in self.number if text is not None]


def _texts(ids: Iterable[uuid.UUID]) -> set[str]:
    """Ids as either database writes them."""
    return {text for one in ids for text in (one.hex, str(one))}


def _as_text() -> dict[str, Cast]:
    # As text: making 1,200,000 UUID objects takes longer than reading the rows.
    return {name: Cast(column, CharField()) for name, column in _COLUMNS.items()}


_COLUMNS = {"a": "act_id", "f": "from_vessel_id", "t": "to_vessel_id"}


def _rows(season: Season, upto: int | None) -> Iterator[Row]:
    """The season's movements, the rows of an act one after the other; one query."""
    rows = Movement.objects.filter(season=season)
    if upto is not None:
        rows = rows.filter(seq__lte=upto)
    order: tuple[Any, ...] = ("seq",)
    if connection.vendor == "postgresql":
        # Acts of people who work at the same moment can lie between each other's rows there (never sharing a vessel).
        order = (Window(Min("seq"), partition_by="act_id"), "seq")
    named: Any = rows.annotate(**_as_text()).order_by(*order)
    found: Iterator[Row] = named.values_list("seq", "a", "f", "t", "volume_ml", "cause").iterator(chunk_size=_CHUNK)
    return found


@dataclass
class _Undone:
    """Movements that count for nothing, and those that take the place of one of them."""

    dropped: set[int] = field(default_factory=set)
    moved: set[int] = field(default_factory=set)
    instead: dict[int, list[Row]] = field(default_factory=lambda: defaultdict(list))


def _undone(season: Season) -> _Undone:
    """What was taken back, and what was posted in its place; one query."""
    found = _Undone()
    takes_back = Movement.objects.filter(season=season, reverses__isnull=False).values("act")
    rows: Any = Movement.objects.filter(season=season, act__in=takes_back).annotate(**_as_text())
    by_act: dict[str, list[tuple[Row, int | None]]] = defaultdict(list)
    for *row, reverses in rows.order_by("seq").values_list("seq", "a", "f", "t", "volume_ml", "cause", "reverses_id"):
        by_act[row[1]].append((tuple(row), reverses))
    pairs = [(row[0], back) for act in by_act.values() for row, back in act if back is not None]
    for seq, back in sorted(
        pairs, reverse=True
    ):  # newest first: a reversal that was itself taken back takes nothing back
        if seq not in found.dropped:
            found.dropped |= {seq, back}
    place: dict[int, int] = {}
    for act in by_act.values():
        _take_places(act, place, found.dropped)
    for act in by_act.values():
        for row, instead_of in act:
            at = place.get(row[0], row[0])
            if instead_of is None and row[0] not in found.dropped and at != row[0]:
                found.moved.add(row[0])
                found.instead[at].append(row)
    return found


def _take_places(act: list[tuple[Row, int | None]], place: dict[int, int], dropped: set[int]) -> None:
    """Give each new movement of an act the place of the one it stands for."""
    gone = [(row, place.get(back, back)) for row, back in act if back is not None and row[0] in dropped]
    free = list(gone)
    first: int | None = None
    for row, back in act:
        if back is not None:
            continue
        seq, _act, source, target, _ml, cause = row
        # A reversal has its ends swapped, so its own target is where the movement it takes back came from.
        same = next((one for one in free if one[0][5] == cause and (one[0][3], one[0][2]) == (source, target)), None)
        ends = {source, target} - {None}
        if same is not None:
            free.remove(same)
            place[seq] = same[1]
        elif near := [at for other, at in gone if ends & {other[2], other[3]}]:
            place[seq] = min(near)
        else:
            continue
        # What a tree gave and what of it was tipped out stay together.
        if _KINDS[cause] in _AT_THE_TREE:
            first = min(place[seq], first or place[seq])
    for row, back in act:
        if first is not None and back is None and _KINDS[row[5]] in _AT_THE_TREE and row[0] in place:
            place[row[0]] = first


def read(season: Season, *, upto: int | None = None, watch: Iterable[uuid.UUID] = ()) -> Flow:
    """The season's movements in the order they mix; two queries. watch: acts whose rows the flow marks."""
    flow, undone, marks = Flow(), _undone(season), _texts(watch)
    act_before, count = "", 0
    rows = _rows(season, upto)
    while chunk := list(islice(rows, _CHUNK)):
        # Column by column: a loop over 350,000 rows would take longer than reading them.
        seqs, acts, sources, targets, volumes, causes = zip(*chunk, strict=True)
        flow.seqs.extend(seqs)
        flow.sources.extend(map(flow.number.__getitem__, sources))
        flow.targets.extend(map(flow.number.__getitem__, targets))
        flow.volumes.extend(volumes)
        flow.kinds.extend(map(_KINDS.__getitem__, causes))
        changes = map(ne, acts, chain((act_before,), acts))
        numbers = list(accumulate(changes, initial=count))[1:]
        flow.acts.extend(numbers)
        if marks:
            flow.watched.update(compress(numbers, map(marks.__contains__, acts)))
        act_before, count = acts[-1], numbers[-1]
    if undone.dropped or undone.moved:
        _rearrange(flow, undone, marks)
    _settle_acts(flow)
    return flow


def _rearrange(flow: Flow, undone: _Undone, marks: set[str]) -> None:
    """Take out what was taken back, and put what replaces it in its place."""
    nothing = undone.dropped | undone.moved
    for n in compress(count_from(), map(nothing.__contains__, flow.seqs)):
        flow.volumes[n] = 0
    places = list(compress(count_from(), map(undone.instead.__contains__, flow.seqs)))
    if not places:
        return
    acts = flow.acts[-1]
    old = flow.columns
    new: list[array[Any]] = [array(column.typecode) for column in old]
    start = 0
    for at in places:
        for fresh, column in zip(new, old, strict=True):
            fresh.extend(column[start:at])
        start = at
        act_now = ""
        for seq, act, source, target, ml, cause in undone.instead[flow.seqs[at]]:
            if act != act_now:
                act_now, acts = act, acts + 1
                flow.watched.update({acts} if act in marks else ())
            values = (seq, acts, flow.number[source], flow.number[target], ml, _KINDS[cause])
            for fresh, value in zip(new, values, strict=True):
                fresh.append(value)
    for fresh, column in zip(new, old, strict=True):
        fresh.extend(column[start:])
    flow.seqs, flow.acts, flow.sources, flow.targets, flow.volumes, flow.kinds = new


def _settle_acts(flow: Flow) -> None:
    """Within each act: what is tipped out at the tree is taken off what it gave, and what comes in goes first."""
    acts, sources, targets, volumes, kinds = flow.acts, flow.sources, flow.targets, flow.volumes, flow.kinds
    more = compress(count_from(1), map(eq, acts, islice(acts, 1, None)))  # rows of the same act as the row before
    done = -1
    for n in more:
        if n <= done:
            continue
        first, end = n - 1, n + 1
        while end < len(acts) and acts[end] == acts[first]:
            end += 1
        done = end - 1
        if (
            end == n + 1
            and kinds[n] == TIPPED
            and kinds[first] == TREE
            and targets[first] == sources[n]
            and volumes[n] <= volumes[first]
        ):  # by far the most: sap of one tree, and some of it tipped out
            volumes[first] -= volumes[n]
            volumes[n] = 0
            continue
        _without_tipped(flow, first, end)
        _in_before_out(flow, first, end)


def _without_tipped(flow: Flow, first: int, end: int) -> None:
    came: dict[int, float] = defaultdict(float)
    went: dict[int, float] = defaultdict(float)
    for n in range(first, end):
        if flow.kinds[n] in {TREE, RAIN}:
            came[flow.targets[n]] += flow.volumes[n]
        elif flow.kinds[n] == TIPPED:
            went[flow.sources[n]] += flow.volumes[n]
    for n in range(first, end):
        kind = flow.kinds[n]
        vessel = flow.sources[n] if kind == TIPPED else flow.targets[n]
        both = min(came.get(vessel, 0.0), went.get(vessel, 0.0))
        if not both or kind not in _AT_THE_TREE:
            continue
        whole = went[vessel] if kind == TIPPED else came[vessel]
        flow.volumes[n] *= (whole - both) / whole


def _in_before_out(flow: Flow, first: int, end: int) -> None:
    """Order the rows of an act so that each vessel takes in before it gives; as posted where they run in a circle."""
    waiting = [n for n in range(first, end) if flow.volumes[n]]
    ordered = [n for n in range(first, end) if not flow.volumes[n]]
    while waiting:
        fed = {flow.targets[n] for n in waiting} - {-1}
        ready = [n for n in waiting if flow.sources[n] not in fed] or waiting
        ordered += ready
        waiting = [n for n in waiting if n not in ready]
    if ordered != list(range(first, end)):
        for column in flow.columns:
            column[first:end] = array(column.typecode, [column[n] for n in ordered])


# Backward ------------------------------------------------------------------------
