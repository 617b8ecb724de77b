"""Posting to the sap ledger, and reading it. This is the only place that writes movements."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import connection, transaction
from django.db.models import Case, F, Sum, Value, When
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap import sofar
from sugarbush.sap.models import SINKS, SOURCES, Act, ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group, Person

AT_ONCE = 400
_KEY = Vessel._meta.pk


@dataclass(frozen=True, kw_only=True)
class Move:
    """One movement to be posted: `volume_ml` from a vessel (None: from outside) to a vessel (None: gone)."""

    volume_ml: int
    cause: Cause
    source: Vessel | None = None
    target: Vessel | None = None
    sugar_brix: Decimal | None = None
    detail: str = ""
    reverses: Movement | None = None


def undo_of(movement: Movement) -> Move:
    """The movement that takes another one back: same cause, ends swapped."""
    return Move(
        volume_ml=movement.volume_ml,
        cause=Cause(movement.cause),
        source=movement.to_vessel,
        target=movement.from_vessel,
        sugar_brix=movement.sugar_brix,
        detail=movement.detail,
        reverses=movement,
    )


def hands_of(person: Person, season: Season) -> Vessel:
    """The vessel for what this person carries this season; made when first needed."""
    vessel, _made = Vessel.objects.get_or_create(
        kind=VesselKind.HANDS, person=person, season=season, defaults={"code": f"hands-{person.pk}"}
    )
    return vessel


def lock(vessels: Iterable[Vessel]) -> None:
    """Hold these vessels until the transaction ends, always in the same order, so that two posts cannot cross.

    SQLite holds the whole file for a transaction that writes, from its first line; there is nothing more to ask for.
    """
    if not connection.features.has_select_for_update:
        return
    ids = sorted({vessel.pk for vessel in vessels})
    list(Vessel.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk", flat=True))


def balances_ml(vessels: Iterable[Vessel | uuid.UUID]) -> dict[uuid.UUID, int]:
    """What each vessel holds now; one query for every few hundred vessels, read from the index alone."""
    ids = [v if isinstance(v, uuid.UUID) else v.pk for v in vessels]
    held = dict.fromkeys(ids, 0)
    wanted = list(held)
    with connection.cursor() as cursor:
        for start in range(0, len(wanted), AT_ONCE):
            values = [_KEY.get_db_prep_value(pk, connection) for pk in wanted[start : start + AT_ONCE]]
            places = ",".join(["%s"] * len(values))
            # Plain SQL: every post asks this, and putting it together through the models takes longer than the answer.
            cursor.execute(
                f"SELECT to_vessel_id, SUM(volume_ml) FROM sap_movement WHERE to_vessel_id IN ({places}) GROUP BY 1"  # noqa: S608
                f" UNION ALL SELECT from_vessel_id, -SUM(volume_ml) FROM sap_movement"
                f" WHERE from_vessel_id IN ({places}) GROUP BY 1",
                [*values, *values],
            )
            for key, ml in cursor.fetchall():
                held[key if isinstance(key, uuid.UUID) else uuid.UUID(key)] += int(ml)
    return held


def balance_ml(vessel: Vessel) -> int:
    return balances_ml([vessel])[vessel.pk]


def _is_closed(season: Season) -> bool:
    """Whether the season is closed now, not when the caller read it; it cannot close before this act is done."""
    share = " FOR SHARE" if connection.features.has_select_for_update else ""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT state FROM seasons_season WHERE id = %s{share}", [season.pk])  # noqa: S608
        (state,) = cursor.fetchone()
    return bool(state == SeasonState.CLOSED)


def must_be_open(season: Season) -> None:
    """Refuses where the season is closed. For acts that move nothing; `post` asks by itself."""
    if _is_closed(season):
        raise Refused([_closed(season)])


def _closed(season: Season) -> Reason:
    return Reason(
        code="closed",
        fact=_("Season %(year)d is closed.") % {"year": season.year},
        detail=_("What was wrong is corrected on the season’s page, with its day and reason."),
    )


def _shut(moves: Sequence[Move]) -> list[Vessel]:
    """Packed lots among the targets, as they are now; what a reversal brings back goes in all the same."""
    lots = {
        m.target.pk: m.target
        for m in moves
        if m.target is not None and m.target.kind == VesselKind.LOT and m.reverses is None
    }
    if not lots:
        return []
    shut = Vessel.objects.filter(pk__in=lots, shut_at__isnull=False).order_by().values_list("pk", flat=True)
    return [lots[pk] for pk in shut]


@transaction.atomic
def post(
    *,
    kind: ActKind,
    season: Season,
    author: Person,
    happened_at: dt.datetime,
    moves: Sequence[Move],
    reason: str = "",
    approver: Person | None = None,
    tree: Tree | None = None,
    person: Person | None = None,
    group: Group | None = None,
    standing: Standing = Standing.COUNTED,
    origin_kind: str = "",
    origin_uuid: uuid.UUID | None = None,
    overfill_reason: str = "",
    after_closing: bool = False,
) -> Act:
    """Post one act with its movements, or refuse it whole.

    Refused (parts.reasons) when the season is closed and this is no late correction with a reason (after_closing),
    when a vessel would go below zero, when one would hold more than it can and no reason is given for it (one given
    without need is not kept), or when one is shut.
    """
    if _is_closed(season) and not (after_closing and kind == ActKind.CORRECT and reason):
        raise Refused([_closed(season)])
    if not moves:
        raise ValueError("an act moves something")
    vessels = {v.pk: v for move in moves for v in (move.source, move.target) if v is not None}
    lock(vessels.values())
    change: dict[uuid.UUID, int] = defaultdict(int)
    for move in moves:
        if move.source is not None:
            change[move.source.pk] -= move.volume_ml
        if move.target is not None:
            change[move.target.pk] += move.volume_ml
    # Only what a vessel gives, or may be too much for it, has to be measured against what it holds.
    held = balances_ml(pk for pk, delta in change.items() if delta < 0 or vessels[pk].capacity_ml is not None)
    reasons = []
    overfull = False
    for vessel_id, delta in change.items():
        if vessel_id not in held:
            continue
        vessel, after = vessels[vessel_id], held[vessel_id] + delta
        if after < 0:
            reasons.append(_short(vessel, held[vessel_id], -after, author))
        elif delta > 0 and vessel.capacity_ml is not None and after > vessel.capacity_ml:
            overfull = True
            if not overfill_reason.strip():
                reasons.append(_too_full(vessel, held[vessel_id], delta, author))
    reasons += [
        Reason(
            code="shut",
            fact=_("%(vessel)s is packed; nothing more goes into it.") % {"vessel": vessel},
            next_text=_("Start another lot"),
        )
        for vessel in _shut(moves)
    ]
    if reasons:
        raise Refused(reasons)
    act = Act.objects.create(
        kind=kind,
        season=season,
        author=author,
        approver=approver,
        reason=reason,
        overfill_reason=overfill_reason.strip() if overfull else "",
        tree=tree,
        person=person,
        group=group,
        standing=standing,
        origin_kind=origin_kind,
        origin_uuid=origin_uuid,
        happened_at=happened_at,
    )
    for move in moves:
        # One by one: seq must rise in the order of posting on every database.
        Movement.objects.create(
            act=act,
            season=season,
            happened_at=happened_at,
            from_vessel=move.source,
            to_vessel=move.target,
            volume_ml=move.volume_ml,
            sugar_brix=move.sugar_brix,
            cause=move.cause,
            detail=move.detail,
            reverses=move.reverses,
        )
    return act


def _short(vessel: Vessel, held_ml: int, missing_ml: int, reader: Person) -> Reason:
    words = {"held": volume_words(held_ml, reader.units), "missing": volume_words(missing_ml, reader.units)}
    if vessel.kind == VesselKind.HANDS:
        return Reason(
            code="short",
            fact=_("%(who)s holds %(held)s; %(missing)s more would be needed.") % {"who": vessel.person, **words},
            detail=_("Missed a tree? Add it, or write why the measures differ."),
        )
    return Reason(
        code="short",
        fact=_("%(vessel)s holds %(held)s; %(missing)s more would be needed.") % {"vessel": vessel, **words},
        next_text=_("Take less, or look at what went in"),
    )


def _too_full(vessel: Vessel, held_ml: int, more_ml: int, reader: Person) -> Reason:
    room = max(0, (vessel.capacity_ml or 0) - held_ml)
    return Reason(
        code="full",
        fact=_("%(vessel)s has room for %(room)s; this is %(more)s.")
        % {
            "vessel": vessel,
            "room": volume_words(room, reader.units),
            "more": volume_words(more_ml, reader.units),
        },
        next_text=_("Use another tank, or write why it holds more"),
    )


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
