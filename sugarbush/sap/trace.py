"""What is in a lot, and where some sap went: the ledger read as mixing.

Sap mixes. Whatever leaves a vessel takes of everything in it in proportion, so the share of a source in a vessel is a
number between 0 and 1, and the shares of a vessel add up to 1. Backward (`back`) gives the share of every source in one
vessel with one pass over the movements from the last to the first and one weight a vessel: the weight of a vessel is
the part of a millilitre there that ends in the lot. Forward (`forth`) carries one amount a vessel from first to last.
Both read the season's movements once. This module knows vessels, movements and acts, and no more.

How the rows are read:

* Balances, and so the order of mixing, follow `seq`. Within one act what comes in counts before what goes out.
* A movement and its reversal never happened. What the same act posts in its place takes the place in the order of what
  it replaces: a collection changed after its delivery still was there when it was delivered.
* What is tipped out or spilled in the very act of collecting is that tree's own sap: the act's rest goes on.
* Steam takes water and leaves composition as it is: a share is of the sap that went in, by volume.
* What was measured over is a source that nobody knows. Where taking movements back leaves less in a vessel than later
  left it, the missing part is unknown too, so that no share is negative and none is above 1.
* Rain kept with the sap is a source of its own collection.
"""

from __future__ import annotations

import uuid
from array import array
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from django.db.models import CharField, F
from django.db.models.functions import Cast

from sugarbush.sap.models import Cause, Movement, Vessel, VesselKind
from sugarbush.seasons.models import Season

# seq, act, from, to, millilitres, cause
Row = tuple[int, str, str | None, str | None, int, str]

TREE, RAIN, UNKNOWN, POURED = 0, 1, 2, 3
_KIND = {Cause.OUT_OF_TREE.value: TREE, Cause.RAIN_KEPT.value: RAIN, Cause.MEASURED_OVER.value: UNKNOWN}
_COMES = {Cause.OUT_OF_TREE.value, Cause.RAIN_KEPT.value}
_TIPPED = {Cause.DISCARDED.value, Cause.SPILLED.value}
_AT_THE_TREE = _COMES | _TIPPED
_NOTHING_ML = 1e-6  # floating sums of millilitres differ from whole ones by less than this
_CHUNK = 5_000
_AT_ONCE = 16  # acts that may be half written at one moment


@dataclass
class Flow:
    """The season's movements in the order they mix, as columns: a few tens of bytes a row."""

    number: dict[str, int] = field(default_factory=dict)
    seqs: array[int] = field(default_factory=lambda: array("q"))
    acts: array[int] = field(default_factory=lambda: array("l"))  # the same number: the same act
    sources: array[int] = field(default_factory=lambda: array("l"))  # -1: from outside
    targets: array[int] = field(default_factory=lambda: array("l"))  # -1: gone
    volumes: array[float] = field(default_factory=lambda: array("d"))
    kinds: array[int] = field(default_factory=lambda: array("b"))
    watched: set[int] = field(default_factory=set)

    def add(self, seq: int, act: int, source: int, target: int, ml: float, kind: int) -> None:
        self.seqs.append(seq)
        self.acts.append(act)
        self.sources.append(source)
        self.targets.append(target)
        self.volumes.append(ml)
        self.kinds.append(kind)

    def vessel(self, text: str | None) -> int:
        if text is None:
            return -1
        return self.number.setdefault(text, len(self.number))

    def find(self, vessel_id: uuid.UUID) -> int | None:
        return self.number.get(vessel_id.hex, self.number.get(str(vessel_id)))

    @property
    def vessel_ids(self) -> list[uuid.UUID]:
        return [uuid.UUID(text) for text in self.number]


def _texts(ids: Iterable[uuid.UUID]) -> set[str]:
    """Ids as either database writes them."""
    return {text for one in ids for text in (one.hex, str(one))}


def _as_text() -> dict[str, Cast]:
    # As text: making 1,200,000 UUID objects takes longer than reading the rows.
    return {name: Cast(column, CharField()) for name, column in _COLUMNS.items()}


_COLUMNS = {"a": "act_id", "f": "from_vessel_id", "t": "to_vessel_id"}


