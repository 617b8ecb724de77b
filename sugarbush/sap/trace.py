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
from collections.abc import Iterable
from dataclasses import dataclass, field

from sugarbush.sap.flow import (
    NOTHING_ML,
    RAIN,
    UNKNOWN,
    Flow,
    read,
)
from sugarbush.sap.models import Movement, Vessel, VesselKind
from sugarbush.seasons.models import Season


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
    newest_first = range(len(flow.targets) - 1, -1, -1)
    last = next((n for n in newest_first if flow.targets[n] == lot and flow.volumes[n]), None)
    if lot is None or last is None:
        return found
    held, parts_of, short = _volumes(flow, last)
    found.total_ml = held[lot]
    _weigh(flow, lot, last, parts_of, short, found)
    return found


def _volumes(flow: Flow, last: int) -> tuple[list[float], array[float], dict[int, float]]:
    """Volumes after row `last`; for each row the part of its source that left; and what was missing where."""
    held = [0.0] * flow.size
    parts: array[float] = array("d", bytes(8 * (last + 1)))
    short: dict[int, float] = {}
    rows = zip(range(last + 1), flow.sources, flow.targets, flow.volumes, strict=False)
    for n, source, target, ml in rows:
        if not ml:
            continue
        if source >= 0:
            there = held[source]
            if ml >= there - NOTHING_ML:
                parts[n] = 1.0
                held[source] = 0.0
                if ml > there + NOTHING_ML:
                    short[n] = ml - there
            else:
                parts[n] = ml / there
                held[source] = there - ml
        if target >= 0:
            held[target] += ml
    return held, parts, short


def _weigh(flow: Flow, lot: int, last: int, parts: array[float], short: dict[int, float], found: Back) -> None:
    """The reverse pass: one weight a vessel, the part of a millilitre there that ends in the lot."""
    weights = [0.0] * flow.size
    weights[lot] = 1.0
    sources, targets, volumes, kinds, acts = flow.sources, flow.targets, flow.volumes, flow.kinds, flow.acts
    # (act, whether nobody knows its origin) -> millilitres, a row of it
    by_act: dict[tuple[int, bool], list[float]] = {}
    passed: dict[int, float] = defaultdict(float)
    for n in range(last, -1, -1):
        if not volumes[n]:
            continue
        source, target = sources[n], targets[n]
        there = weights[target] if target >= 0 else 0.0
        if source < 0:
            if there:
                ml = volumes[n] * there
                is_unknown = kinds[n] == UNKNOWN
                one = by_act.setdefault((acts[n], is_unknown), [0.0, n])
                one[0] += ml
                one[1] = n
                if is_unknown:
                    found.unknown_ml += ml
                elif kinds[n] == RAIN:
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
        (
            Part(int(n), flow.seqs[int(n)], ml, found.share(ml), not is_unknown)
            for (_act, is_unknown), (ml, n) in by_act.items()
        ),
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
    marked, size = flow.watched, flow.size
    from_outside, from_vessel = bool(sources_of), bool(pours_of)
    held, part = [0.0] * size, [0.0] * size
    reach: dict[int, tuple[float, float]] = {}
    for source, target, ml, act in zip(flow.sources, flow.targets, flow.volumes, flow.acts, strict=True):
        if not ml:
            continue
        carried = 0.0
        if source >= 0:
            there = held[source]
            if ml >= there - NOTHING_ML:
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
    found.now = {ids[n]: ml for n, ml in enumerate(part) if ml > NOTHING_ML}
    return found
