"""How old sap is, counted from when it left the tree, wherever it was poured since.

Sap mixes, so first in is not first out: a vessel's oldest sap is the oldest of all that went in since it was last
empty, and what is poured on takes that age with it, through hands, tanks and pans alike. Balances follow the order of
posting, so "empty" is judged after each act; the age itself is the time the collection says.

An entry that was put right later keeps its place: the correction is no fresh sap. One that was taken back has no say.
Sap nobody entered (measured over) has no age of its own; only where a vessel holds nothing else does it count from when
it was measured.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, TypeVar

from django.db.models import Q, Sum

from sugarbush.sap.models import ActKind, Cause, Movement, Standing, Vessel, VesselKind

# Acts that pour from one vessel into another of the programme's own; a delivery is read from its tank's side.
_POURS = (ActKind.TRANSFER, ActKind.HAND_OVER, ActKind.BOIL, ActKind.DRAW_OFF)
_TREES = (Cause.OUT_OF_TREE, Cause.RAIN_KEPT)
_FIELDS = (
    "seq",
    "act_id",
    "act__origin_uuid",
    "happened_at",
    "from_vessel_id",
    "to_vessel_id",
    "volume_ml",
    "cause",
    "reverses_id",
)
# How many movements of everybody's lie between filling hands and emptying them, at a city's pace of two days. Only
# speed hangs on it: hands that were not empty there are read from their beginning.
LOOK_BACK = 20_000
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One movement as the age sees it.

    source, target: vessels, None for outside.  weak: no fresh sap, so its time counts only where nothing else is there.
    void: it never happened, so it has no time.
    """

    seq: int
    act_id: uuid.UUID
    origin: uuid.UUID | None
    at: dt.datetime
    source: uuid.UUID | None
    target: uuid.UUID | None
    volume_ml: int
    weak: bool
    void: bool = False


def _flow(row: Any, corrected: Collection[Any] = (), void: Collection[Any] = ()) -> Flow:
    seq, act_id, origin, at, source, target, volume_ml, cause, reverses = row
    fresh = reverses is None and cause in _TREES and act_id not in corrected
    return Flow(
        seq=seq,
        act_id=act_id,
        origin=origin,
        at=at,
        source=source,
        target=target,
        volume_ml=volume_ml,
        weak=source is None and not fresh,
        void=seq in void,
    )


def _flows(rows: Sequence[Any]) -> list[Flow]:
    # An act that takes an entry back and writes it anew moves no fresh sap; one that only takes it back undoes it.
    undone = {row[8]: row[1] for row in rows if row[8] is not None and row[7] in _TREES}
    acts = set(undone.values())
    anew = {row[1] for row in rows if row[1] in acts and row[8] is None and row[7] in _TREES}
    void = {seq for seq, act in undone.items() if act not in anew}
    return [_flow(row, acts, void) for row in rows]


def _rows(vessels: Collection[uuid.UUID]) -> list[Any]:
    if not vessels:
        return []
    found = Movement.objects.filter(Q(from_vessel_id__in=vessels) | Q(to_vessel_id__in=vessels))
    return list(found.order_by("seq").values_list(*_FIELDS))


def _recent(hands: Collection[uuid.UUID], since: int) -> list[Any]:
    """Rows of these hands from a movement on; all of them for those that were not empty there."""
    if not hands:
        return []
    before: dict[uuid.UUID, int] = defaultdict(int)
    for end, sign in (("to_vessel_id", 1), ("from_vessel_id", -1)):
        sums = Movement.objects.filter(seq__lt=since, **{f"{end}__in": hands}).order_by().values_list(end)
        for pk, ml in sums.annotate(ml=Sum("volume_ml")):
            before[pk] += sign * ml
    holding = [pk for pk in hands if before[pk]]
    touched = Q(from_vessel_id__in=hands) | Q(to_vessel_id__in=hands)
    earlier = Q(from_vessel_id__in=holding) | Q(to_vessel_id__in=holding)
    found = Movement.objects.filter((touched & Q(seq__gte=since)) | earlier if holding else touched & Q(seq__gte=since))
    return list(found.order_by("seq").values_list(*_FIELDS))


def _upstream(wanted: Collection[uuid.UUID], pours: Iterable[tuple[uuid.UUID, uuid.UUID]]) -> set[uuid.UUID]:
    """These vessels and every vessel that anything was poured from on its way to them."""
    sources: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    for source, target in pours:
        sources[target].add(source)
    found, left = set(wanted), list(wanted)
    while left:
        fresh = sources[left.pop()] - found
        found |= fresh
        left += fresh
    return found


