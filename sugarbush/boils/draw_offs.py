"""What leaves a pan: syrup drawn off into lots, and what boiled over, scorched or was spilled."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.looks import held_open, note_look, seen_before
from sugarbush.boils.models import Batch
from sugarbush.boils.models_pan import DrawOff, PanReading
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "batch"
LOSSES = ("boil-over", "scorched", "spilled", "sample")


def next_lot_code(season: Season) -> str:
    """The next free lot code of a season, such as 26-014: the year's last two digits and a running number.

    Digits alone, so that nobody takes a letter for another when a code is read out over the telephone.
    """
    year = f"{season.year % 100:02d}"
    codes = Vessel.objects.filter(kind=VesselKind.LOT, code__startswith=f"{year}-").values_list("code", flat=True)
    taken = [int(found[1]) for code in codes if (found := re.fullmatch(rf"{year}-(\d{{3,}})", code))]
    return f"{year}-{max(taken, default=0) + 1:03d}"


@transaction.atomic
def new_lot(season: Season) -> Vessel:
    """An empty lot with a code of its own. The season's row is held, so that two lots never share one."""
    Season.objects.select_for_update().get(pk=season.pk)
    return Vessel.objects.create(kind=VesselKind.LOT, season=season, code=next_lot_code(season))


def open_lots(season: Season) -> list[Vessel]:
    """Lots of the season that still take syrup, the newest first."""
    return list(Vessel.objects.filter(kind=VesselKind.LOT, season=season, shut_at=None).order_by("-made_at"))


def _too_much() -> Refused:
    fact = _("More syrup than the sap that went into the pan.")
    return Refused([Reason(code="more-than-in", fact=fact, next_text=_("Look at the amount and its unit"))])


def _fits(lot: Vessel, season: Season) -> None:
    if lot.kind != VesselKind.LOT or lot.season_id != season.pk:
        raise Refused([Reason(code="no-lot", fact=_("That is no lot of this season."), next_text=_("Choose another"))])


@transaction.atomic
def draw_off(
    *,
    batch: Batch,
    by: Person,
    syrup_ml: int,
    syrup_brix: Decimal | None = None,
    temperature_c: Decimal | None = None,
    lot: Vessel | None = None,
    filter_ml: int = 0,
    at: dt.datetime | None = None,
    token: uuid.UUID | None = None,
) -> DrawOff:
    """Syrup from the pan into a new lot, or into one that is not packed yet; what the filter kept beside it.

    token: the form's own number; sent again, the first draw-off stands and nothing more is posted.
    """
    access.require(by, "boil.plan", anywhere=True)
    token = token or uuid.uuid4()
    again = DrawOff.objects.select_for_update().filter(pk=token, batch=batch).first()
    if again:
        return again
    held = held_open(batch, token)
    if held is None:
        return DrawOff.objects.get(pk=token)
    season, at = held.pan.season, at or timezone.now()
    lock([held.pan])
    if syrup_ml + filter_ml > balance_ml(held.pan):
        raise _too_much()
    target = lot or new_lot(season)
    _fits(target, season)
    moves = [Move(volume_ml=syrup_ml, cause=Cause.MOVED, source=held.pan, target=target, sugar_brix=syrup_brix)]
    if filter_ml:
        moves.append(Move(volume_ml=filter_ml, cause=Cause.FILTER, source=held.pan, sugar_brix=syrup_brix))
    act = post(
        kind=ActKind.DRAW_OFF,
        season=season,
        author=by,
        happened_at=at,
        moves=moves,
        origin_kind=ORIGIN,
        origin_uuid=held.pk,
    )
    drawn = DrawOff.objects.create(
        pk=token,
        batch=held,
        lot=target,
        act=act,
        volume_ml=syrup_ml,
        temperature_c=temperature_c,
        syrup_brix=syrup_brix,
        happened_at=at,
        author=by,
    )
    if lot is None and held.lot is None:
        held.lot = target
    if syrup_brix is not None:
        held.syrup_brix = syrup_brix
    held.save()
    note_look(batch=held, by=by, at=at, token=token, note=_("syrup drawn off"))
    record(by=by, act="draw off syrup", subject=held, new={"syrup_ml": syrup_ml, "lot": target.code})
    return drawn


@transaction.atomic
def lose(
    *,
    batch: Batch,
    by: Person,
    volume_ml: int,
    cause: str,
    note: str = "",
    at: dt.datetime | None = None,
    token: uuid.UUID | None = None,
) -> PanReading:
    """What boiled over, scorched, was spilled or taken as a sample: lost, with its cause and litres."""
    access.require(by, "boil.plan", anywhere=True)
    if cause not in LOSSES:
        raise ValueError(f"{cause!r} is no way to lose sap")
    token = token or uuid.uuid4()
    held = held_open(batch, token)
    if held is None:
        return seen_before(batch, token)
    at = at or timezone.now()
    last = held.readings.exclude(sugar_brix=None).order_by("-happened_at").first()
    move = Move(
        volume_ml=volume_ml,
        cause=Cause.LOST,
        source=held.pan,
        sugar_brix=last.sugar_brix if last else None,
        detail=cause,
    )
    post(
        kind=ActKind.DRAW_OFF,
        season=held.pan.season,
        author=by,
        happened_at=at,
        moves=[move],
        reason=note.strip() or cause,
        origin_kind=ORIGIN,
        origin_uuid=held.pk,
    )
    record(by=by, act="lose from pan", subject=held, reason=note.strip(), new={"ml": volume_ml, "cause": cause})
    return note_look(batch=held, by=by, at=at, token=token, note=f"{cause} {note}".strip())
