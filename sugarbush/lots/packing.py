"""Packing a lot: every millilitre of the syrup is in a jar, in the heel, in the filter, or in a named difference."""

from __future__ import annotations

import datetime as dt
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.draw_offs import new_lot, next_lot_code
from sugarbush.core.syrup import colour_class
from sugarbush.lots import judging
from sugarbush.lots.models import Colour, JarCount, Lot
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import Move, balances_ml, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "lot"
LEAST_TOLERANCE_ML = 50
HEEL_NEXT, HEEL_TASTED, HEEL_THROWN = "next", "tasted", "thrown"


@dataclass(frozen=True, kw_only=True)
class Jars:
    """Jars of one size that were filled, and how many of them broke while packing."""

    size_ml: int
    filled: int
    broken: int = 0


@dataclass(frozen=True, kw_only=True)
class Pack:
    """What the bottler counted and measured."""

    jars: Sequence[Jars]
    heel_ml: int = 0
    heel_to: str = HEEL_NEXT
    heel_into: Vessel | None = None
    filter_ml: int = 0
    syrup_brix: Decimal | None = None
    reading: dict[str, Any] = field(default_factory=dict)
    fill_temperature_c: Decimal | None = None
    light_pct: Decimal | None = None
    colour: str = ""
    off_taste: str = ""
    explanation: str = ""
    note: str = ""

    @property
    def jars_ml(self) -> int:
        return sum(one.size_ml * one.filled for one in self.jars)

    @property
    def accounted_ml(self) -> int:
        return self.jars_ml + self.heel_ml + self.filter_ml


def tolerance_ml(season: Season, drawn_ml: int) -> int:
    """How far the jars may differ from the syrup by themselves: the season's share of it, 50 mL at least."""
    return max(int(drawn_ml * season.tolerance_pct / 100), LEAST_TOLERANCE_ML)


def to_pack(season: Season) -> list[tuple[Vessel, int]]:
    """Lot vessels with syrup that is in no jar: never packed, or with the jars opened again."""
    vessels = list(
        Vessel.objects.filter(season=season, kind=VesselKind.LOT, shut_at=None)
        .select_related("lot")
        .order_by("made_at", "code")
    )
    held = balances_ml(vessels)
    return [(vessel, held[vessel.pk]) for vessel in vessels if held[vessel.pk]]


def code_for(vessel: Vessel) -> str:
    """The lot's code: the vessel's own, as it was given at the pan; a new one for a vessel called otherwise."""
    if len(vessel.code) <= 12 and " " not in vessel.code and not Lot.objects.filter(code=vessel.code).exists():
        return vessel.code
    return next_lot_code(vessel.season)


