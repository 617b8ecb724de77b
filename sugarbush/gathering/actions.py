"""Logging a visit, changing it, taking it back, settling it. Every litre goes through the ledger."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.gathering import doubts, rebalance
from sugarbush.gathering.models import Collection, CollectionState, Outcome, Source
from sugarbush.kit.models import Container, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, hands_of, lock, post, undo_of
from sugarbush.sap.models import Act, ActKind, Cause, Movement, Standing, Vessel
from sugarbush.seasons.models import Season
from sugarbush.taps.actions import take_out
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.models import Tap
from sugarbush.trees import shown
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "collection"


@dataclass(frozen=True, kw_only=True)
class Visit:
    """What a person found, as they said it. Volumes in millilitres: out of the tree, of it tipped, rain kept."""

    outcome: str
    volume_ml: int = 0
    discarded_ml: int = 0
    discard_reason: str = ""
    rain_ml: int = 0
    sugar_brix: Decimal | None = None
    temperature_c: Decimal | None = None
    look: str = ""
    note: str = ""

    def digest(self, tree_id: int, happened_at: dt.datetime) -> str:
        """A hash of the whole entry, so that a repeat can be told from another entry under the same name."""
        body = {**asdict(self), "tree": tree_id, "at": happened_at.isoformat()}
        return hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()


class AskAgain(Refused):
    """Not refused for good: numbers that look odd; saved when the person says so with a note."""

    def __init__(self, questions: list[doubts.Doubt]) -> None:
        self.questions = questions
        super().__init__(Reason(code=d.code, fact=d.sentence) for d in questions)


def check_visit(visit: Visit) -> None:
    """Raises Refused for what cannot be, whatever a person says."""
    reasons = []
    if visit.outcome == Outcome.SAP and visit.volume_ml + visit.rain_ml == 0:
        reasons.append(Reason(code="volume", fact=_("Say how much sap, or choose “Empty”.")))
    if visit.outcome != Outcome.SAP and visit.outcome != Outcome.REMOVAL and visit.volume_ml + visit.rain_ml:
        reasons.append(Reason(code="volume", fact=_("Only “Sap” has litres.")))
    if visit.discarded_ml > visit.volume_ml + visit.rain_ml:
        reasons.append(Reason(code="discard", fact=_("More was tipped out than came out of the tree.")))
    if visit.discarded_ml and not visit.discard_reason:
        reasons.append(Reason(code="discard-reason", fact=_("Say why it was tipped out.")))
    if visit.sugar_brix is not None and not 0 <= visit.sugar_brix <= 12:
        reasons.append(Reason(code="brix", fact=_("Sap has 0 to 12 °Brix.")))
    if reasons:
        raise Refused(reasons)


def moves_of(visit: Visit | Collection, hands: Vessel) -> list[Move]:
    """The movements that one visit makes."""
    moves = []
    if visit.volume_ml:
        moves.append(
            Move(volume_ml=visit.volume_ml, cause=Cause.OUT_OF_TREE, target=hands, sugar_brix=visit.sugar_brix)
        )
    if visit.rain_ml:
        moves.append(Move(volume_ml=visit.rain_ml, cause=Cause.RAIN_KEPT, target=hands, sugar_brix=Decimal(0)))
    if visit.discarded_ml:
        moves.append(
            Move(
                volume_ml=visit.discarded_ml,
                cause=Cause.DISCARDED,
                source=hands,
                sugar_brix=visit.sugar_brix,
                detail=visit.discard_reason,
            )
        )
    return moves


@transaction.atomic
def log_visit(
    *,
    tree: Tree,
    by: Person,
    visit: Visit,
    happened_at: dt.datetime | None = None,
    entry_id: uuid.UUID | None = None,
    source: str = Source.PHONE,
    confirmed: bool = False,
    container: Container | None = None,
    tap: Tap | None = None,
    doubted: Sequence[str] | None = None,
    facts: TreeFacts | None = None,
) -> Collection:
    """Keep a visit. What the rules do not allow is kept too, put to review and not counted until settled.

    Raises AskAgain for odd numbers (once: confirmed=True with a note lets them stand), Refused for what cannot be.
    The same entry_id with the same body gives the entry that is there; with another body it is refused.
    doubted: given for an entry that was written without signal. It has happened and nobody can be asked back, so the
    caller has judged whose tree it was; these sentences, and odd numbers that were not explained, put it to review.
    facts: of this tree, where the caller has just read them for many entries at once.
    """
    check_visit(visit)
    season = facts.season if facts is not None else Season.current()
    if season is None or not (season.takes_taps or season.state == "ending"):
        raise Refused([Reason(code="season", fact=_("No season is running."))])
    if doubted is None:
        access.require(by, "collection.log", group_id=tree.group_id)
    happened_at = happened_at or timezone.now()
    entry_id = entry_id or uuid.uuid4()
    hands = hands_of(by, season)
    lock([hands])
    digest = visit.digest(tree.pk, happened_at)
    earlier = Collection.objects.filter(pk=entry_id).first()
    if earlier is not None:
        if earlier.body_hash == digest and earlier.person_id == by.pk:
            return earlier
        raise Refused([Reason(code="other-body", fact=_("Another entry was saved under this name already."))])
    facts = facts or doubts.facts_of(tree, season)
    questions = doubts.odd_numbers(
        facts=facts,
        season=season,
        when=happened_at,
        volume_ml=visit.volume_ml,
        sugar_brix=visit.sugar_brix,
        units=by.units,
    )
    # A visit without litres is one press; there is no number in it to explain.
    odd = questions if not (confirmed and (visit.note.strip() or visit.outcome != Outcome.SAP)) else []
    if odd and doubted is None:
        raise AskAgain(odd)
    reasons = doubts.review_reasons(facts=facts, when=happened_at, outcome=visit.outcome)
    reasons += [*(doubted or ()), *(question.sentence for question in odd)]
    if container is not None and container.food_safe == FoodSafe.NO:
        reasons.append(str(_("Pail %(code)s is not for food.") % {"code": container.code}))
    tap = tap or doubts.tap_in_at(facts, happened_at)
    entry = Collection.objects.create(
        id=entry_id,
        tree=tree,
        tap=tap,
        person=by,
        season=season,
        group=facts.assignment.group if facts.assignment else tree.group,
        container_id=container.pk if container else (tap.container_id if tap else None),
        source=source,
        state=CollectionState.REVIEW if reasons else CollectionState.COUNTED,
        review_reasons=reasons,
        body_hash=digest,
        happened_at=happened_at,
        **asdict(visit),
    )
    _post(entry, moves_of(visit, hands), by=by)
    pulled = visit.outcome == Outcome.REMOVAL and tap is not None and tap.spout_in
    # Somebody whose part has ended may have pulled it all the same: the entry is kept, another person looks.
    if pulled and tap is not None and not access.why_not(by, "tap.pull", group_id=tree.group_id):
        take_out(tap=tap, by=by, out_at=max(happened_at, tap.placed_at))
    if visit.outcome == Outcome.GONE or reasons:
        record(by=by, act=f"log {visit.outcome}", subject=entry, new={"reasons": reasons}, group_id=entry.group_id)
    if reasons:
        shown.refresh([tree.pk])
    return entry


def _post(
    entry: Collection, moves: list[Move], *, by: Person, kind: ActKind = ActKind.COLLECT, reason: str = ""
) -> None:
    if not moves:
        return
    post(
        kind=kind,
        season=entry.season,
        author=by,
        happened_at=entry.happened_at,
        moves=moves,
        reason=reason,
        tree=entry.tree,
        person=entry.person,
        group=entry.group,
        standing=Standing.REVIEW if entry.state == CollectionState.REVIEW else Standing.COUNTED,
        origin_kind=ORIGIN,
        origin_uuid=entry.pk,
    )


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
        _post(entry, moves, by=by, kind=ActKind.CORRECT, reason=reason)
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