def _rows(season: Season, upto: int | None) -> Iterator[Row]:
    """The season's movements as they stand in the ledger; one query."""
    rows = Movement.objects.filter(season=season)
    if upto is not None:
        rows = rows.filter(seq__lte=upto)
    named = rows.annotate(**_as_text()).order_by("seq")
    return named.values_list("seq", "a", "f", "t", "volume_ml", "cause").iterator(chunk_size=_CHUNK)  # type: ignore[return-value]


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
    rows = Movement.objects.filter(season=season, act__in=takes_back).annotate(**_as_text(), r=F("reverses_id"))
    by_act: dict[str, list[tuple[Row, int | None]]] = defaultdict(list)
    for *row, reverses in rows.order_by("seq").values_list("seq", "a", "f", "t", "volume_ml", "cause", "r"):
        by_act[row[1]].append((tuple(row), reverses))  # type: ignore[arg-type]
    pairs = sorted(((row[0], back) for act in by_act.values() for row, back in act if back), reverse=True)
    for seq, back in pairs:  # newest first: a reversal that was itself taken back takes nothing back
        if seq not in found.dropped:
            found.dropped |= {seq, back}
    place: dict[int, int] = {}
    for act in by_act.values():
        _take_places(act, place, found.dropped)
    for act in by_act.values():
        for row, back in act:
            at = place.get(row[0], row[0])
            if back is None and row[0] not in found.dropped and at != row[0]:
                found.moved.add(row[0])
                found.instead[at].append(row)
    return found


def _take_places(act: list[tuple[Row, int | None]], place: dict[int, int], dropped: set[int]) -> None:
    """Give each new movement of an act the place of the one it stands for."""
    gone = [(row, place.get(back, back)) for row, back in act if back is not None and row[0] in dropped]
    free = list(gone)
    first: dict[bool, int] = {}
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
        first[cause in _AT_THE_TREE] = min(place[seq], first.get(cause in _AT_THE_TREE, place[seq]))
    if True in first:
        for row, back in act:
            if back is None and row[5] in _AT_THE_TREE and row[0] in place:
                place[row[0]] = first[True]


def read(season: Season, *, upto: int | None = None, watch: Iterable[uuid.UUID] = ()) -> Flow:
    """The season's movements in the order they mix; two queries. watch: acts whose rows the flow marks."""
    flow, undone, marks = Flow(), _undone(season), _texts(watch)
    dropped, moved, instead = undone.dropped, undone.moved, undone.instead
    add, vessel, kind_of = flow.add, flow.vessel, _KIND.get
    count = 0
    # Acts of people who worked at the same moment can lie between each other's rows; they never share a vessel.
    waiting: dict[str, list[Row]] = {}

    def put(rows: list[Row]) -> None:
        nonlocal count
        count += 1
        if rows[0][1] in marks:
            flow.watched.add(count)
        if len(rows) == 1:
            seq, _act, source, target, ml, cause = rows[0]
            add(seq, count, vessel(source), vessel(target), ml, kind_of(cause, POURED))
            return
        for seq, _act, source, target, amount, cause in _in_before_out(_without_tipped(rows)):
            add(seq, count, vessel(source), vessel(target), amount, kind_of(cause, POURED))

    for row in _rows(season, upto):
        seq = row[0]
        for other in instead.get(seq, ()):
            waiting.setdefault(f"{other[1]} at {seq}", []).append(other)
        if seq not in dropped and seq not in moved:
            group = waiting.get(row[1])
            if group is None:
                waiting[row[1]] = [row]
            else:
                group.append(row)
        while len(waiting) > _AT_ONCE:
            put(waiting.pop(next(iter(waiting))))
    for group in waiting.values():
        put(group)
    return flow


_Amount = tuple[int, str, str | None, str | None, float, str]


def _without_tipped(rows: list[Row]) -> list[_Amount]:
    """Rows of one act, where what is tipped out at the tree is taken off what that tree gave."""
    came: dict[str | None, int] = defaultdict(int)
    went: dict[str | None, int] = defaultdict(int)
    for _seq, _act, source, target, ml, cause in rows:
        if cause in _COMES and source is None:
            came[target] += ml
        elif cause in _TIPPED and target is None:
            went[source] += ml
    both = {vessel: min(went[vessel], ml) for vessel, ml in came.items() if vessel in went}
    if not both:
        return list(rows)
    left: list[_Amount] = []
    for seq, act, source, target, ml, cause in rows:
        amount: float = ml
        if cause in _COMES and target in both:
            amount = ml * (came[target] - both[target]) / came[target]
        elif cause in _TIPPED and target is None and source in both:
            amount = ml * (went[source] - both[source]) / went[source]
        if amount > 0:
            left.append((seq, act, source, target, amount, cause))
    return left