@transaction.atomic
def pack(
    *,
    vessels: Sequence[Vessel],
    by: Person,
    packing: Pack,
    packed_at: dt.datetime | None = None,
    lot_id: uuids.UUID | None = None,
) -> Lot:
    """Pack the syrup of one vessel, or of several poured together into the first, as one lot.

    After it the vessel holds exactly its whole jars and is shut. Out of range, or not measured, the lot is held with
    the reason. A vessel whose jars were opened again is packed again as the same lot. The same lot_id gives the lot.
    """
    access.require(by, "lot.pack", anywhere=True)
    if not vessels:
        raise Refused([Reason(code="vessel", fact=_("Choose the syrup to pack."), next_url=url("lots"))])
    ids = list(dict.fromkeys(vessel.pk for vessel in vessels))
    # The season's row first, as where syrup is drawn off: a heel may need a lot with a code of its own.
    Season.objects.select_for_update().get(pk=vessels[0].season_id)
    lock([*vessels, *([packing.heel_into] if packing.heel_into else [])])
    found = {v.pk: v for v in Vessel.objects.filter(pk__in=ids).select_related("season", "lot")}
    main, *others = (found[pk] for pk in ids)
    earlier = Lot.objects.filter(pk=lot_id).first() if lot_id else None
    if earlier is not None and earlier.vessel_id == main.pk and main.shut_at is not None:
        return earlier
    _check(main, others, packing)
    held = balances_ml([main, *others])
    drawn_ml = sum(held.values())
    if not drawn_ml:
        raise Refused([Reason(code="empty", fact=_("%(vessel)s holds no syrup.") % {"vessel": main})])
    difference_ml = drawn_ml - packing.accounted_ml
    _check_difference(main.season, drawn_ml, difference_ml, packing, by)
    lot = _lot_of(main)
    again = lot is not None
    lot = lot or Lot(id=lot_id or uuids.uuid4(), vessel=main, season=main.season, code=code_for(main))
    packed_at = packed_at or timezone.now()
    moves = _moves(main, others, held, packing, difference_ml)
    if moves:  # none where all of it is in whole jars already
        post(
            kind=ActKind.BOTTLE,
            season=main.season,
            author=by,
            happened_at=packed_at,
            moves=moves,
            reason=packing.explanation.strip(),
            origin_kind=ORIGIN,
            origin_uuid=lot.pk,
        )
    if not again:
        lot.drawn_ml = drawn_ml
    lot.packed_at, lot.packed_by, lot.note = packed_at, by, packing.note.strip()
    lot.released_at = lot.released_by = None
    _measured(lot, packing)
    lot.save()
    _count(lot, packing.jars)
    main.code = lot.code
    for vessel in (main, *others):
        vessel.shut_at = packed_at
        vessel.save(update_fields=["shut_at", "code"])
    record(
        by=by,
        act="pack lot again" if again else "pack lot",
        subject=lot,
        reason=packing.explanation,
        new={
            "drawn_ml": drawn_ml,
            "jars": {str(one.size_ml): [one.filled, one.broken] for one in packing.jars},
            "heel_ml": packing.heel_ml,
            "filter_ml": packing.filter_ml,
            "difference_ml": difference_ml,
            "held": lot.held_because,
            "poured_together": [vessel.code for vessel in others],
        },
    )
    return lot


def _lot_of(vessel: Vessel) -> Lot | None:
    return Lot.objects.select_for_update(of=("self",)).select_related("season").filter(vessel=vessel).first()


def _check(main: Vessel, others: Sequence[Vessel], packing: Pack) -> None:
    reasons = []
    for vessel in (main, *others):
        if vessel.kind != VesselKind.LOT or vessel.season_id != main.season_id:
            reasons.append(Reason(code="vessel", fact=_("%(vessel)s is no syrup of this season.") % {"vessel": vessel}))
        elif vessel.shut_at is not None:
            lot = Lot.objects.filter(vessel=vessel).first()
            reasons.append(
                Reason(
                    code="packed",
                    fact=_("%(vessel)s is packed already.") % {"vessel": lot or vessel},
                    next_text=_("See the lot"),
                    next_url=url("lot", lot.pk) if lot else url("lots"),
                )
            )
    if any(hasattr(vessel, "lot") for vessel in others):
        reasons.append(
            Reason(code="opened", fact=_("Syrup of opened jars is packed by itself, so that its story stays whole."))
        )
    if packing.heel_into is not None and (
        packing.heel_into.shut_at is not None or packing.heel_into.pk in {v.pk for v in (main, *others)}
    ):
        reasons.append(Reason(code="heel", fact=_("The heel goes into syrup that is not packed yet.")))
    sizes = [one.size_ml for one in packing.jars]
    if not any(one.filled for one in packing.jars):
        reasons.append(Reason(code="no-jars", fact=_("Say how many jars were filled.")))
    if len(sizes) != len(set(sizes)):
        reasons.append(Reason(code="twice", fact=_("One jar size stands there twice; put them in one line.")))
    for one in packing.jars:
        if one.size_ml <= 0 or one.filled < 0 or not 0 <= one.broken <= one.filled:
            reasons.append(Reason(code="broken", fact=_("Not more jars can break than were filled.")))
    if packing.heel_ml < 0 or packing.filter_ml < 0:
        reasons.append(Reason(code="below", fact=_("Less than nothing can’t be. Write 0 or more.")))
    if packing.heel_ml and packing.heel_to not in {HEEL_NEXT, HEEL_TASTED, HEEL_THROWN}:
        reasons.append(Reason(code="heel", fact=_("Say where the heel went: next lot, tasted, or thrown away.")))
    if reasons:
        raise Refused(reasons)


