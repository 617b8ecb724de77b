"""Taking back what was written of an open batch by mistake: sap put in, syrup drawn off, something lost.

Nothing is deleted: an act of its own moves the same litres the other way, with the reason, and both stay on the record.
"""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.boils.draw_offs import ORIGIN
from sugarbush.boils.looks import held_open, note_look
from sugarbush.boils.models import Batch
from sugarbush.boils.models_pan import DrawOff
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.parts.wording import volume_words
from sugarbush.sap.ledger import balances_ml, lock, post, undo_of
from sugarbush.sap.models import Act, ActKind, Movement, VesselKind
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

KINDS = (ActKind.BOIL, ActKind.DRAW_OFF)


def moves_of(act: Act) -> list[Movement]:
    """Its movements that still stand, as they were posted; two queries."""
    rows = list(act.movements.filter(reverses=None).select_related("from_vessel", "to_vessel").order_by("seq"))
    undone = set(Movement.objects.filter(reverses__in=rows).values_list("reverses_id", flat=True))
    return [row for row in rows if row.seq not in undone]


def may_go_back(act: Act, batch: Batch) -> bool:
    """Whether this is an act of the batch that its record may take back."""
    return act.origin_kind == ORIGIN and act.origin_uuid == batch.pk and act.kind in KINDS


def why_not(moves: list[Movement], reader: Person) -> list[Reason]:
    """What keeps these movements from being taken back: their litres are not where they went any more."""
    into = {move.to_vessel.pk: move.to_vessel for move in moves if move.to_vessel is not None}
    held = balances_ml(list(into.values()))
    reasons = []
    for pk, vessel in into.items():
        back_ml = sum(move.volume_ml for move in moves if move.to_vessel_id == pk)
        if vessel.kind == VesselKind.LOT and vessel.shut_at is not None:
            reasons.append(
                Reason(
                    code="packed",
                    fact=_("Lot %(lot)s is packed.") % {"lot": vessel},
                    detail=_("Open its jars again first; then the syrup can go back into the pan."),
                    next_text=_("See the lots"),
                    next_url=reverse("lots"),
                )
            )
        elif held[pk] < back_ml:
            words = {
                "vessel": vessel,
                "here": volume_words(held[pk], reader.units, exact=True),
                "back": volume_words(back_ml, reader.units, exact=True),
            }
            reasons.append(
                Reason(
                    code="gone-on",
                    fact=_("%(vessel)s holds %(here)s; %(back)s would have to come out of it.") % words,
                    detail=_("Take back first what left it since."),
                )
            )
    return reasons


@transaction.atomic
def take_back(
    *,
    batch: Batch,
    act: Act,
    by: Person,
    reason: str,
    at: dt.datetime | None = None,
    token: uuid.UUID | None = None,
    overfill_reason: str = "",
) -> None:
    """Move the litres of one act of an open batch back to where they came from.

    token: the form's own number; sent again, nothing more is posted. Raises Refused for a closed batch, for an act
    that was taken back before, without a reason, and where the litres have gone on since.
    """
    access.require(by, "boil.plan", anywhere=True)
    token, at = token or uuid.uuid4(), at or timezone.now()
    held = held_open(batch, token)
    if held is None:
        return
    if not may_go_back(act, held):
        raise Refused([Reason(code="not-here", fact=_("That was not written of this batch."))])
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write what was wrong, in a sentence."))])
    moves = moves_of(act)
    lock([vessel for move in moves for vessel in (move.from_vessel, move.to_vessel) if vessel is not None])
    moves = moves_of(act)  # as they stand now that nobody else can change them
    if not moves:
        raise Refused([Reason(code="before", fact=_("That was taken back already."))])
    against = why_not(moves, by)
    if against:
        raise Refused(against)
    undone = post(
        kind=ActKind.CORRECT,
        season=held.pan.season,
        author=by,
        happened_at=at,
        moves=[undo_of(move) for move in reversed(moves)],
        reason=reason.strip(),
        origin_kind=ORIGIN,
        origin_uuid=held.pk,
        overfill_reason=overfill_reason,
    )
    DrawOff.objects.filter(act=act).update(taken_back=undone)
    left = held.draw_offs.standing().order_by("-happened_at", "-recorded_at").first()
    if not held.draw_offs.standing().filter(lot=held.lot).exists():
        held.lot = None
    held.syrup_brix = left.syrup_brix if left else None
    held.save()
    note_look(batch=held, by=by, at=at, token=token, note=_("taken back: %(what)s") % {"what": reason.strip()})
    record(
        by=by,
        act="take back at the pan",
        subject=held,
        reason=reason.strip(),
        old={"act": str(act.pk), "kind": act.kind, "ml": sum(move.volume_ml for move in moves)},
    )
