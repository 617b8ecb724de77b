"""What is done at the tanks: pumping over, tipping out, dipping, writing temperatures down."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.models_pan import TankTemperature
from sugarbush.boils.series import NotTaken, Taken
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import temperature_words, volume_words
from sugarbush.sap.ledger import Move, balance_ml, lock, must_be_open, post
from sugarbush.sap.models import Act, ActKind, Cause, Vessel
from sugarbush.sap.tanks import mixture_brix
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "tank"
CLOCK_SLIP = dt.timedelta(minutes=10)


def done_before(act_id: uuid.UUID | None) -> bool:
    """Whether a form with this number was taken already. Ask it only with the tank held."""
    return act_id is not None and Act.objects.filter(origin_kind=ORIGIN, origin_uuid=act_id).exists()


def _when(at: dt.datetime | None) -> dt.datetime:
    now = timezone.now()
    if at is not None and at > now + CLOCK_SLIP:
        raise Refused(
            [
                Reason(
                    code="future",
                    fact=_("That time has not come yet."),
                    next_text=_("Give the time it was done, or leave it empty for now"),
                )
            ]
        )
    return at or now


@transaction.atomic
def move_between_tanks(
    *,
    source: Vessel,
    target: Vessel,
    volume_ml: int,
    by: Person,
    reason: str = "",
    overfill_reason: str = "",
    happened_at: dt.datetime | None = None,
    act_id: uuid.UUID | None = None,
) -> None:
    """Pump sap from one tank to another; its sugar and its age go along. The same act_id again changes nothing."""
    access.require(by, "delivery.accept", anywhere=True)
    happened_at = _when(happened_at)
    lock([source, target])
    if done_before(act_id):
        return
    post(
        kind=ActKind.TRANSFER,
        season=source.season,
        author=by,
        happened_at=happened_at,
        moves=[
            Move(
                volume_ml=volume_ml,
                cause=Cause.MOVED,
                source=source,
                target=target,
                sugar_brix=mixture_brix(source),
            )
        ],
        reason=reason.strip(),
        overfill_reason=overfill_reason,
        origin_kind=ORIGIN if act_id else "",
        origin_uuid=act_id,
    )


@transaction.atomic
def tip_out_tank(
    *,
    tank: Vessel,
    volume_ml: int,
    by: Person,
    reason: str,
    happened_at: dt.datetime | None = None,
    act_id: uuid.UUID | None = None,
) -> None:
    """Tip sap out of a tank, with the reason. The same act_id again changes nothing."""
    access.require(by, "delivery.accept", anywhere=True)
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Say why it was tipped out."))])
    happened_at = _when(happened_at)
    lock([tank])
    if done_before(act_id):
        return
    post(
        kind=ActKind.TIP_OUT,
        season=tank.season,
        author=by,
        happened_at=happened_at,
        moves=[
            Move(
                volume_ml=volume_ml,
                cause=Cause.DISCARDED,
                source=tank,
                detail="depot",
                sugar_brix=mixture_brix(tank),
            )
        ],
        reason=reason.strip(),
        origin_kind=ORIGIN if act_id else "",
        origin_uuid=act_id,
    )
    record(by=by, act="tip out tank", subject=tank, reason=reason, new={"volume_ml": volume_ml})


@transaction.atomic
def dip_tank(
    *,
    tank: Vessel,
    measured_ml: int,
    by: Person,
    explanation: str = "",
    overfill_reason: str = "",
    approved_by: Person | None = None,
    happened_at: dt.datetime | None = None,
    act_id: uuid.UUID | None = None,
) -> int:
    """What the stick says goes: the difference to the books is posted as measured over or under; gives it.

    Beyond the season's tolerance it has to be explained, above the season's limit a second person approves. The same
    act_id again changes nothing.
    """
    access.require(by, "delivery.accept", anywhere=True)
    happened_at = _when(happened_at)
    lock([tank])
    if done_before(act_id):
        return 0
    held_ml = balance_ml(tank)
    difference_ml = measured_ml - held_ml
    if difference_ml == 0:
        return 0
    season = tank.season
    within_ml = max(int(held_ml * season.tolerance_pct / 100), season.tolerance_ml)
    if abs(difference_ml) > within_ml and not explanation.strip():
        raise Refused(
            [
                Reason(
                    code="differs",
                    fact=_("The books say %(held)s, the stick %(measured)s.")
                    % {
                        "held": volume_words(held_ml, by.units),
                        "measured": volume_words(measured_ml, by.units),
                    },
                    next_text=_("Look for a delivery that was not entered, or write why they differ"),
                )
            ]
        )
    large = abs(difference_ml) > season.second_person_ml
    if large and (approved_by is None or approved_by == by or not access.holds(approved_by, "correction.approve")):
        raise Refused(
            [
                Reason(
                    code="approve",
                    fact=_("A difference of %(over)s needs a second person’s approval.")
                    % {"over": volume_words(abs(difference_ml), by.units)},
                    next_text=_("Name a coordinator who has seen it; they are asked to confirm it"),
                )
            ]
        )
    over = difference_ml > 0
    post(
        kind=ActKind.CORRECT,
        season=season,
        author=by,
        approver=approved_by if large else None,
        happened_at=happened_at,
        moves=[
            Move(
                volume_ml=abs(difference_ml),
                cause=Cause.MEASURED_OVER if over else Cause.MEASURED_UNDER,
                source=None if over else tank,
                target=tank if over else None,
                sugar_brix=mixture_brix(tank),
                detail="stick",
            )
        ],
        reason=explanation.strip(),
        overfill_reason=overfill_reason,
        origin_kind=ORIGIN if act_id else "",
        origin_uuid=act_id,
    )
    record(
        by=by,
        act="dip tank",
        subject=tank,
        reason=explanation,
        old={"volume_ml": held_ml},
        new={"volume_ml": measured_ml},
    )
    return difference_ml


# Temperatures -----------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Written:
    """What became of a series: lines added, lines that stood there already, lines not taken."""

    added: int
    there: int
    left: tuple[NotTaken, ...]


@transaction.atomic
def write_temperature(
    *,
    tank: Vessel,
    by: Person,
    temperature_c: Decimal,
    happened_at: dt.datetime | None = None,
    frozen_solid: bool = False,
    note: str = "",
    reading_id: uuid.UUID | None = None,
) -> TankTemperature:
    """Write one temperature of the sap down. The same reading_id again gives the one there is."""
    access.require(by, "delivery.accept", anywhere=True)
    happened_at = _when(happened_at)
    must_be_open(tank.season)
    lock([tank])
    reading_id = reading_id or uuid.uuid4()
    there = TankTemperature.objects.filter(pk=reading_id).first()
    if there is not None:
        return there
    if frozen_solid and temperature_c > 0:
        raise Refused(
            [
                Reason(
                    code="frozen",
                    fact=_("Sap above freezing is not frozen right through."),
                    next_text=_("Take the tick away, or look at the number"),
                )
            ]
        )
    same = TankTemperature.objects.filter(tank=tank, happened_at=happened_at).first()
    if same is not None:
        if same.temperature_c == temperature_c:
            return same
        raise Refused(
            [
                Reason(
                    code="there",
                    fact=_("%(there)s is written down for that moment already.")
                    % {"there": temperature_words(same.temperature_c, by.units)},
                    next_text=_("Give another time"),
                )
            ]
        )
    return TankTemperature.objects.create(
        id=reading_id,
        tank=tank,
        temperature_c=temperature_c,
        frozen_solid=frozen_solid,
        happened_at=happened_at,
        author=by,
        note=note.strip(),
    )


@transaction.atomic
def write_series(*, tank: Vessel, by: Person, taken: Sequence[Taken], left: Sequence[NotTaken] = ()) -> Written:
    """Keep a series. A moment that stands there already is not written twice; with another temperature it is listed."""
    access.require(by, "delivery.accept", anywhere=True)
    must_be_open(tank.season)
    lock([tank])
    left = list(left)
    moments = [row.at for row in taken]
    there = {}
    if moments:
        rows = TankTemperature.objects.filter(tank=tank, happened_at__range=(min(moments), max(moments)))
        there = dict(rows.values_list("happened_at", "temperature_c"))
    fresh, known = [], 0
    for row in taken:
        standing = there.get(row.at)
        if standing is None:
            fresh.append(row)
        elif standing == row.temperature_c:
            known += 1
        else:
            why = _("%(there)s is written down for that moment already.") % {
                "there": temperature_words(standing, by.units)
            }
            left.append(NotTaken(line=row.line, text=temperature_words(row.temperature_c, by.units), why=why))
    TankTemperature.objects.bulk_create(
        [
            TankTemperature(
                tank=tank, temperature_c=row.temperature_c, happened_at=row.at, author=by, note=_("from a series")
            )
            for row in fresh
        ],
        batch_size=500,
    )
    if fresh:
        record(by=by, act="write temperatures", subject=tank, new={"added": len(fresh), "left": len(left)})
    return Written(added=len(fresh), there=known, left=tuple(sorted(left, key=lambda row: row.line)))
