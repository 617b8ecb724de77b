"""Changing a visit, taking it back, settling it. Every litre goes through the ledger. Logging one: visits.py."""

from __future__ import annotations

from dataclasses import asdict

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.gathering import doubts, rebalance
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.gathering.visits import (
    ORIGIN,
    AskAgain,
    Told,
    Visit,
    check_visit,
    log_visit,
    log_visits,
    moves_of,
    posting,
)
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, hands_of, lock, post_all, undo_of
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel
from sugarbush.trees import shown
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

__all__ = [
    "ORIGIN",
    "AskAgain",
    "Told",
    "Visit",
    "change_visit",
    "check_visit",
    "is_same_day",
    "log_visit",
    "log_visits",
    "may_change",
    "moves_of",
    "settle",
    "standing_movements",
]


def standing_movements(entry: Collection) -> list[Movement]:
    """The movements of this entry that nothing has taken back.

    A correction of an entry may also have replaced the difference of a delivery; that one is the delivery's, not ours.
    """
    rows = Movement.objects.filter(act__origin_kind=ORIGIN, act__origin_uuid=entry.pk, reverses=None, reversed_by=None)
    rows = rows.filter(cause__in=(Cause.OUT_OF_TREE, Cause.RAIN_KEPT, Cause.DISCARDED))
    return list(rows.select_related("from_vessel", "to_vessel", "act").order_by("seq"))


def is_same_day(entry: Collection) -> bool:
    return timezone.localdate(entry.recorded_at) == timezone.localdate()


def may_change(entry: Collection, by: Person) -> str:
    """Why this person may not change the entry, or an empty string."""
    if entry.season.is_closed:
        return _("The season is closed.")
    if entry.state == CollectionState.VOID:
        return _("This entry was taken back.")
    if entry.person_id == by.pk:
        return access.why_not(by, "collection.log", group_id=entry.group_id)
    return access.why_not(by, "collection.settle", group_id=entry.group_id)


@transaction.atomic
def change_visit(
    *,
    entry: Collection,
    by: Person,
    visit: Visit | None,
    reason: str = "",
    edition: int | None = None,
    confirmed: bool = False,
) -> Collection:
    """Change an entry, or with visit=None take it back. The old movements are reversed and new ones posted, as one act.

    The same day, the person themselves need give no reason; later, or for somebody else's entry, one is needed. Where
    hands would fall below zero because the sap is delivered already, the difference of that delivery is replaced in
    the same act and explained by the reason.
    """
    rows = Collection.objects.select_for_update(of=("self",)).select_related("tree", "season", "person", "group")
    locked = rows.get(pk=entry.pk)
    hands = hands_of(locked.person, locked.season)
    lock([hands])
    why = may_change(locked, by)
    if why:
        raise Refused([Reason(code="not-yours", fact=why)])
    if edition is not None and edition != locked.edition:
        raise Refused([Reason(code="moved-on", fact=_("Somebody changed this entry meanwhile. Look at it again."))])
    own_today = is_same_day(locked) and locked.person_id == by.pk
    if not own_today and not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence. The old number stays in the history."))])
    if visit is not None:
        check_visit(visit)
        facts = doubts.facts_of(locked.tree, locked.season)
        questions = doubts.odd_numbers(
            facts=facts,
            season=locked.season,
            when=locked.happened_at,
            volume_ml=visit.volume_ml,
            sugar_brix=visit.sugar_brix,
            units=by.units,
        )
        if questions and not (confirmed and visit.note.strip()):
            raise AskAgain(questions)
    old = {name: str(getattr(locked, name)) for name in ("outcome", "volume_ml", "discarded_ml", "sugar_brix")}
    moves = [undo_of(movement) for movement in reversed(standing_movements(locked))]
    if visit is None:
        locked.state = CollectionState.VOID
    else:
        moves += moves_of(visit, hands)
        for name, value in asdict(visit).items():
            setattr(locked, name, value)
    _settle_moves(locked, moves, hands, by=by, reason=reason.strip() or _("same-day change"))
    if visit is None:
        # Taken back while to review: both halves must stand alike, or one of them would still count.
        Act.objects.filter(origin_kind=ORIGIN, origin_uuid=locked.pk).update(standing=Standing.COUNTED)
    locked.edition += 1
    locked._change_reason = reason[:100] or None  # type: ignore[attr-defined]  # read by simple_history
    locked.save()
    record(
        by=by,
        act="change collection" if visit else "take back collection",
        subject=locked,
        reason=reason,
        old=old,
        new=asdict(visit) | {"sugar_brix": str(visit.sugar_brix), "temperature_c": str(visit.temperature_c)}
        if visit
        else {},
        group_id=locked.group_id,
    )
    shown.refresh([locked.tree_id])
    return locked


def _settle_moves(entry: Collection, moves: list[Move], hands: Vessel, *, by: Person, reason: str) -> None:
    """Post a correction; where the sap has gone on to a depot already, replace that delivery's difference with it."""
    missing_ml = rebalance.missing_ml(hands, moves)
    if missing_ml:
        moves = moves + rebalance.delivery_moves(hands, missing_ml)
    if moves:
        post_all([posting(entry, moves, by=by, kind=ActKind.CORRECT, reason=reason)], season=entry.season)
    if missing_ml:
        rebalance.tell(hands, missing_ml, reason, by)


@transaction.atomic
def settle(*, entry: Collection, by: Person, verdict: str, note: str) -> Collection:
    """Settle an entry to review, never one's own.

    verdict: "counts", "never" (it never happened: reversed) or "not_ours" (it is real: tipped out from where it is).
    """
    rows = Collection.objects.select_for_update(of=("self",)).select_related("tree", "season", "person", "group")
    locked = rows.get(pk=entry.pk)
    access.require(by, "collection.settle", group_id=locked.group_id)
    if locked.state != CollectionState.REVIEW:
        raise Refused([Reason(code="settled", fact=_("This entry is settled already."))])
    if locked.person_id == by.pk:
        raise Refused([Reason(code="own", fact=_("Somebody else has to settle your own entry."))])
    if not note.strip():
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence."))])
    hands = hands_of(locked.person, locked.season)
    lock([hands])
    acts = Act.objects.filter(origin_kind=ORIGIN, origin_uuid=locked.pk)
    if verdict == "counts":
        locked.state = CollectionState.COUNTED
        acts.update(standing=Standing.COUNTED)
    elif verdict == "never":
        moves = [undo_of(movement) for movement in reversed(standing_movements(locked))]
        locked.state = CollectionState.VOID
        _settle_moves(locked, moves, hands, by=by, reason=note)
        acts.update(standing=Standing.COUNTED)
    elif verdict == "not_ours":
        locked.state = CollectionState.VOID
        rebalance.tip_out(locked, hands, by=by, reason=note, net_ml=locked.net_ml)
        acts.update(standing=Standing.NOT_OURS)
    else:
        raise ValueError(verdict)
    locked.settled_by, locked.settled_note = by, note.strip()
    locked.edition += 1
    locked.save()
    record(by=by, act=f"settle collection: {verdict}", subject=locked, reason=note, group_id=locked.group_id)
    shown.refresh([locked.tree_id])
    return locked
