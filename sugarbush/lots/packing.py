"""Packing a lot: every millilitre of the syrup is in a jar, in the heel, in the filter, or in a named difference."""

from __future__ import annotations

import datetime as dt
import uuid as uuids
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import AuditEvent, record
from sugarbush.boils.draw_offs import new_lot, next_lot_code
from sugarbush.core.syrup import colour_class
from sugarbush.lots import judging
from sugarbush.lots.jars import hold_lot, out, settle_state, whole
from sugarbush.lots.models import Colour, JarCount, Lot, LotState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import Move, balance_ml, balances_ml, lock, post
from sugarbush.sap.models import ActKind, Cause, Vessel, VesselKind
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "lot"
LEAST_TOLERANCE_ML = 50
HEEL_NEXT, HEEL_TASTED, HEEL_THROWN = "next", "tasted", "thrown"
MEASURED_AGAIN = "measure lot again"


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
    _judge(lot)


def _judge(lot: Lot) -> None:
    lot.held_because = judging.judge(
        lot.season,
        syrup_brix=lot.syrup_brix,
        fill_temperature_c=lot.fill_temperature_c,
        off_taste=lot.off_taste,
    )
    lot.state = LotState.HELD if lot.held_because else LotState.PACKED


def _must_be_here(lot: Lot) -> None:
    """Only a lot of which nothing was released can be measured again or opened."""
    if lot.state not in {LotState.HELD, LotState.PACKED}:
        raise Refused(
            [
                Reason(
                    code=lot.state,
                    fact=_("Lot %(lot)s is %(state)s.") % {"lot": lot.code, "state": lot.get_state_display()},
                    detail=_("Only a lot that is not released yet can be measured again or opened."),
                )
            ]
        )


def is_opened(lot: Lot) -> bool:
    return judging.OPENED in lot.held_because


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
    _must_be_here(held)
    if is_opened(held):
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
    _judge(held)
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
def open_again(*, lot: Lot, by: Person, reason: str) -> Lot:
    """Open all jars of a lot that is not released: the syrup is in its vessel again, to reheat, thin or boil on.

    The jars count as opened, so that filled, opened and whole still add up when it is packed again.
    """
    access.require(by, "lot.pack", anywhere=True)
    held = hold_lot(lot)
    _must_be_here(held)
    if is_opened(held):
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
    if not is_opened(held):
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
    codes += [judging.OPENED] if is_opened(lot) else []
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


def jars_that_do_not_add_up(season: Season) -> list[tuple[Lot, int, int]]:
    """Lots whose vessel does not hold exactly its whole jars: (lot, vessel mL, jars mL). For the nightly look."""
    lots = list(
        Lot.objects.filter(season=season).exclude(vessel__shut_at=None).select_related("vessel").order_by("code")
    )
    held, stand = balances_ml([lot.vessel for lot in lots]), whole(lots)
    bad = []
    for lot in lots:
        jars_ml = sum(size * count for size, count in stand[lot.pk].items())
        if held[lot.vessel_id] != jars_ml:
            bad.append((lot, held[lot.vessel_id], jars_ml))
    return bad


def went_out(lots: Sequence[Lot]) -> dict[uuids.UUID, int]:
    """Jars of each lot that are out now."""
    sums: dict[uuids.UUID, int] = defaultdict(int)
    for (lot_id, _size), count in out(lots).items():
        sums[lot_id] += count
    return sums