def _in_before_out(rows: list[_Amount]) -> list[_Amount]:
    """Rows of one act so that each vessel takes in before it gives; as posted where they run in a circle."""
    waiting, ordered = list(rows), []
    while waiting:
        fed = {row[3] for row in waiting}
        ready = [row for row in waiting if row[2] is None or row[2] not in fed]
        if not ready:
            return ordered + waiting
        ordered += ready
        waiting = [row for row in waiting if row not in ready]
    return ordered


# Backward ------------------------------------------------------------------------


@dataclass(frozen=True)
class Part:
    """One source of a vessel: the act that brought it, and how much of the vessel it makes up."""

    row: int  # in the flow
    seq: int
    ml: float
    share: float
    is_known: bool


@dataclass
class Back:
    """Everything in a vessel by where it came from, as it was when something last came in."""

    vessel_id: uuid.UUID
    total_ml: float = 0.0
    parts: list[Part] = field(default_factory=list)  # by act, the largest share first
    unknown_ml: float = 0.0  # measured over, or taken back later
    rain_ml: float = 0.0
    # Movements between vessels that carried some of it: seq -> millilitres of the vessel that came that way.
    poured: dict[int, float] = field(default_factory=dict)
    passed: dict[uuid.UUID, float] = field(default_factory=dict)  # vessel -> millilitres of it that came through there
    flow: Flow | None = None
    rows: list[int] = field(default_factory=list)  # rows of the flow that poured some of it, or left a vessel empty
    emptied: set[int] = field(default_factory=set)

    def share(self, ml: float) -> float:
        return ml / self.total_ml if self.total_ml else 0.0


def last_into(vessel: Vessel) -> int | None:
    """The end of the newest act that brought something into the vessel, taken back or not; two queries."""
    last = Movement.objects.filter(to_vessel=vessel).order_by("-seq").values_list("act", flat=True).first()
    if last is None:
        return None
    return Movement.objects.filter(act=last).order_by("-seq").values_list("seq", flat=True).first()


def back(vessel: Vessel, season: Season | None = None) -> Back:
    """Where the content of a vessel came from; four queries, one pass each way over the season's movements."""
    upto = last_into(vessel)
    found = Back(vessel.pk)
    if upto is None:
        return found
    flow = read(season or vessel.season, upto=upto)
    found.flow = flow
    lot = flow.find(vessel.pk)
    if lot is None or lot not in flow.targets:
        return found
    last = len(flow.targets) - 1 - flow.targets[::-1].index(lot)
    held, parts_of, short = _volumes(flow, last)
    found.total_ml = held[lot]
    _weigh(flow, lot, last, parts_of, short, found)
    return found


def _volumes(flow: Flow, last: int) -> tuple[list[float], array[float], dict[int, float]]:
    """Volumes after row `last`; for each row the part of its source that left; and what was missing where."""
    held = [0.0] * len(flow.number)
    parts: array[float] = array("d", bytes(8 * (last + 1)))
    short: dict[int, float] = {}
    rows = zip(range(last + 1), flow.sources, flow.targets, flow.volumes, strict=False)
    for n, source, target, ml in rows:
        if source >= 0:
            there = held[source]
            if ml >= there - _NOTHING_ML:
                parts[n] = 1.0
                held[source] = 0.0
                if ml > there + _NOTHING_ML:
                    short[n] = ml - there
            else:
                parts[n] = ml / there
                held[source] = there - ml
        if target >= 0:
            held[target] += ml
    return held, parts, short


