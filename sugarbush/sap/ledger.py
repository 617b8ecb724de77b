"""Posting to the sap ledger, and what its vessels hold. This is the only place that writes movements."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import connection, transaction
from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.sap.totals import Chain, below_zero, chain, held_by_kind, signed_ml, totals_by_cause
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group, Person

__all__ = [
    "Chain",
    "Move",
    "Posting",
    "balance_ml",
    "balances_ml",
    "below_zero",
    "chain",
    "hands_of",
    "held_by_kind",
    "lock",
    "must_be_open",
    "post",
    "post_all",
    "signed_ml",
    "totals_by_cause",
    "undo_of",
]

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


@dataclass(frozen=True, kw_only=True)
class Posting:
    """One act to be posted: what `post` is given, without the season."""

    kind: ActKind
    author: Person
    happened_at: dt.datetime
    moves: Sequence[Move]
    reason: str = ""
    approver: Person | None = None
    tree: Tree | None = None
    person: Person | None = None
    group: Group | None = None
    standing: Standing = Standing.COUNTED
    origin_kind: str = ""
    origin_uuid: uuid.UUID | None = None
    overfill_reason: str = ""
    after_closing: bool = False

    def change_ml(self) -> dict[uuid.UUID, int]:
        """By how much each vessel it touches holds more afterwards."""
        change: dict[uuid.UUID, int] = defaultdict(int)
        for move in self.moves:
            if move.source is not None:
                change[move.source.pk] -= move.volume_ml
            if move.target is not None:
                change[move.target.pk] += move.volume_ml
        return change


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
    one = Posting(
        kind=kind,
        author=author,
        happened_at=happened_at,
        moves=moves,
        reason=reason,
        approver=approver,
        tree=tree,
        person=person,
        group=group,
        standing=standing,
        origin_kind=origin_kind,
        origin_uuid=origin_uuid,
        overfill_reason=overfill_reason,
        after_closing=after_closing,
    )
    return post_all([one], season=season)[0]


@transaction.atomic
def post_all(postings: Sequence[Posting], *, season: Season) -> list[Act]:
    """Post acts one after the other, each as `post` would; one that is refused refuses them all."""
    if not postings:
        return []
    late = all(p.after_closing and p.kind == ActKind.CORRECT and p.reason for p in postings)
    if _is_closed(season) and not late:
        raise Refused([_closed(season)])
    if not all(p.moves for p in postings):
        raise ValueError("an act moves something")
    moves = [move for p in postings for move in p.moves]
    vessels = {v.pk: v for move in moves for v in (move.source, move.target) if v is not None}
    lock(vessels.values())
    changes = [p.change_ml() for p in postings]
    # Only what a vessel gives, or may be too much for it, has to be measured against what it holds.
    held = balances_ml(
        pk for change in changes for pk, delta in change.items() if delta < 0 or vessels[pk].capacity_ml is not None
    )
    shut = _shut(moves)
    acts = []
    for posting, change in zip(postings, changes, strict=True):
        overfull = _must_fit(posting, change, vessels, held, shut)
        acts.append(
            Act(
                kind=posting.kind,
                season=season,
                author=posting.author,
                approver=posting.approver,
                reason=posting.reason,
                overfill_reason=posting.overfill_reason.strip() if overfull else "",
                tree=posting.tree,
                person=posting.person,
                group=posting.group,
                standing=posting.standing,
                origin_kind=posting.origin_kind,
                origin_uuid=posting.origin_uuid,
                happened_at=posting.happened_at,
            )
        )
    Act.objects.bulk_create(acts)
    _write(acts, postings)
    return acts


def _must_fit(
    posting: Posting,
    change: Mapping[uuid.UUID, int],
    vessels: Mapping[uuid.UUID, Vessel],
    held: dict[uuid.UUID, int],
    shut: Mapping[uuid.UUID, Vessel],
) -> bool:
    """Whether a vessel is filled past its mark, with a reason; Refused where the act cannot be. Adds it to `held`."""
    reasons, overfull = [], False
    for vessel_id, delta in change.items():
        vessel = vessels[vessel_id]
        if vessel_id not in held or (delta >= 0 and vessel.capacity_ml is None):
            continue
        after = held[vessel_id] + delta
        if after < 0:
            reasons.append(_short(vessel, held[vessel_id], -after, posting.author))
        elif delta > 0 and vessel.capacity_ml is not None and after > vessel.capacity_ml:
            overfull = True
            if not posting.overfill_reason.strip():
                reasons.append(_too_full(vessel, held[vessel_id], delta, posting.author))
    into = dict.fromkeys(m.target.pk for m in posting.moves if m.target is not None and m.reverses is None)
    reasons += [
        Reason(
            code="shut",
            fact=_("%(vessel)s is packed; nothing more goes into it.") % {"vessel": shut[pk]},
            next_text=_("Start another lot"),
        )
        for pk in into
        if pk in shut
    ]
    if reasons:
        raise Refused(reasons)
    for vessel_id, delta in change.items():
        if vessel_id in held:
            held[vessel_id] += delta
    return overfull


def _write(acts: Sequence[Act], postings: Sequence[Posting]) -> None:
    """The movements of these acts. Their seq rises in the order of posting, on every database."""
    rows = [
        Movement(
            act=act,
            season=act.season,
            happened_at=posting.happened_at,
            from_vessel=move.source,
            to_vessel=move.target,
            volume_ml=move.volume_ml,
            sugar_brix=move.sugar_brix,
            cause=move.cause,
            detail=move.detail,
            reverses=move.reverses,
        )
        for act, posting in zip(acts, postings, strict=True)
        for move in posting.moves
    ]
    if connection.vendor == "postgresql" and len(rows) > 1:
        # Rows that are written together get their numbers in no promised order there; these are drawn beforehand.
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence('sap_movement', 'seq')) FROM generate_series(1, %s)", [len(rows)]
            )
            for row, seq in zip(rows, sorted(seq for (seq,) in cursor.fetchall()), strict=True):
                row.seq = seq
    Movement.objects.bulk_create(rows)


def _shut(moves: Sequence[Move]) -> dict[uuid.UUID, Vessel]:
    """Packed lots among the targets, as they are now; what a reversal brings back goes in all the same."""
    lots = {
        m.target.pk: m.target
        for m in moves
        if m.target is not None and m.target.kind == VesselKind.LOT and m.reverses is None
    }
    if not lots:
        return {}
    shut = Vessel.objects.filter(pk__in=lots, shut_at__isnull=False).order_by().values_list("pk", flat=True)
    return {pk: lots[pk] for pk in shut}


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
