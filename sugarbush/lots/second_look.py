"""A second look at a packed lot: another reading, and its release by another person."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import AuditEvent, record
from sugarbush.lots import judging
from sugarbush.lots.jars import hold_lot, settle_state
from sugarbush.lots.models import Lot, LotState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

MEASURED_AGAIN = "measure lot again"


@transaction.atomic
def measure_again(
    *,
    lot: Lot,
    by: Person,
    reason: str,
    syrup_brix: Decimal | None = None,
    reading: dict[str, Any] | None = None,
    fill_temperature_c: Decimal | None = None,
    off_taste: str | None = None,
) -> Lot:
    """Another reading of a lot that is not released: density, filling temperature, taste. None leaves it as it is.

    The old numbers stay in the history. Who measured does not release.
    """
    access.require(by, "lot.pack", anywhere=True)
    held = hold_lot(lot)
    judging.must_be_here(held)
    if judging.is_opened(held):
        raise Refused([Reason(code="opened", fact=_("The jars are open: measure when you pack it again."))])
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write what was measured again and why, in a sentence."))])
    old = _shown(held)
    if syrup_brix is not None:
        held.syrup_brix, held.reading = syrup_brix, reading or {}
    if fill_temperature_c is not None:
        held.fill_temperature_c = fill_temperature_c
    if off_taste is not None:
        held.off_taste = off_taste.strip()
    judging.judge_lot(held)
    held.save()
    record(by=by, act=MEASURED_AGAIN, subject=held, reason=reason, old=old, new=_shown(held))
    return held


def _shown(lot: Lot) -> dict[str, Any]:
    return {
        "syrup_brix": str(lot.syrup_brix),
        "fill_temperature_c": str(lot.fill_temperature_c),
        "off_taste": lot.off_taste,
        "held": lot.held_because,
    }


@transaction.atomic
def release(*, lot: Lot, by: Person, happened_at: dt.datetime | None = None) -> Lot:
    """Release a lot; by another person than who packed or measured it, and only in range."""
    access.require(by, "lot.release", anywhere=True)
    held = hold_lot(lot)
    if held.state in {LotState.RELEASED, LotState.ISSUED}:
        return held
    why = why_not_released(held, by)
    if why:
        raise Refused(why)
    held.released_by, held.released_at = by, happened_at or timezone.now()
    held.state = LotState.RELEASED
    held.save()
    settle_state(held)  # where every jar broke there is nothing to hand out
    record(by=by, act="release lot", subject=held, new=_shown(held))
    return held


def why_not_released(lot: Lot, by: Person) -> list[Reason]:
    """What stands between this lot and its release by this person."""
    if lot.state not in {LotState.HELD, LotState.PACKED}:
        return [
            Reason(
                code=lot.state,
                fact=_("Lot %(lot)s is %(state)s.") % {"lot": lot.code, "state": lot.get_state_display()},
            )
        ]
    codes = judging.judge(
        lot.season,
        syrup_brix=lot.syrup_brix,
        fill_temperature_c=lot.fill_temperature_c,
        off_taste=lot.off_taste,
    )
    codes += [judging.OPENED] if judging.is_opened(lot) else []
    reasons = judging.reasons(lot, codes, by.units)
    why = access.why_not(by, "lot.release", anywhere=True)
    if why:
        reasons.append(Reason(code="person", fact=_("You may not release it."), detail=why))
    elif lot.packed_by_id == by.pk:
        reasons.append(
            Reason(
                code="own",
                fact=_("You packed this lot."),
                next_text=_("Ask a second person with food handling to look and release it"),
            )
        )
    elif measured_by(lot, by):
        reasons.append(
            Reason(
                code="own",
                fact=_("You measured this lot."),
                next_text=_("Ask another person with food handling to look and release it"),
            )
        )
    return reasons


def measured_by(lot: Lot, person: Person) -> bool:
    """Whether this person wrote down a second reading since it was packed."""
    return AuditEvent.objects.filter(
        subject_kind=Lot._meta.label_lower, subject_id=str(lot.pk), act=MEASURED_AGAIN, by=person, at__gte=lot.packed_at
    ).exists()
