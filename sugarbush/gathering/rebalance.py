"""When a change of a collection reaches sap that has gone on to a depot.

The depot's measure rules, so the delivery itself stays; what changes is the difference between what was entered and
what was measured. That difference is a movement of its own, marked with its delivery, and is replaced here.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, balances_ml, lock, post, undo_of
from sugarbush.sap.models import ActKind, Cause, Movement, Standing, Vessel, VesselKind
from sugarbush.volunteers.models import Person

if TYPE_CHECKING:
    from sugarbush.gathering.models import Collection

# (delivery id, millilitres measured over (+) or under (-), reason, who)
Teller = Callable[[uuid.UUID, int, str, Person], None]
_tellers: list[Teller] = []


def register(teller: Teller) -> None:
    """The app that keeps deliveries names who is told when a delivery's difference was replaced."""
    if teller not in _tellers:
        _tellers.append(teller)


def missing_ml(hands: Vessel, moves: Sequence[Move]) -> int:
    """How far these movements would take the hands below zero; 0 when they would not."""
    change = sum(m.volume_ml for m in moves if m.target == hands) - sum(m.volume_ml for m in moves if m.source == hands)
    return max(0, -(balance_ml(hands) + change))


def last_delivery(hands: Vessel) -> uuid.UUID | None:
    """The newest delivery that sap of these hands went into."""
    return (
        Movement.objects.filter(from_vessel=hands, act__kind=ActKind.DELIVER, reversed_by=None)
        .order_by("-seq")
        .values_list("act__origin_uuid", flat=True)
        .first()
    )


def difference_rows(delivery_id: uuid.UUID) -> list[Movement]:
    """The standing difference of a delivery: at most one row, over or under."""
    rows = Movement.objects.filter(
        cause__in=(Cause.MEASURED_OVER, Cause.MEASURED_UNDER), detail=delivery_id.hex, reverses=None, reversed_by=None
    )
    return list(rows.select_related("from_vessel", "to_vessel"))


def signed(rows: Sequence[Movement]) -> int:
    return sum(row.volume_ml if row.cause == Cause.MEASURED_OVER else -row.volume_ml for row in rows)


def difference_move(delivery_id: uuid.UUID, hands: Vessel, difference_ml: int) -> list[Move]:
    """The one movement that stands for a difference: over comes into the hands, under leaves them."""
    if difference_ml > 0:
        return [Move(volume_ml=difference_ml, cause=Cause.MEASURED_OVER, target=hands, detail=delivery_id.hex)]
    if difference_ml < 0:
        return [Move(volume_ml=-difference_ml, cause=Cause.MEASURED_UNDER, source=hands, detail=delivery_id.hex)]
    return []


def delivery_moves(hands: Vessel, short_ml: int) -> list[Move]:
    """Movements that give the hands `short_ml` back by replacing the difference of their newest delivery."""
    delivery_id = last_delivery(hands)
    if delivery_id is None:
        raise Refused(
            [
                Reason(
                    code="short",
                    fact=_("This sap has been handed on or tipped out already."),
                    detail=_("Take that back first, then change the entry."),
                )
            ]
        )
    rows = difference_rows(delivery_id)
    return [undo_of(row) for row in rows] + difference_move(delivery_id, hands, signed(rows) + short_ml)


def tell(hands: Vessel, short_ml: int, reason: str, by: Person) -> None:
    delivery_id = last_delivery(hands)
    if delivery_id is None:
        return
    difference_ml = signed(difference_rows(delivery_id))
    for teller in _tellers:
        teller(delivery_id, difference_ml, reason, by)


def tip_out(entry: Collection, hands: Vessel, *, by: Person, reason: str, net_ml: int) -> None:
    """Discard an entry's sap from where it is now: first from the hands, then from the tanks it went into."""
    if net_ml == 0:
        return
    tanks = list(Vessel.objects.filter(kind=VesselKind.TANK, into__from_vessel=hands).distinct().order_by("-into__seq"))
    tanks = list(dict.fromkeys(tanks))
    lock([hands, *tanks])
    held = balances_ml([hands, *tanks])
    moves, left = [], net_ml
    for vessel in (hands, *tanks):
        part = min(left, held[vessel.pk])
        if part:
            moves.append(Move(volume_ml=part, cause=Cause.DISCARDED, source=vessel, detail="not_ours"))
            left -= part
    if left:
        raise Refused(
            [
                Reason(
                    code="boiled",
                    fact=_("This sap is no longer in anybody’s hands or in a tank."),
                    detail=_("It was boiled or poured on. Settle it as counted, and look at the lots it went into."),
                )
            ]
        )
    post(
        kind=ActKind.TIP_OUT,
        season=entry.season,
        author=by,
        happened_at=entry.happened_at,
        moves=moves,
        reason=reason,
        tree=entry.tree,
        person=entry.person,
        group=entry.group,
        standing=Standing.NOT_OURS,
        origin_kind="collection",
        origin_uuid=entry.pk,
    )
