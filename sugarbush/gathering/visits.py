"""What a person found at a tree, and how it is kept: one visit, or many of one person that came together."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history

from sugarbush.audit.models import record
from sugarbush.gathering import doubts
from sugarbush.gathering.models import Collection, CollectionState, Outcome, Source
from sugarbush.kit.models import Container, FoodSafe
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, Posting, hands_of, lock, post_all
from sugarbush.sap.models import ActKind, Cause, Standing, Vessel
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


@dataclass(kw_only=True)
class Told:
    """A visit and what was told with it.

    doubted: given for an entry that was written without signal. It has happened and nobody can be asked back, so the
    caller has judged whose tree it was; these sentences, and odd numbers that were not explained, put it to review.
    facts: of this tree, where the caller has just read them for many entries at once.
    """

    tree: Tree
    visit: Visit
    happened_at: dt.datetime = field(default_factory=timezone.now)
    entry_id: uuid.UUID = field(default_factory=uuid.uuid4)
    source: str = Source.PHONE
    confirmed: bool = False
    container: Container | None = None
    tap: Tap | None = None
    doubted: Sequence[str] | None = None
    facts: TreeFacts | None = None


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
    doubted, facts: see Told.
    """
    told = Told(
        tree=tree,
        visit=visit,
        happened_at=happened_at or timezone.now(),
        entry_id=entry_id or uuid.uuid4(),
        source=source,
        confirmed=confirmed,
        container=container,
        tap=tap,
        doubted=doubted,
        facts=facts,
    )
    return log_visits([told], by=by)[0]


@transaction.atomic
def log_visits(told: Sequence[Told], *, by: Person) -> list[Collection]:
    """Keep visits of one person, each as log_visit would one after the other, in a fixed number of statements.

    All of them or none: the first that cannot be is raised. Two of them never have the same entry_id.
    """
    for one in told:
        check_visit(one.visit)
    season = next((one.facts.season for one in told if one.facts is not None), None) or Season.current()
    if season is None or not (season.takes_taps or season.state == "ending"):
        raise Refused([Reason(code="season", fact=_("No season is running."))])
    for one in told:
        if one.doubted is None:
            access.require(by, "collection.log", group_id=one.tree.group_id)
    hands = hands_of(by, season)
    lock([hands])
    earlier = Collection.objects.in_bulk([one.entry_id for one in told])
    entries = [_earlier(one, by, earlier) or _judged(one, by, season) for one in told]
    fresh = [(one, entry) for one, entry in zip(told, entries, strict=True) if entry.pk not in earlier]
    _write(fresh, hands, by=by, season=season)
    return entries


def _earlier(told: Told, by: Person, earlier: Mapping[uuid.UUID, Collection]) -> Collection | None:
    """The entry that is there already under this name. Raises Refused where it is another."""
    found = earlier.get(told.entry_id)
    if found is None:
        return None
    if found.body_hash == told.visit.digest(told.tree.pk, told.happened_at) and found.person_id == by.pk:
        return found
    raise Refused([Reason(code="other-body", fact=_("Another entry was saved under this name already."))])


def _judged(told: Told, by: Person, season: Season) -> Collection:
    """The entry as it will be kept, not written yet. Raises AskAgain."""
    visit, when = told.visit, told.happened_at
    facts = told.facts or doubts.facts_of(told.tree, season)
    questions = doubts.odd_numbers(
        facts=facts,
        season=season,
        when=when,
        volume_ml=visit.volume_ml,
        sugar_brix=visit.sugar_brix,
        units=by.units,
    )
    # A visit without litres is one press; there is no number in it to explain.
    odd = questions if not (told.confirmed and (visit.note.strip() or visit.outcome != Outcome.SAP)) else []
    if odd and told.doubted is None:
        raise AskAgain(odd)
    reasons = doubts.review_reasons(facts=facts, when=when, outcome=visit.outcome)
    reasons += [*(told.doubted or ()), *(question.sentence for question in odd)]
    container = told.container
    if container is not None and container.food_safe == FoodSafe.NO:
        reasons.append(str(_("Pail %(code)s is not for food.") % {"code": container.code}))
    tap = told.tap or doubts.tap_in_at(facts, when)
    return Collection(
        id=told.entry_id,
        tree=told.tree,
        tap=tap,
        person=by,
        season=season,
        group=facts.assignment.group if facts.assignment else told.tree.group,
        container_id=container.pk if container else (tap.container_id if tap else None),
        source=told.source,
        state=CollectionState.REVIEW if reasons else CollectionState.COUNTED,
        review_reasons=reasons,
        body_hash=visit.digest(told.tree.pk, when),
        happened_at=when,
        **asdict(visit),
    )


def _write(fresh: Sequence[tuple[Told, Collection]], hands: Vessel, *, by: Person, season: Season) -> None:
    """The entries, their history, their litres, and what else follows from them."""
    if not fresh:
        return
    bulk_create_with_history([entry for _told, entry in fresh], Collection)
    postings = [posting(entry, moves, by=by) for told, entry in fresh if (moves := moves_of(told.visit, hands))]
    post_all(postings, season=season)
    for _told, entry in fresh:
        tap, reasons = entry.tap, entry.review_reasons
        pulled = entry.outcome == Outcome.REMOVAL and tap is not None and tap.spout_in
        # Somebody whose part has ended may have pulled it all the same: the entry is kept, another person looks.
        if pulled and tap is not None and not access.why_not(by, "tap.pull", group_id=entry.tree.group_id):
            take_out(tap=tap, by=by, out_at=max(entry.happened_at, tap.placed_at))
        if entry.outcome == Outcome.GONE or reasons:
            record(by=by, act=f"log {entry.outcome}", subject=entry, new={"reasons": reasons}, group_id=entry.group_id)
    if doubtful := [entry.tree_id for _told, entry in fresh if entry.review_reasons]:
        shown.refresh(doubtful)


def posting(
    entry: Collection, moves: list[Move], *, by: Person, kind: ActKind = ActKind.COLLECT, reason: str = ""
) -> Posting:
    """The act of the ledger that these movements of an entry are."""
    return Posting(
        kind=kind,
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
