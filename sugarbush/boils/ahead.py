"""Deliveries that came ahead of their entries: the surplus waits apart until the entries come."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.differences import ORIGIN, Differs, tolerance_ml
from sugarbush.boils.models import Delivery, DeliveryState
from sugarbush.gathering import rebalance
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import Move, balance_ml, hands_of, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


def ahead_vessel(delivery: Delivery) -> Vessel | None:
    return Vessel.objects.filter(kind=VesselKind.AHEAD, code=f"ahead {delivery.pk.hex}").first()


@transaction.atomic
def settle_ahead(*, delivery: Delivery, by: Person, tank: Vessel, explanation: str = "") -> Delivery:
    """Close a delivery that was accepted ahead, once its entries have come: the surplus leaves the hands for a tank.

    Entries that fall short by more than the tolerance need an explanation; the rest then stands as measured over.
    """
    access.require(by, "delivery.accept", anywhere=True)
    locked = Delivery.objects.select_for_update().select_related("season", "person").get(pk=delivery.pk)
    if locked.state == DeliveryState.SETTLED:
        return locked  # the form came twice
    if locked.state != DeliveryState.AHEAD:
        raise Refused([Reason(code="settled", fact=_("This delivery was never ahead of its entries."))])
    vessel = ahead_vessel(locked)
    if vessel is None:
        raise LookupError(f"no vessel ahead for {locked}")
    hands = hands_of(locked.person, locked.season)
    lock([vessel, hands, tank])
    surplus_ml, held_ml = balance_ml(vessel), balance_ml(hands)
    from_hands = min(surplus_ml, held_ml)
    short_ml = surplus_ml - from_hands
    if short_ml > tolerance_ml(locked.season, surplus_ml) and not explanation.strip():
        raise Differs(
            held_ml=held_ml,
            measured_ml=surplus_ml,
            reason=Reason(
                code="differs",
                fact=_("%(who)s has entered %(held)s of the %(surplus)s that came ahead.")
                % {
                    "who": locked.person,
                    "held": volume_words(held_ml, by.units),
                    "surplus": volume_words(surplus_ml, by.units),
                },
                detail=_("Wait for the rest of the entries, or write why they will not come."),
            ),
        )
    opening = vessel.into.get(reverses=None, reversed_by=None)
    moves = [
        Move(volume_ml=surplus_ml, cause=Cause.MEASURED_OVER, source=vessel, detail="ahead", reverses=opening),
        *rebalance.difference_move(locked.pk, hands, short_ml),
        *_surplus_moves(locked, surplus_ml, hands, tank),
    ]
    post(
        kind=ActKind.DELIVER,
        season=locked.season,
        author=by,
        happened_at=locked.happened_at,
        moves=moves,
        reason=explanation.strip(),
        person=locked.person,
        origin_kind=ORIGIN,
        origin_uuid=locked.pk,
    )
    locked.state = DeliveryState.SETTLED
    locked.difference_ml += short_ml
    locked.explanation = " ".join(part for part in (locked.explanation, explanation.strip()) if part)
    locked.save()
    record(by=by, act="settle delivery", subject=locked, reason=explanation, new={"short_ml": short_ml})
    return locked


def _surplus_moves(delivery: Delivery, surplus_ml: int, hands: Vessel, tank: Vessel) -> list[Move]:
    """Where the surplus went: turned-away containers that the hands could not cover then, the rest into the tank."""
    lines = list(delivery.lines.all())
    turned_away_ml = sum(line.volume_ml for line in lines if line.tank_id is None)
    covered_ml = sum(line.volume_ml for line in lines) - surplus_ml
    rejected_ml = max(0, turned_away_ml - covered_ml)
    moves = []
    if rejected_ml:
        why = next(line.reject_reason for line in lines if line.tank_id is None)
        moves.append(Move(volume_ml=rejected_ml, cause=Cause.REJECTED, source=hands, detail=why[:40]))
    if surplus_ml - rejected_ml:
        moves.append(Move(volume_ml=surplus_ml - rejected_ml, cause=Cause.MOVED, source=hands, target=tank))
    return moves
