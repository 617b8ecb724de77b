"""Accepting deliveries. The keeper's measure rules; the difference to what was entered is never silent."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.models import Delivery, DeliveryLine, DeliveryState
from sugarbush.gathering import rebalance
from sugarbush.kit.models import Container, Depot, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import Move, balance_ml, hands_of, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.sap.tanks import mixture_brix, tank_states
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "delivery"


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


class Differs(Refused):
    """The measures differ by more than the tolerance: explain it, or (over only) accept it ahead of its entries."""

    def __init__(self, *, held_ml: int, measured_ml: int, reason: Reason) -> None:
        self.held_ml, self.measured_ml = held_ml, measured_ml
        super().__init__([reason])


def tolerance_ml(season: Season, held_ml: int) -> int:
    """The season's measuring tolerance: a share of what was held, or a fixed volume, the larger."""
    return max(int(held_ml * season.tolerance_pct / 100), season.tolerance_ml)


def check_lines(lines: Sequence[Line]) -> None:
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
        if line.tank is not None and line.container is not None and line.container.food_safe != FoodSafe.YES:
            reasons.append(
                Reason(
                    code="food",
                    fact=_("%(name)s is not known to be food-safe, so its sap goes in no tank.") % {"name": name},
                    next_text=_("Turn it away, or have the container checked"),
                )
            )
        if line.tank is not None and line.look in {"milky", "ropy"}:
            reasons.append(
                Reason(code="spoiled", fact=_("%(name)s: milky or ropy sap does not go in a tank.") % {"name": name})
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
    """
    season = Season.current()
    if season is None:
        raise Refused([Reason(code="season", fact=_("No season is open."))])
    access.require(keeper, "delivery.accept", anywhere=True)
    check_lines(lines)
    happened_at = happened_at or timezone.now()
    delivery_id = delivery_id or uuid.uuid4()
    hands = hands_of(person, season)
    lock([hands, *{line.tank for line in lines if line.tank is not None}])
    earlier = Delivery.objects.filter(pk=delivery_id).first()
    if earlier is not None:
        return earlier
    held_ml, measured_ml = balance_ml(hands), sum(line.volume_ml for line in lines)
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
        approved_by=approved_by,
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
        approver=approved_by,
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
        if why or approved_by == keeper:
            raise Differs(
                held_ml=held_ml,
                measured_ml=measured_ml,
                reason=Reason(
                    code="approve",
                    fact=_("A difference of %(over)s needs a second person’s approval.") % words,
                    next_text=_("Name a coordinator who has seen it"),
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


def ahead_vessel(delivery: Delivery) -> Vessel | None:
    return Vessel.objects.filter(kind=VesselKind.AHEAD, code=f"ahead {delivery.pk.hex}").first()


@transaction.atomic
def settle_ahead(*, delivery: Delivery, by: Person, tank: Vessel, explanation: str = "") -> Delivery:
    """Close a delivery that was accepted ahead, once its entries have come: the surplus leaves the hands for a tank.

    Entries that fall short by more than the tolerance need an explanation; the rest then stands as measured over.
    """
    access.require(by, "delivery.accept", anywhere=True)
    locked = Delivery.objects.select_for_update().select_related("season", "person").get(pk=delivery.pk)
    if locked.state != DeliveryState.AHEAD:
        raise Refused([Reason(code="settled", fact=_("This delivery is settled already."))])
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


@transaction.atomic
def move_between_tanks(
    *, source: Vessel, target: Vessel, volume_ml: int, by: Person, reason: str = "", overfill_reason: str = ""
) -> None:
    """Pump sap from one tank to another."""
    access.require(by, "delivery.accept", anywhere=True)
    lock([source, target])
    post(
        kind=ActKind.TRANSFER,
        season=source.season,
        author=by,
        happened_at=timezone.now(),
        moves=[
            Move(
                volume_ml=volume_ml,
                cause=Cause.MOVED,
                source=source,
                target=target,
                sugar_brix=mixture_brix(source),
            )
        ],
        reason=reason,
        overfill_reason=overfill_reason,
    )


@transaction.atomic
def tip_out_tank(*, tank: Vessel, volume_ml: int, by: Person, reason: str) -> None:
    """Tip sap out of a tank, with the reason."""
    access.require(by, "delivery.accept", anywhere=True)
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Say why it was tipped out."))])
    post(
        kind=ActKind.TIP_OUT,
        season=tank.season,
        author=by,
        happened_at=timezone.now(),
        moves=[Move(volume_ml=volume_ml, cause=Cause.DISCARDED, source=tank, detail="depot")],
        reason=reason,
    )
    record(by=by, act="tip out tank", subject=tank, reason=reason, new={"volume_ml": volume_ml})
