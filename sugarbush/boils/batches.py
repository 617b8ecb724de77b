"""A plain batch: sap from tanks into the pan, syrup drawn off, the rest driven off as steam."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.sap.tanks import tank_state
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "batch"
CHECKLIST = ("fire_permission", "extinguisher", "two_adults", "outdoors")


def why_not_lit(day: BoilDay, by: Person) -> list[Reason]:
    """What stands between this day and its fire."""
    words = {
        "fire_permission": _("Fire permission is not in hand."),
        "extinguisher": _("No extinguisher or water is ready."),
        "two_adults": _("Two adults for the whole boil are not named."),
        "outdoors": _("The fire is not outdoors and clear of buildings."),
    }
    reasons = [Reason(code=name, fact=words[name]) for name in CHECKLIST if not getattr(day, name)]
    adults = [p for p in day.crew.all() if p.is_adult]
    if len(adults) < 2:
        reasons.append(Reason(code="crew", fact=_("Fewer than two adults are on the crew.")))
    why = access.why_not(by, "boil.light", anywhere=True)
    if why:
        reasons.append(Reason(code="person", fact=_("You may not light it."), detail=why))
    return reasons


@transaction.atomic
def light(*, day: BoilDay, by: Person) -> BoilDay:
    """Light the fire; refused while a safety line is unticked."""
    locked = BoilDay.objects.select_for_update().get(pk=day.pk)
    reasons = why_not_lit(locked, by)
    if reasons:
        raise Refused(reasons)
    if locked.state == BoilState.PLANNED:
        locked.state = BoilState.LIT
        locked.save()
        record(by=by, act="light fire", subject=locked)
    return locked


@transaction.atomic
def put_out(*, day: BoilDay, by: Person, called_off: bool = False, reason: str = "") -> BoilDay:
    """End the day: the fire is out, or the day was called off. Not while a batch is in the pan."""
    access.require(by, "boil.plan", anywhere=True)
    locked = BoilDay.objects.select_for_update().get(pk=day.pk)
    if locked.batches.filter(state=BatchState.OPEN).exists():
        raise Refused([Reason(code="open-batch", fact=_("A batch is still in the pan."))])
    locked.state = BoilState.CALLED_OFF if called_off else BoilState.OUT
    locked.save()
    record(by=by, act="call off boiling day" if called_off else "fire out", subject=locked, reason=reason)
    return locked


@transaction.atomic
def open_batch(
    *, day: BoilDay, by: Person, takes: Sequence[tuple[Vessel, int]], opened_at: dt.datetime | None = None
) -> Batch:
    """Start a batch with sap from tanks: (tank, millilitres) each. Never more than a tank holds."""
    access.require(by, "boil.plan", anywhere=True)
    locked = BoilDay.objects.select_for_update().select_related("season").get(pk=day.pk)
    if locked.state != BoilState.LIT:
        raise Refused([Reason(code="not-lit", fact=_("The fire is not lit."))])
    if not any(ml > 0 for _tank, ml in takes):
        raise Refused([Reason(code="no-sap", fact=_("Choose a tank and how much of it."))])
    number = (locked.batches.aggregate(last=Max("number"))["last"] or 0) + 1
    code = f"{locked.day:%y%m%d}-{locked.pk}-{number}"
    pan = Vessel.objects.create(kind=VesselKind.PAN, season=locked.season, code=f"pan {code}")
    opened_at = opened_at or timezone.now()
    batch = Batch.objects.create(boil_day=locked, number=number, pan=pan, opened_by=by, opened_at=opened_at)
    add_sap(batch=batch, by=by, takes=takes, at=opened_at)
    return batch


@transaction.atomic
def add_sap(*, batch: Batch, by: Person, takes: Sequence[tuple[Vessel, int]], at: dt.datetime | None = None) -> None:
    """Pour more sap from tanks into the pan of an open batch."""
    access.require(by, "boil.plan", anywhere=True)
    _must_be_open(batch)
    moves = []
    lock([tank for tank, _ml in takes])
    for tank, ml in takes:
        if ml > 0:
            brix = tank_state(tank).sugar_brix
            moves.append(
                Move(
                    volume_ml=ml,
                    cause=Cause.MOVED,
                    source=tank,
                    target=batch.pan,
                    sugar_brix=Decimal(str(round(brix, 2))) if brix is not None else None,
                )
            )
    post(
        kind=ActKind.BOIL,
        season=batch.pan.season,
        author=by,
        happened_at=at or timezone.now(),
        moves=moves,
        origin_kind=ORIGIN,
        origin_uuid=batch.pk,
    )
    record(by=by, act="put sap in pan", subject=batch, new={"ml": sum(ml for _tank, ml in takes)})


def _must_be_open(batch: Batch) -> None:
    if batch.state != BatchState.OPEN:
        raise Refused([Reason(code="closed", fact=_("This batch is closed."))])


@transaction.atomic
def close_batch(
    *,
    batch: Batch,
    by: Person,
    syrup_ml: int,
    syrup_brix: Decimal | None = None,
    closed_at: dt.datetime | None = None,
    note: str = "",
    loss_reason: str = "",
) -> Batch:
    """Draw the syrup off into a lot; what the pan still shows is posted as driven off.

    syrup_ml=0 with a loss_reason is a lost batch: nothing comes out and the pan's content counts as lost.
    """
    access.require(by, "boil.plan", anywhere=True)
    locked = Batch.objects.select_for_update().select_related("pan__season", "boil_day").get(pk=batch.pk)
    _must_be_open(locked)
    lock([locked.pan])
    in_pan = balance_ml(locked.pan)
    if syrup_ml > in_pan:
        raise Refused([Reason(code="more-than-in", fact=_("More syrup than the sap that went into the pan."))])
    if syrup_ml == 0 and not loss_reason.strip():
        raise Refused([Reason(code="reason", fact=_("No syrup: write what happened to the batch."))])
    closed_at = closed_at or timezone.now()
    moves = []
    if syrup_ml:
        locked.lot = Vessel.objects.create(
            kind=VesselKind.LOT, season=locked.pan.season, code=f"lot {locked.pan.code.removeprefix('pan ')}"
        )
        moves.append(
            Move(volume_ml=syrup_ml, cause=Cause.MOVED, source=locked.pan, target=locked.lot, sugar_brix=syrup_brix)
        )
        locked.state = BatchState.CLOSED
    else:
        locked.state = BatchState.LOST
    if in_pan - syrup_ml:
        cause = Cause.EVAPORATED if syrup_ml else Cause.LOST
        moves.append(Move(volume_ml=in_pan - syrup_ml, cause=cause, source=locked.pan))
    post(
        kind=ActKind.DRAW_OFF,
        season=locked.pan.season,
        author=by,
        happened_at=closed_at,
        moves=moves,
        reason=loss_reason,
        origin_kind=ORIGIN,
        origin_uuid=locked.pk,
    )
    locked.syrup_brix, locked.closed_at, locked.closed_by = syrup_brix, closed_at, by
    locked.loss_reason, locked.note = loss_reason.strip(), note.strip()
    locked.save()
    record(by=by, act="close batch", subject=locked, new={"syrup_ml": syrup_ml}, reason=loss_reason)
    return locked
