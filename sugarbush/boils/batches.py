"""A batch: sap from tanks into the pan, syrup drawn off, the rest driven off as steam or lost."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.days import CHECKLIST, light, put_out, why_not_lit
from sugarbush.boils.draw_offs import ORIGIN, draw_off
from sugarbush.boils.keeping import keepings_of
from sugarbush.boils.looks import held_open, note_look
from sugarbush.boils.models import Batch, BatchState, BoilDay, BoilState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.sap.tanks import mixture_brix
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

__all__ = ["CHECKLIST", "add_sap", "close_batch", "light", "open_batch", "put_out", "why_not_lit"]

Takes = Sequence[tuple[Vessel, int]]


@transaction.atomic
def open_batch(
    *,
    day: BoilDay,
    by: Person,
    takes: Takes,
    opened_at: dt.datetime | None = None,
    batch_id: uuid.UUID | None = None,
    approver: Person | None = None,
    reason: str = "",
) -> Batch:
    """Start a batch with sap from tanks: (tank, millilitres) each. Never more than a tank holds.

    batch_id: the form's own number; sent again, the batch that is there is the answer.
    approver, reason: who lets sap past its boil-by into the pan, and why; kept only where some of it is.
    """
    access.require(by, "boil.plan", anywhere=True)
    held = BoilDay.objects.select_for_update(of=("self",)).select_related("season").get(pk=day.pk)
    before = Batch.objects.filter(pk=batch_id, boil_day=held).first() if batch_id else None
    if before:
        return before
    if held.state != BoilState.LIT:
        url = reverse("boil-day", args=[held.pk])
        raise Refused([Reason(code="not-lit", fact=_("The fire is not lit."), next_text=_("Light it"), next_url=url)])
    number = (held.batches.aggregate(last=Max("number"))["last"] or 0) + 1
    code = f"{held.day:%y%m%d}-{held.pk}-{number}"
    pan = Vessel.objects.create(kind=VesselKind.PAN, season=held.season, code=f"pan {code}")
    opened_at = opened_at or timezone.now()
    batch = Batch.objects.create(
        pk=batch_id or uuid.uuid4(), boil_day=held, number=number, pan=pan, opened_by=by, opened_at=opened_at
    )
    add_sap(batch=batch, by=by, takes=takes, at=opened_at, approver=approver, reason=reason)
    return batch


@transaction.atomic
def add_sap(
    *,
    batch: Batch,
    by: Person,
    takes: Takes,
    at: dt.datetime | None = None,
    token: uuid.UUID | None = None,
    approver: Person | None = None,
    reason: str = "",
) -> None:
    """Pour sap from tanks into the pan of an open batch. What was turned away is in no tank, so it never gets here."""
    access.require(by, "boil.plan", anywhere=True)
    token, at = token or uuid.uuid4(), at or timezone.now()
    held = held_open(batch, token)
    if held is None:
        return
    takes = [(tank, ml) for tank, ml in takes if ml > 0]
    if not _is_late(held, takes, at, by, approver, reason):
        approver, reason = None, ""
    lock([tank for tank, _ml in takes])
    moves = [
        Move(volume_ml=ml, cause=Cause.MOVED, source=tank, target=held.pan, sugar_brix=mixture_brix(tank))
        for tank, ml in takes
    ]
    post(
        kind=ActKind.BOIL,
        season=held.pan.season,
        author=by,
        happened_at=at,
        moves=moves,
        approver=approver,
        reason=reason.strip(),
        origin_kind=ORIGIN,
        origin_uuid=held.pk,
    )
    poured = {"ml": sum(ml for _tank, ml in takes), "tanks": [tank.code for tank, _ml in takes]}
    if approver:
        poured["approver"] = approver.pk
    record(by=by, act="put sap in pan", subject=held, new=poured, reason=reason.strip())
    note_look(batch=held, by=by, at=at, token=token, note=_("sap put in"))


def _is_late(batch: Batch, takes: Takes, at: dt.datetime, reader: Person, approver: Person | None, reason: str) -> bool:
    """Only from this season's tanks; past its boil-by only when somebody who may says why. Whether that was needed."""
    if not takes:
        raise Refused([Reason(code="no-sap", fact=_("Choose a tank and how much of it."))])
    if any(tank.kind != VesselKind.TANK or tank.season_id != batch.pan.season_id for tank, _ml in takes):
        raise Refused([Reason(code="no-tank", fact=_("Sap goes in a pan only from a tank of this season."))])
    late = [kept for kept in keepings_of([tank for tank, _ml in takes], at).values() if kept.is_late]
    if not late:
        return False
    if approver is None or not reason.strip():
        raise Refused([why for kept in late if (why := kept.refusal(reader.units))])
    if not access.holds(approver, "boil.plan"):
        fact = _("%(who)s may not decide that: it takes a coordinator or a boil lead.") % {"who": approver}
        raise Refused([Reason(code="approver", fact=fact, next_text=_("Name somebody who may"))])
    return True


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
    token: uuid.UUID | None = None,
) -> Batch:
    """Close a batch: a last draw-off into a lot of its own, where there is one; the rest of the pan is driven off.

    With a loss_reason the rest is lost, not steam; where nothing was ever drawn off, the batch is lost and its trail
    stays. syrup_ml=0 without draw-offs needs that reason. token: as draw_off.
    """
    access.require(by, "boil.plan", anywhere=True)
    token, closed_at = token or uuid.uuid4(), closed_at or timezone.now()
    held = held_open(batch, token)
    if held is None:
        return Batch.objects.get(pk=batch.pk)
    if syrup_ml:
        draw_off(batch=held, by=by, syrup_ml=syrup_ml, syrup_brix=syrup_brix, at=closed_at)
        held.refresh_from_db()
    lock([held.pan])
    left_ml, drawn, lost = balance_ml(held.pan), held.draw_offs.standing().exists(), bool(loss_reason.strip())
    if not drawn and not lost:
        fact = _("No syrup: write what happened to the batch.")
        raise Refused([Reason(code="reason", fact=fact, next_text=_("Or draw the syrup off first"))])
    if left_ml:
        post(
            kind=ActKind.DRAW_OFF,
            season=held.pan.season,
            author=by,
            happened_at=closed_at,
            moves=[Move(volume_ml=left_ml, cause=Cause.LOST if lost else Cause.EVAPORATED, source=held.pan)],
            reason=loss_reason.strip(),
            origin_kind=ORIGIN,
            origin_uuid=held.pk,
        )
    held.state = BatchState.CLOSED if drawn else BatchState.LOST
    held.syrup_brix = syrup_brix if syrup_brix is not None else held.syrup_brix
    held.closed_at, held.closed_by = closed_at, by
    held.loss_reason, held.note = loss_reason.strip(), note.strip()
    held.save()
    note_look(batch=held, by=by, at=closed_at, token=token, note=_("batch closed"))
    record(by=by, act="close batch", subject=held, new={"syrup_ml": syrup_ml}, reason=loss_reason)
    return held