def _check_difference(season: Season, drawn_ml: int, difference_ml: int, packing: Pack, by: Person) -> None:
    """Within the tolerance the difference is posted by itself; beyond it somebody explains."""
    if abs(difference_ml) <= tolerance_ml(season, drawn_ml) or packing.explanation.strip():
        return
    words = {
        "drawn": volume_words(drawn_ml, by.units, exact=True),
        "counted": volume_words(packing.accounted_ml, by.units, exact=True),
        "over": volume_words(abs(difference_ml), by.units, exact=True),
        "tolerance": volume_words(tolerance_ml(season, drawn_ml), by.units, exact=True),
    }
    fact = (
        _("There were %(drawn)s to pack; jars, heel and filter make %(counted)s: %(over)s missing.")
        if difference_ml > 0
        else _("There were %(drawn)s to pack; jars, heel and filter make %(counted)s: %(over)s too much.")
    )
    raise Refused(
        [
            Reason(
                code="differs",
                fact=fact % words,
                detail=_("Up to %(tolerance)s counts as measuring difference.") % words,
                next_text=_("Count again, or write why they differ"),
            )
        ]
    )


def _moves(
    main: Vessel,
    others: Sequence[Vessel],
    held: dict[uuids.UUID, int],
    packing: Pack,
    difference_ml: int,
) -> list[Move]:
    brix = packing.syrup_brix
    moves = [
        Move(volume_ml=held[other.pk], cause=Cause.MOVED, source=other, target=main, sugar_brix=brix)
        for other in others
        if held[other.pk]
    ]
    broken_ml = sum(one.size_ml * one.broken for one in packing.jars)
    gone = [
        (Cause.FILTER, packing.filter_ml, "filter"),
        (Cause.LOST, broken_ml, "broken"),
        (Cause.LOST, packing.heel_ml if packing.heel_to == HEEL_TASTED else 0, "tasted"),
        (Cause.DESTROYED, packing.heel_ml if packing.heel_to == HEEL_THROWN else 0, "heel"),
        (Cause.MEASURED_UNDER, difference_ml, "packing"),
    ]
    if difference_ml < 0:
        moves.append(Move(volume_ml=-difference_ml, cause=Cause.MEASURED_OVER, target=main, detail="packing"))
    if packing.heel_ml and packing.heel_to == HEEL_NEXT:
        target = packing.heel_into or new_lot(main.season)
        moves.append(Move(volume_ml=packing.heel_ml, cause=Cause.MOVED, source=main, target=target, sugar_brix=brix))
    moves += [Move(volume_ml=ml, cause=cause, source=main, detail=word) for cause, ml, word in gone if ml > 0]
    return moves


def _count(lot: Lot, jars: Sequence[Jars]) -> None:
    for one in jars:
        if not one.filled:
            continue
        row, made = JarCount.objects.get_or_create(
            lot=lot, size_ml=one.size_ml, defaults={"filled": one.filled, "broken": one.broken}
        )
        if not made:
            JarCount.objects.filter(pk=row.pk).update(filled=F("filled") + one.filled, broken=F("broken") + one.broken)


def _measured(lot: Lot, packing: Pack) -> None:
    lot.syrup_brix, lot.reading = packing.syrup_brix, packing.reading
    lot.fill_temperature_c, lot.off_taste = packing.fill_temperature_c, packing.off_taste.strip()
    lot.light_pct, lot.by_eye = packing.light_pct, packing.light_pct is None
    lot.colour = Colour(colour_class(packing.light_pct)) if packing.light_pct is not None else packing.colour
    judging.judge_lot(lot)
