"""Accepting deliveries. The keeper's measure rules; the difference to what was entered is never silent."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.ahead import ahead_vessel, settle_ahead
from sugarbush.boils.differences import ORIGIN, Differs, tolerance_ml
from sugarbush.boils.models import Delivery, DeliveryLine, DeliveryState
from sugarbush.boils.tank_acts import move_between_tanks, tip_out_tank
from sugarbush.gathering import rebalance
from sugarbush.kit.models import Container, Depot, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import Move, balance_ml, hands_of, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.sap.tanks import tank_states
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

__all__ = [
    "ORIGIN",
    "Differs",
    "Line",
    "accept_delivery",
    "ahead_vessel",
    "check_lines",
    "difference_replaced",
    "move_between_tanks",
    "settle_ahead",
    "tip_out_tank",
    "tolerance_ml",
]

CLOCK_SLIP = dt.timedelta(minutes=10)


def _time_it_came() -> str:
    return _("Give the time it came, or leave the time empty for now")


@dataclass(frozen=True, kw_only=True)
class Line:
    """One container as the keeper measured it: into a tank, or turned away with a reason."""

    volume_ml: int
    tank: Vessel | None = None
    reject_reason: str = ""
    container: Container | None = None
    container_text: str = ""
    mass_g: int | None = None
    sugar_brix: Decimal | None = None
    temperature_c: Decimal | None = None
    look: str = "clear"


def _not_safe(line: Line, name: str) -> Reason | None:
    """Why this container's sap goes in no tank, as far as the container itself says."""
    if line.container is None:
        return Reason(
            code="unknown-container",
            fact=_("%(name)s is in no list, so nobody knows whether it is food-safe; its sap goes in no tank.")
            % {"name": name},
            next_text=_("Record it under Containers if it is food-safe, or turn its sap away"),
            next_url=url("container-new"),
        )
    if line.container.food_safe == FoodSafe.YES:
        return None
    tested = line.container.food_safe == FoodSafe.NO
    fact = _("%(name)s is not for food; its sap goes in no tank.") if tested else None
    return Reason(
        code="food",
        fact=(fact or _("%(name)s is not known to be food-safe, so its sap goes in no tank.")) % {"name": name},
        next_text=_("Turn its sap away") if tested else _("Turn its sap away, or have the container tested"),
        next_url=url("container", line.container.pk),
    )


def check_lines(lines: Sequence[Line]) -> None:
    """Every container measured, in a tank or turned away, and only good sap from a food-safe container in a tank."""
    reasons = []
    if not lines:
        reasons.append(Reason(code="no-line", fact=_("Enter at least one container.")))
    for line in lines:
        name = line.container.code if line.container else line.container_text or _("The container")
        if line.volume_ml <= 0:
            reasons.append(Reason(code="volume", fact=_("%(name)s: say how much is in it.") % {"name": name}))
        if (line.tank is None) == (not line.reject_reason.strip()):
            reasons.append(
                Reason(code="tank", fact=_("%(name)s: choose a tank, or say why it is turned away.") % {"name": name})
            )
        unsafe = _not_safe(line, name) if line.tank is not None else None
        if unsafe:
            reasons.append(unsafe)
        if line.tank is not None and line.look in {"milky", "ropy"}:
            reasons.append(
                Reason(
                    code="spoiled",
                    fact=_("%(name)s: milky or ropy sap does not go in a tank.") % {"name": name},
                    next_text=_("Turn it away, and say what it looks like"),
                )
            )
    if reasons:
        raise Refused(reasons)


