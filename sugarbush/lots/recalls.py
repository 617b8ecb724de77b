"""Calling jars back: which lots, how sure, whom to ring, and when it is over."""

from __future__ import annotations

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.audit.models import record
from sugarbush.gathering.models import Collection
from sugarbush.lots.jars import hold_lot, out, settle_state, whole
from sugarbush.lots.models import JarIssue, Lot, LotState, Recall, RecallCall, RecallLot
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person


@transaction.atomic
def open_recall(
    *,
    season: Season,
    lots: Mapping[Lot, Decimal | None],
    reason: str,
    by: Person,
    collection: Collection | None = None,
    uuid: uuids.UUID | None = None,
) -> Recall:
    """Call lots back, each with the share the suspect sap makes up (None: the lot itself is meant).

    From now on nothing of them goes out. The same uuid gives the recall there is.
    """
    access.require(by, "recall.open", anywhere=True)
    Season.objects.select_for_update().get(pk=season.pk)
    uuid = uuid or uuids.uuid4()
    earlier = Recall.objects.filter(pk=uuid).first()
    if earlier is not None:
        return earlier
    reasons = []
    if not reason.strip():
        reasons.append(Reason(code="reason", fact=_("Write why the jars are called back, in a sentence.")))
    if not lots:
        reasons.append(Reason(code="lots", fact=_("Choose at least one lot."), next_url=url("lots")))
    taken = RecallLot.objects.filter(lot__in=list(lots), recall__closed_at=None).select_related("lot", "recall")
    reasons += [
        Reason(
            code="twice",
            fact=_("Lot %(lot)s is called back already.") % {"lot": row.lot.code},
            next_text=_("See the recall"),
            next_url=url("recall", row.recall_id),
        )
        for row in taken
    ]
    if reasons:
        raise Refused(reasons)
    number = (Recall.objects.filter(season=season).aggregate(last=Max("number"))["last"] or 0) + 1
    recall = Recall.objects.create(
        id=uuid, number=number, season=season, reason=reason.strip(), collection=collection, opened_by=by
    )
    for lot, part in sorted(lots.items(), key=lambda one: one[0].pk):
        held = hold_lot(lot)
        RecallLot.objects.create(
            recall=recall, lot=held, part=None if part is None else part.quantize(Decimal("0.000001"))
        )
        if held.state != LotState.DESTROYED:
            held.state = LotState.RECALLED
            held.save()
    record(by=by, act="open recall", subject=recall, reason=reason, new={"lots": [lot.code for lot in lots]})
    return recall


@dataclass
class Holder:
    """Somebody who has jars of a called-back lot, and whether they were told."""

    issue: JarIssue
    out: int
    calls: list[RecallCall]

    @property
    def is_reached(self) -> bool:
        return any(call.reached for call in self.calls)

    @property
    def is_done(self) -> bool:
        """Nothing more to do: told, tried, or all jars are back."""
        return self.out == 0 or bool(self.calls)


def holders(recall: Recall) -> list[Holder]:
    """Everybody who was given jars of these lots; four queries, however many."""
    lots = recall.lots.values_list("lot", flat=True)
    issues = list(
        JarIssue.objects.filter(lot__in=lots, returns=None)
        .select_related("lot", "person", "owner")
        .prefetch_related("returned_by")
        .order_by("lot__code", "happened_at")
    )
    calls: dict[uuids.UUID, list[RecallCall]] = {}
    for call in recall.calls.select_related("author").order_by("called_at"):
        calls.setdefault(call.issue_id, []).append(call)
    return [
        Holder(
            issue=issue,
            out=issue.count - sum(back.count for back in issue.returned_by.all()),
            calls=calls.get(issue.pk, []),
        )
        for issue in issues
    ]


@transaction.atomic
def tick_off(*, recall: Recall, issue: JarIssue, by: Person, reached: bool, note: str = "") -> RecallCall:
    """Write down that a holder was told, or was tried in vain."""
    access.require(by, "recall.call", anywhere=True)
    locked = Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    if locked.closed_at is not None:
        raise Refused([Reason(code="closed", fact=_("This recall is over."))])
    if not locked.lots.filter(lot=issue.lot_id).exists():
        raise Refused([Reason(code="other", fact=_("These jars are of a lot that is not called back here."))])
    if not reached and not note.strip():
        raise Refused([Reason(code="note", fact=_("Not reached: write how you tried, in a few words."))])
    last = locked.calls.filter(issue=issue).order_by("called_at").last()
    if last is not None and (last.reached, last.note, last.author_id) == (reached, note.strip(), by.pk):
        return last  # the form was sent twice
    return RecallCall.objects.create(recall=locked, issue=issue, reached=reached, note=note.strip(), author=by)


def why_not_closed(recall: Recall, people: list[Holder] | None = None) -> list[Reason]:
    """What keeps a recall from ending: a holder nobody tried, or whole jars that still stand here."""
    reasons = []
    waiting = [one for one in (holders(recall) if people is None else people) if not one.is_done]
    if waiting:
        fact = ngettext(
            "%(n)d holder was not told and not tried.", "%(n)d holders were not told and not tried.", len(waiting)
        )
        reasons.append(
            Reason(code="calls", fact=fact % {"n": len(waiting)}, next_text=_("Ring them and tick them off"))
        )
    return reasons


@transaction.atomic
def close_recall(*, recall: Recall, by: Person, outcome: str, safe: bool = False) -> Recall:
    """End a recall with its outcome. safe: it was a false alarm, the lots stand as before.

    Otherwise no whole jar may stand here any more: what came back was destroyed.
    """
    access.require(by, "recall.close", anywhere=True)
    locked = Recall.objects.select_for_update(of=("self",)).select_related("season").get(pk=recall.pk)
    if locked.closed_at is not None:
        return locked
    reasons = why_not_closed(locked)
    if not outcome.strip():
        reasons.append(Reason(code="outcome", fact=_("Write how it ended, in a sentence.")))
    lots = [hold_lot(row.lot) for row in locked.lots.select_related("lot").order_by("lot_id")]
    stand = whole(lots)
    left = [lot for lot in lots if any(stand[lot.pk].values())]
    if not safe and left:
        reasons.append(
            Reason(
                code="here",
                fact=_("Whole jars of %(lots)s still stand here.") % {"lots": ", ".join(lot.code for lot in left)},
                next_text=_("Destroy them, or say that the lots are safe after all"),
                next_url=url("lot", left[0].pk),
            )
        )
    if reasons:
        raise Refused(reasons)
    gone = out(lots)
    for lot in lots:
        if lot.state != LotState.RECALLED or _called_elsewhere(lot, locked):
            continue
        lot.state = _state_after(
            lot, any(stand[lot.pk].values()), any(n for (pk, _s), n in gone.items() if pk == lot.pk)
        )
        lot.save()
        settle_state(lot)
    locked.closed_at, locked.closed_by, locked.outcome = timezone.now(), by, outcome.strip()
    locked.save()
    record(by=by, act="close recall", subject=locked, reason=outcome, new={"safe": safe})
    return locked


def _called_elsewhere(lot: Lot, recall: Recall) -> bool:
    return RecallLot.objects.filter(lot=lot, recall__closed_at=None).exclude(recall=recall).exists()


def _state_after(lot: Lot, here: bool, is_out: bool) -> str:
    if lot.released_at is not None and (here or is_out):
        return LotState.RELEASED
    if not here:
        return LotState.DESTROYED
    return LotState.HELD if lot.held_because else LotState.PACKED