def _weigh(flow: Flow, lot: int, last: int, parts: array[float], short: dict[int, float], found: Back) -> None:
    """The reverse pass: one weight a vessel, the part of a millilitre there that ends in the lot."""
    weights = [0.0] * len(flow.number)
    weights[lot] = 1.0
    sources, targets, volumes, kinds, acts = flow.sources, flow.targets, flow.volumes, flow.kinds, flow.acts
    by_act: dict[int, list[float]] = {}  # act -> millilitres, a row of it, whether its origin is known
    passed: dict[int, float] = defaultdict(float)
    for n in range(last, -1, -1):
        source, target = sources[n], targets[n]
        there = weights[target] if target >= 0 else 0.0
        if source < 0:
            if there:
                ml = volumes[n] * there
                one = by_act.setdefault(acts[n], [0.0, n, 0.0])
                one[0] += ml
                one[1] = n
                if kinds[n] == UNKNOWN:
                    found.unknown_ml += ml
                else:
                    one[2] = 1.0
                    if kinds[n] == RAIN:
                        found.rain_ml += ml
            continue
        here = weights[source]
        if there:
            found.poured[n] = volumes[n] * there
            passed[target] += found.poured[n]
            if n in short:
                found.unknown_ml += short[n] * there
        if here or there:
            weights[source] = here + parts[n] * (there - here) if parts[n] < 1.0 else there
    ids = flow.vessel_ids
    found.passed = {ids[one]: ml for one, ml in passed.items()}
    found.emptied = {n for n in range(last + 1) if parts[n] == 1.0}
    found.rows = sorted(found.emptied | found.poured.keys())
    found.poured = {flow.seqs[n]: ml for n, ml in found.poured.items()}
    found.parts = sorted(
        (Part(int(n), flow.seqs[int(n)], ml, found.share(ml), bool(known)) for ml, n, known in by_act.values()),
        key=lambda part: (-part.ml, part.seq),
    )


def way_of(found: Back, part: Part) -> list[int]:
    """The movements (seq) by which one source came into the vessel, in order: out of the hands, through tanks and pans.

    Of each vessel the ways that were open after the sap came in there and before the vessel was next empty.
    """
    flow = found.flow
    if flow is None:
        return []
    reached = {flow.targets[part.row]}
    end = flow.find(found.vessel_id)
    way = []
    for n in found.rows[bisect_right(found.rows, part.row) :]:
        source = flow.sources[n]
        if source not in reached:
            continue
        if flow.seqs[n] in found.poured:
            way.append(flow.seqs[n])
            reached.add(flow.targets[n])
        if n in found.emptied:
            reached.discard(source)
        if reached <= {end}:
            break
    return way


# Forward -------------------------------------------------------------------------


@dataclass(frozen=True)
class Reach:
    """How much of a lot the sap makes up: `ml` of `of_ml` when something last came in."""

    ml: float
    of_ml: float

    @property
    def share(self) -> float:
        return min(1.0, self.ml / self.of_ml) if self.of_ml else 0.0


@dataclass
class Forth:
    """Where some sap went: which lots hold it, and where the rest is now."""

    total_ml: float = 0.0
    lots: dict[uuid.UUID, Reach] = field(default_factory=dict)
    now: dict[uuid.UUID, float] = field(default_factory=dict)  # every vessel that holds some of it still


def forth(
    season: Season,
    *,
    came: Iterable[uuid.UUID] = (),
    poured: Iterable[uuid.UUID] = (),
    vessels: Iterable[uuid.UUID] = (),
) -> Forth:
    """Where sap went; three queries, one pass.

    came: acts that brought it from outside (collections). poured: acts that poured it from one vessel into another
    (deliveries). vessels: all that ever was in these (a tank, a pan).
    """
    sources_of, pours_of = set(came), set(poured)
    flow = read(season, watch=sources_of | pours_of)
    lots = Vessel.objects.filter(season=season, kind=VesselKind.LOT).values_list("pk", flat=True)
    is_lot = {n for pk in lots if (n := flow.find(pk)) is not None}
    whole = {n for pk in vessels if (n := flow.find(pk)) is not None}
    found = Forth()
    marked, size = flow.watched, len(flow.number)
    from_outside, from_vessel = bool(sources_of), bool(pours_of)
    held, part = [0.0] * size, [0.0] * size
    reach: dict[int, tuple[float, float]] = {}
    for source, target, ml, act in zip(flow.sources, flow.targets, flow.volumes, flow.acts, strict=True):
        carried = 0.0
        if source >= 0:
            there = held[source]
            if ml >= there - _NOTHING_ML:
                carried, part[source], held[source] = part[source], 0.0, 0.0
            else:
                held[source] = there - ml
                if part[source]:
                    carried = part[source] * (ml / there)
                    part[source] -= carried
        if target < 0:
            continue
        is_meant = act in marked and (from_vessel if source >= 0 else from_outside)
        if is_meant or (target in whole and source not in whole):
            found.total_ml += ml
            carried = ml
        held[target] += ml
        if carried:
            part[target] += carried
        if target in is_lot:
            reach[target] = (part[target], held[target])
    ids = flow.vessel_ids
    found.lots = {ids[n]: Reach(*at) for n, at in reach.items() if at[0] > 0}
    found.now = {ids[n]: ml for n, ml in enumerate(part) if ml > _NOTHING_ML}
    return found