@transaction.atomic
def accept_delivery(
    *,
    depot: Depot,
    person: Person,
    keeper: Person,
    lines: Sequence[Line],
    all_of_it: bool = False,
    happened_at: dt.datetime | None = None,
    explanation: str = "",
    ahead: bool = False,
    approved_by: Person | None = None,
    overfill_reason: str = "",
    delivery_id: uuid.UUID | None = None,
    note: str = "",
) -> Delivery:
    """Take in what a person brought, container by container.

    Less than they hold: the rest stays in their hands, unless all_of_it. A difference within the season's tolerance is
    posted by itself as measured over or under; beyond it the act raises Differs until it is explained (above the
    season's limit another person approves), or, when more came than was entered, accepted ahead of its entries: the
    surplus then sits in a vessel of its own until the entries come. The same delivery_id again gives the one there is.
    A delivery typed in late is measured against what they held then; one dated before its sap was collected is refused.
    """
    season = Season.current()
    if season is None:
        raise Refused([Reason(code="season", fact=_("No season is open."))])
    access.require(keeper, "delivery.accept", anywhere=True)
    delivery_id = delivery_id or uuid.uuid4()
    earlier = Delivery.objects.filter(pk=delivery_id).first()
    if earlier is not None:
        return earlier
    check_lines(lines)
    happened_at = happened_at or timezone.now()
    if happened_at > timezone.now() + CLOCK_SLIP:
        raise Refused([Reason(code="future", fact=_("That time has not come yet."), next_text=_time_it_came())])
    hands = hands_of(person, season)
    lock([hands, *{line.tank for line in lines if line.tank is not None}])
    earlier = Delivery.objects.filter(pk=delivery_id).first()
    if earlier is not None:
        return earlier
    measured_ml = sum(line.volume_ml for line in lines)
    held_ml = _held_then(hands, happened_at, measured_ml, season, keeper)
    difference_ml, surplus_ml = _difference(
        season, held_ml, measured_ml, all_of_it, explanation, ahead, approved_by, keeper, person
    )
    number = (Delivery.objects.filter(season=season).aggregate(last=Max("number"))["last"] or 0) + 1
    delivery = Delivery.objects.create(
        id=delivery_id,
        number=number,
        season=season,
        depot=depot,
        person=person,
        keeper=keeper,
        state=DeliveryState.AHEAD if surplus_ml else DeliveryState.ACCEPTED,
        all_of_it=all_of_it,
        held_ml=held_ml,
        difference_ml=difference_ml,
        explanation=explanation.strip(),
        approved_by=approved_by if explanation.strip() else None,
        note=note,
        happened_at=happened_at,
    )
    DeliveryLine.objects.bulk_create(
        DeliveryLine(
            delivery=delivery,
            container=line.container,
            container_text=line.container_text,
            volume_ml=line.volume_ml,
            mass_g=line.mass_g,
            sugar_brix=line.sugar_brix,
            temperature_c=line.temperature_c,
            look=line.look,
            tank=line.tank,
            reject_reason=line.reject_reason.strip(),
        )
        for line in lines
    )
    in_hands = tank_states([hands], season, ages=False)[hands.pk]
    brix = Decimal(str(round(in_hands.sugar_brix, 2))) if in_hands.sugar_brix and not in_hands.unmeasured_ml else None
    moves = rebalance.difference_move(delivery_id, hands, difference_ml)
    moves += _line_moves(lines, hands, delivery, season, surplus_ml, brix)
    post(
        kind=ActKind.DELIVER,
        season=season,
        author=keeper,
        approver=approved_by if explanation.strip() else None,
        happened_at=happened_at,
        moves=moves,
        reason=explanation.strip(),
        person=person,
        origin_kind=ORIGIN,
        origin_uuid=delivery_id,
        overfill_reason=overfill_reason,
    )
    record(
        by=keeper,
        act="accept delivery",
        subject=delivery,
        reason=explanation,
        new={"held_ml": held_ml, "measured_ml": measured_ml, "difference_ml": difference_ml, "ahead_ml": surplus_ml},
    )
    return delivery


def _held_then(hands: Vessel, at: dt.datetime, measured_ml: int, season: Season, reader: Person) -> int:
    """What the hands held at the time of the delivery: what was collected after it cannot have been in it."""
    held_ml = balance_ml(hands)
    later = hands.into.filter(act__kind=ActKind.COLLECT, reversed_by=None, happened_at__gt=at)
    tipped = hands.out.filter(act__kind=ActKind.COLLECT, reversed_by=None, happened_at__gt=at)
    later_ml = (later.aggregate(ml=Sum("volume_ml"))["ml"] or 0) - (tipped.aggregate(ml=Sum("volume_ml"))["ml"] or 0)
    later_ml = min(later_ml, held_ml)
    if later_ml > 0 and held_ml - later_ml + tolerance_ml(season, held_ml - later_ml) < measured_ml <= (
        held_ml + tolerance_ml(season, held_ml)
    ):
        raise Refused(
            [
                Reason(
                    code="before",
                    fact=_("%(later)s of what %(who)s holds was collected after this delivery.")
                    % {"later": volume_words(later_ml, reader.units), "who": hands.person},
                    next_text=_time_it_came(),
                )
            ]
        )
    return held_ml - later_ml


