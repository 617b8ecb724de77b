"""Adding up the sap ledger: by cause, by kind of vessel, the whole chain, and what was ever below zero."""

from __future__ import annotations

import uuid
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Case, F, Sum, Value, When
from django.db.models.functions import Coalesce

from sugarbush.sap import sofar
from sugarbush.sap.models import SINKS, SOURCES, Cause, Movement, Vessel, VesselKind
from sugarbush.seasons.models import Season


def signed_ml() -> Coalesce:
    """Litres of a movement as its cause counts them: a reversal counts against."""
    return Coalesce(Sum(Case(When(reverses=None, then=F("volume_ml")), default=-F("volume_ml"))), Value(0))


def totals_by_cause(season: Season, *, standing: str | None = None) -> dict[str, int]:
    """Net millilitres by cause; one query. Every cause is there, zero when nothing moved."""
    rows = Movement.objects.filter(season=season)
    if standing is not None:
        rows = rows.filter(act__standing=standing)
    found = dict.fromkeys((str(c) for c in Cause if c != Cause.MOVED), 0)
    for cause, ml in rows.exclude(cause=Cause.MOVED).values_list("cause").annotate(ml=signed_ml()).order_by():
        found[cause] = ml
    return found


def held_by_kind(season: Season) -> dict[str, int]:
    """What each kind of vessel holds now; two queries, vessel by vessel from the index alone."""
    held = dict.fromkeys((str(k) for k in VesselKind), 0)
    vessels = Vessel.objects.filter(season=season).order_by().values_list("kind")
    for sign, end in ((1, "into__volume_ml"), (-1, "out__volume_ml")):
        for kind, ml in vessels.annotate(ml=Sum(end)):
            held[kind] += sign * int(ml or 0)
    return held


@dataclass(frozen=True, kw_only=True)
class Chain:
    """The whole chain in one kind of millilitre: what came in, where it is, where it went."""

    sources: dict[str, int]
    sinks: dict[str, int]
    held: dict[str, int]

    @property
    def came_ml(self) -> int:
        return sum(self.sources.values())

    @property
    def accounted_ml(self) -> int:
        return sum(self.sinks.values()) + sum(self.held.values())

    @property
    def unaccounted_ml(self) -> int:
        return self.came_ml - self.accounted_ml

    @property
    def closes(self) -> bool:
        return self.unaccounted_ml == 0


def chain(season: Season) -> Chain:
    """The balance of the season: the sums by cause from the movements, what is held from the vessels.

    The sums by cause are added once and kept up to their last movement; what is held is added anew each time. Where
    it does not close it is looked at twice: somebody may have posted between the two.
    """
    found = _chain(season)
    return found if found.closes else _chain(season)


def _chain(season: Season) -> Chain:
    until, kept = sofar.recall("causes", season)
    now = sofar.mark(season)
    rows = Movement.objects.filter(season=season).exclude(cause=Cause.MOVED)
    if until.seq:
        rows = rows.filter(seq__gt=until.seq)
    totals: dict[str, int] = defaultdict(int, kept or {})
    for cause, ml in rows.filter(seq__lte=now.seq).values_list("cause").annotate(ml=signed_ml()).order_by():
        totals[cause] += int(ml)
    sofar.keep("causes", season, now, dict(totals))
    return Chain(
        sources={str(c): totals[c] for c in SOURCES},
        sinks={str(c): totals[c] for c in SINKS},
        held=held_by_kind(season),
    )


def below_zero(season: Season) -> list[tuple[Vessel, int, int]]:
    """Vessels that were below zero after some act, with the first movement (seq) and the balance there.

    Balances follow seq, act by act. Every movement is read, but none twice: what was walked before is kept.
    """
    until, kept = sofar.recall("below-zero", season)
    held: dict[uuid.UUID, int] = defaultdict(int, kept[0] if kept else {})
    bad: dict[uuid.UUID, tuple[int, int]] = dict(kept[1]) if kept else {}
    now = sofar.mark(season)
    act: uuid.UUID | None = None
    touched: set[uuid.UUID] = set()
    last = 0

    def look() -> None:
        for vessel_id in touched:
            if held[vessel_id] < 0 and vessel_id not in bad:
                bad[vessel_id] = (last, held[vessel_id])
        touched.clear()

    rows = Movement.objects.filter(season=season, seq__gt=until.seq, seq__lte=now.seq).order_by("seq")
    for seq, act_id, source, target, ml in rows.values_list(
        "seq", "act_id", "from_vessel_id", "to_vessel_id", "volume_ml"
    ).iterator(chunk_size=5_000):
        if act_id != act:
            look()
            act = act_id
        last = seq
        if source is not None:
            held[source] -= ml
            touched.add(source)
        if target is not None:
            held[target] += ml
            touched.add(target)
    look()
    sofar.keep("below-zero", season, now, (dict(held), bad))
    vessels = Vessel.objects.select_related("person").in_bulk(bad)
    return [(vessels[vessel_id], *found) for vessel_id, found in bad.items()]
