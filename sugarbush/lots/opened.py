"""Jars that are opened again: their syrup is packed anew, or goes back into a pan."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.lots import judging
from sugarbush.lots.jars import hold_lot, whole
from sugarbush.lots.models import JarCount, Lot, LotState
from sugarbush.lots.packing import ORIGIN
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


@transaction.atomic
def open_again(*, lot: Lot, by: Person, reason: str) -> Lot:
    """Open all jars of a lot that is not released: the syrup is in its vessel again, to reheat, thin or boil on.

    The jars count as opened, so that filled, opened and whole still add up when it is packed again.
    """
    access.require(by, "lot.pack", anywhere=True)
    held = hold_lot(lot)
    judging.must_be_here(held)
    if judging.is_opened(held):
        return held
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why the jars are opened, in a sentence."))])
    jars = whole([held])[held.pk]
    JarCount.objects.filter(lot=held).update(broken=F("filled"))
    held.held_because = [*(code for code in held.held_because if code != judging.OPENED), judging.OPENED]
    held.state = LotState.HELD
    held.save()
    held.vessel.shut_at = None
    held.vessel.save(update_fields=["shut_at"])
    record(by=by, act="open jars again", subject=held, reason=reason, new={str(k): v for k, v in jars.items()})
    return held


@transaction.atomic
def pour_back(
    *, lot: Lot, pan: Vessel, by: Person, volume_ml: int | None = None, happened_at: dt.datetime | None = None
) -> Lot:
    """Pour the syrup of opened jars back into a pan that is boiling; all of it unless a volume is given."""
    access.require(by, "lot.pack", anywhere=True)
    held = hold_lot(lot)
    if not judging.is_opened(held):
        raise Refused([Reason(code="shut", fact=_("Open the jars first."), next_url=url("lot", held.pk))])
    if pan.kind != VesselKind.PAN or pan.season_id != held.season_id:
        raise Refused([Reason(code="pan", fact=_("Choose a batch that is boiling."))])
    left_ml = balance_ml(held.vessel)
    poured_ml = left_ml if volume_ml is None else volume_ml
    if poured_ml <= 0:
        raise Refused([Reason(code="empty", fact=_("Say how much is poured back."))])
    post(
        kind=ActKind.BOIL,
        season=held.season,
        author=by,
        happened_at=happened_at or timezone.now(),
        moves=[
            Move(
                volume_ml=poured_ml,
                cause=Cause.MOVED,
                source=held.vessel,
                target=pan,
                sugar_brix=held.syrup_brix,
                detail="poured back",
            )
        ],
        origin_kind=ORIGIN,
        origin_uuid=held.pk,
    )
    if poured_ml == left_ml:
        held.state, held.held_because = LotState.DESTROYED, [judging.POURED_BACK]
        held.save()
        held.vessel.shut_at = timezone.now()
        held.vessel.save(update_fields=["shut_at"])
    record(by=by, act="pour syrup back", subject=held, new={"ml": poured_ml, "pan": pan.code})
    return held