def _difference(
    season: Season,
    held_ml: int,
    measured_ml: int,
    all_of_it: bool,
    explanation: str,
    ahead: bool,
    approved_by: Person | None,
    keeper: Person,
    person: Person,
) -> tuple[int, int]:
    """The difference to post (over +, under -) and the surplus to keep ahead. Raises Differs beyond the tolerance."""
    raw_ml = measured_ml - held_ml
    if raw_ml < 0 and not all_of_it:
        return 0, 0
    if abs(raw_ml) <= tolerance_ml(season, held_ml):
        return raw_ml, 0
    if raw_ml > 0 and ahead:
        return 0, raw_ml
    words = {
        "who": person,
        "held": volume_words(held_ml, keeper.units),
        "measured": volume_words(measured_ml, keeper.units),
        "over": volume_words(abs(raw_ml), keeper.units),
    }
    if not explanation.strip():
        fact = (
            _("%(who)s holds %(held)s; you measured %(measured)s, %(over)s more.")
            if raw_ml > 0
            else _("%(who)s holds %(held)s; you measured %(measured)s, %(over)s less.")
        )
        raise Differs(
            held_ml=held_ml,
            measured_ml=measured_ml,
            reason=Reason(
                code="differs",
                fact=fact % words,
                detail=_("Missed a tree? Add it, or write why, and we carry on."),
            ),
        )
    if abs(raw_ml) > season.second_person_ml:
        why = access.why_not(approved_by, "correction.approve", anywhere=True) if approved_by else "missing"
        if why or approved_by in (keeper, person):
            raise Differs(
                held_ml=held_ml,
                measured_ml=measured_ml,
                reason=Reason(
                    code="approve",
                    fact=_("A difference of %(over)s needs a second person’s approval.") % words,
                    next_text=_("Name a coordinator, neither you nor the carrier; they are asked to confirm it"),
                ),
            )
    return raw_ml, 0


def _line_moves(
    lines: Sequence[Line],
    hands: Vessel,
    delivery: Delivery,
    season: Season,
    surplus_ml: int,
    hands_brix: Decimal | None,
) -> list[Move]:
    """Movements of the lines. Turned-away sap leaves the hands first; the last litres are the surplus, if any."""
    moves: list[Move] = []
    from_hands = sum(line.volume_ml for line in lines) - surplus_ml
    for line in sorted(lines, key=lambda line: line.tank is not None):
        part = min(line.volume_ml, from_hands)
        from_hands -= part
        brix = line.sugar_brix if line.sugar_brix is not None else hands_brix
        if part and line.tank is not None:
            moves.append(Move(volume_ml=part, cause=Cause.MOVED, source=hands, target=line.tank, sugar_brix=brix))
        elif part:
            moves.append(
                Move(
                    volume_ml=part, cause=Cause.REJECTED, source=hands, sugar_brix=brix, detail=line.reject_reason[:40]
                )
            )
    if surplus_ml:
        vessel = Vessel.objects.create(
            kind=VesselKind.AHEAD,
            season=season,
            person=delivery.person,
            depot=delivery.depot,
            code=f"ahead {delivery.pk.hex}",
        )
        moves.append(Move(volume_ml=surplus_ml, cause=Cause.MEASURED_OVER, target=vessel, detail="ahead"))
    return moves


def difference_replaced(delivery_id: uuid.UUID, difference_ml: int, reason: str, by: Person) -> None:
    """Told by gathering when a changed collection replaced a delivery's difference."""
    delivery = Delivery.objects.select_for_update().filter(pk=delivery_id).first()
    if delivery is None:
        return
    old = delivery.difference_ml
    delivery.difference_ml = difference_ml
    delivery.explanation = " ".join(part for part in (delivery.explanation, reason) if part)[:400]
    delivery.save()
    record(
        by=by,
        act="replace delivery difference",
        subject=delivery,
        reason=reason,
        old={"difference_ml": old},
        new={"difference_ml": difference_ml},
    )