def flows_into(vessels: Sequence[Vessel]) -> tuple[list[Flow], set[uuid.UUID]]:
    """Every movement that bears on the age of what these vessels hold, in posting order, and which vessels are hands.

    Six queries, however long the history and however many vessels.
    """
    wanted = {vessel.pk for vessel in vessels}
    if not wanted:
        return [], set()
    seasons = {vessel.season_id for vessel in vessels}
    # Every standing is named, so that the index of acts by season, standing and kind is used.
    pours = list(
        Movement.objects.filter(
            act__season__in=seasons, act__standing__in=Standing.values, act__kind__in=_POURS, cause=Cause.MOVED
        )
        .exclude(from_vessel=None)
        .exclude(to_vessel=None)
        .order_by()
        .values_list("from_vessel_id", "to_vessel_id")
        .distinct()
    )
    near = _upstream(wanted, pours)
    rows = _rows(near)
    # Only hands whose sap is still there matter: a tank emptied since has forgotten who brought it what.
    others = {row[4] for row in rows if row[4] is not None} - near
    feeding = fold(
        (_flow(row) for row in rows),
        arrives=lambda flow, carried: (frozenset({flow.source}), flow.seq) if flow.source in others else carried,
        poured=lambda _vessel, one, other: (one[0] | other[0], min(one[1], other[1])),
        whose=near,
    )
    fed = [feeding[vessel] for vessel in wanted if vessel in feeding]
    hands = {pk for sources, _seq in fed for pk in sources if pk is not None}
    hands = _upstream(hands, pours) - near
    since = min((seq for _sources, seq in fed), default=0) - LOOK_BACK
    known = {row[0]: row for row in [*rows, *_recent(hands, since)]}
    kinds = Vessel.objects.filter(pk__in=near | hands, kind=VesselKind.HANDS).values_list("pk", flat=True)
    return _flows([known[seq] for seq in sorted(known)]), set(kinds)


def fold(
    flows: Iterable[Flow],
    *,
    arrives: Callable[[Flow, T | None], T | None],
    poured: Callable[[uuid.UUID, T, T], T],
    whose: Collection[uuid.UUID] | None = None,
) -> dict[uuid.UUID, T]:
    """Follow something that goes with the sap (its age, its sources) through the vessels, act by act.

    arrives: what a movement brings, given what its source carries; None brings nothing.
    poured: what two parts become in this vessel.
    whose: vessels to follow; None for all.  A vessel that an act leaves empty forgets.
    """
    carried: dict[uuid.UUID, T] = {}
    held: dict[uuid.UUID, int] = defaultdict(int)
    for _act, group in groupby(flows, key=lambda flow: flow.act_id):
        touched = set()
        # Within one act what comes from outside is there before anything is poured on.
        for flow in sorted(group, key=lambda flow: (flow.source is not None, flow.weak, flow.seq)):
            if flow.source is not None:
                held[flow.source] -= flow.volume_ml
                touched.add(flow.source)
            target = flow.target
            if target is None or (whose is not None and target not in whose):
                continue
            before = carried.get(target)
            held[target] += flow.volume_ml
            touched.add(target)
            if flow.void or (flow.weak and before is not None):
                continue
            part = arrives(flow, carried.get(flow.source) if flow.source is not None else None)
            if part is not None:
                carried[target] = part if before is None else poured(target, before, part)
        for vessel in touched:
            if held[vessel] <= 0:
                carried.pop(vessel, None)
    return carried


@dataclass(frozen=True, slots=True, kw_only=True)
class Oldest:
    """When the oldest sap left its tree.  entered: False where nobody entered it and its delivery's time stands in."""

    at: dt.datetime
    entered: bool = True


def older(one: Oldest, other: Oldest) -> Oldest:
    return other if other.at < one.at else one


def oldest_arrives(flow: Flow, carried: Oldest | None) -> Oldest:
    """What a movement brings of age, for `fold`: its own time, or that of the vessel it is poured from."""
    if flow.source is None:
        return Oldest(at=flow.at, entered=not flow.weak)
    return carried or Oldest(at=flow.at, entered=False)


def oldest_in(vessels: Sequence[Vessel]) -> dict[uuid.UUID, Oldest]:
    """The oldest sap in each of these vessels now; empty ones are left out. Six queries, however long the history."""
    flows, _hands = flows_into(vessels)
    found = fold(flows, arrives=oldest_arrives, poured=lambda _vessel, one, other: older(one, other))
    return {vessel.pk: found[vessel.pk] for vessel in vessels if vessel.pk in found}
