"""Jars: how many stand here, who has the others. Never more go out than there are."""

from __future__ import annotations

import datetime as dt
import uuid as uuids
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Case, F, Sum, When
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.audit.models import record
from sugarbush.lots.models import JarCount, JarIssue, Lot, LotState
from sugarbush.lots.sizes import size_words
from sugarbush.owners.models import Owner
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, balance_ml, lock, must_be_open, post, undo_of
from sugarbush.sap.models import Act, ActKind, Cause, Movement
from sugarbush.seasons.models import Season
from sugarbush.taps.gate import url
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

ORIGIN = "jars"


def hold_lot(lot: Lot) -> Lot:
    """The lot's row and its vessel, held until the transaction ends."""
    rows = Lot.objects.select_for_update(of=("self",)).select_related("vessel", "season")
    held = rows.get(pk=lot.pk)
    lock([held.vessel])
    return held


def whole(lots: Iterable[Lot | uuids.UUID]) -> dict[uuids.UUID, dict[int, int]]:
    """Whole jars of each lot that stand here now, by size; two queries, however many lots."""
    ids = [one.pk if isinstance(one, Lot) else one for one in lots]
    stand: dict[uuids.UUID, dict[int, int]] = {pk: {} for pk in ids}
    for lot_id, size, filled, broken in JarCount.objects.filter(lot__in=ids).values_list(
        "lot_id", "size_ml", "filled", "broken"
    ):
        stand[lot_id][size] = filled - broken
    for (lot_id, size), count in out(ids).items():
        stand[lot_id][size] = stand[lot_id].get(size, 0) - count
    return stand


def out(lots: Iterable[Lot | uuids.UUID]) -> dict[tuple[uuids.UUID, int], int]:
    """Jars of each lot and size that went out and did not come back; one query."""
    ids = [one.pk if isinstance(one, Lot) else one for one in lots]
    signed = Sum(Case(When(returns=None, then=F("count")), default=-F("count")))
    rows = JarIssue.objects.filter(lot__in=ids).values_list("lot_id", "size_ml").annotate(n=signed).order_by()
    return {(lot_id, size): count for lot_id, size, count in rows}


def jars_free(season: Season) -> dict[Lot, dict[int, int]]:
    """Jars that may be handed out: whole, here, and of a released lot. Three queries, however many lots."""
    lots = list(Lot.objects.filter(season=season, state=LotState.RELEASED).order_by("packed_at", "code"))
    stand = whole(lots)
    return {lot: free for lot in lots if (free := {size: n for size, n in stand[lot.pk].items() if n > 0})}


@dataclass(frozen=True, kw_only=True)
class Pool:
    """What there is to share: jars by size over all released lots, and their syrup."""

    jars: dict[int, int]
    lots: int

    @property
    def syrup_ml(self) -> int:
        return sum(size * count for size, count in self.jars.items())

    @property
    def count(self) -> int:
        return sum(self.jars.values())


def pool(season: Season) -> Pool:
    """All jars that may be handed out, by size."""
    free = jars_free(season)
    jars: dict[int, int] = defaultdict(int)
    for sizes in free.values():
        for size, count in sizes.items():
            jars[size] += count
    return Pool(jars=dict(sorted(jars.items(), reverse=True)), lots=len(free))


@transaction.atomic
def issue_jars(
    *,
    lot: Lot,
    size_ml: int,
    count: int,
    by: Person,
    person: Person | None = None,
    owner: Owner | None = None,
    to_text: str = "",
    purpose: str = "",
    happened_at: dt.datetime | None = None,
    uuid: uuids.UUID | None = None,
) -> JarIssue:
    """Hand out jars of one lot and size to a person, an owner, or somebody named in words.

    Only of a released lot and never more than stand here. The same uuid with the same body gives the issue there is;
    with another body it is refused.
    """
    access.require(by, "lot.issue", anywhere=True)
    to_text, purpose = to_text.strip(), purpose.strip()
    held = hold_lot(lot)
    uuid = uuid or uuids.uuid4()
    earlier = JarIssue.objects.filter(pk=uuid).first()
    if earlier is not None:
        body = (earlier.lot_id, earlier.size_ml, earlier.count, earlier.person, earlier.owner, earlier.to_text)
        if earlier.returns_id is None and body == (held.pk, size_ml, count, person, owner, to_text):
            return earlier
        raise Refused([Reason(code="other-body", fact=_("Other jars were handed out under this name already."))])
    if person is None and owner is None and not to_text:
        raise Refused([Reason(code="nobody", fact=_("Say who gets the jars."))])
    if count <= 0:
        raise Refused([Reason(code="count", fact=_("Say how many jars."))])
    _may_go_out(held)
    free = whole([held])[held.pk].get(size_ml, 0)
    if count > free:
        words = {"n": free, "lot": held.code, "size": size_words(size_ml), "asked": count}
        fact = ngettext(
            "Lot %(lot)s has %(n)d jar of %(size)s left; %(asked)d were asked for.",
            "Lot %(lot)s has %(n)d jars of %(size)s left; %(asked)d were asked for.",
            free,
        )
        raise Refused(
            [
                Reason(
                    code="too-few",
                    fact=fact % words,
                    next_text=_("Take fewer, or another lot"),
                    next_url=url("lots"),
                )
            ]
        )
    happened_at = happened_at or timezone.now()
    act = post(
        kind=ActKind.ISSUE,
        season=held.season,
        author=by,
        happened_at=happened_at,
        moves=[Move(volume_ml=size_ml * count, cause=Cause.ISSUED, source=held.vessel, detail=purpose)],
        person=person,
        origin_kind=ORIGIN,
        origin_uuid=uuid,
    )
    issue = JarIssue.objects.create(
        id=uuid,
        lot=held,
        size_ml=size_ml,
        count=count,
        person=person,
        owner=owner,
        to_text=to_text,
        purpose=purpose,
        act=act,
        happened_at=happened_at,
        author=by,
    )
    settle_state(held)
    return issue


def _may_go_out(lot: Lot) -> None:
    if lot.state in {LotState.RELEASED, LotState.ISSUED}:
        return
    words = {"lot": lot.code}
    facts = {
        LotState.HELD: (_("Lot %(lot)s is held."), _("See what mends it")),
        LotState.PACKED: (_("Lot %(lot)s is not released yet."), _("A second person releases it")),
        LotState.RECALLED: (_("Lot %(lot)s is called back: nothing of it goes out."), _("See the recall")),
        LotState.DESTROYED: (_("Lot %(lot)s was destroyed."), _("Take another lot")),
    }
    fact, step = facts[LotState(lot.state)]
    raise Refused([Reason(code=lot.state, fact=fact % words, next_text=step, next_url=url("lot", lot.pk))])


def settle_state(lot: Lot) -> None:
    """Released while jars stand here, all handed out when none do. Held, called back and destroyed stay as they are."""
    if lot.state not in {LotState.RELEASED, LotState.ISSUED}:
        return
    left = sum(whole([lot])[lot.pk].values())
    went = any(out([lot]).values())
    state = LotState.RELEASED if left else LotState.ISSUED if went else LotState.DESTROYED
    if state != lot.state:
        lot.state = state
        lot.save()


def still_out(issue: JarIssue) -> int:
    """How many jars of this hand-out have not come back."""
    return issue.count - (issue.returned_by.aggregate(n=Sum("count"))["n"] or 0)


@transaction.atomic
def take_back(
    *,
    issue: JarIssue,
    count: int,
    by: Person,
    reason: str = "",
    happened_at: dt.datetime | None = None,
    uuid: uuids.UUID | None = None,
) -> JarIssue:
    """Jars of a hand-out come back unopened: its movement is reversed, and what stays out is posted again."""
    access.require(by, "lot.issue", anywhere=True)
    lot = hold_lot(issue.lot)
    uuid = uuid or uuids.uuid4()
    earlier = JarIssue.objects.filter(pk=uuid).first()
    if earlier is not None:
        if earlier.returns_id == issue.pk and earlier.count == count:
            return earlier
        raise Refused([Reason(code="other-body", fact=_("Something else was written down under this name already."))])
    left = still_out(issue)
    if issue.returns_id is not None or not 0 < count <= left:
        fact = ngettext(
            "%(n)d jar of this hand-out is still out.", "%(n)d jars of this hand-out are still out.", left
        ) % {"n": left}
        raise Refused([Reason(code="count", fact=fact, next_text=_("Say how many came back"))])
    happened_at = happened_at or timezone.now()
    standing = Movement.objects.select_related("from_vessel", "to_vessel").get(
        act__origin_kind=ORIGIN, act__origin_uuid=issue.pk, cause=Cause.ISSUED, reverses=None, reversed_by=None
    )
    moves = [undo_of(standing)]
    if left - count:
        moves.append(
            Move(
                volume_ml=(left - count) * issue.size_ml,
                cause=Cause.ISSUED,
                source=lot.vessel,
                detail=standing.detail,
            )
        )
    act = post(
        kind=ActKind.RETURN,
        season=lot.season,
        author=by,
        happened_at=happened_at,
        moves=moves,
        reason=reason.strip(),
        person=issue.person,
        origin_kind=ORIGIN,
        origin_uuid=issue.pk,
    )
    back = JarIssue.objects.create(
        id=uuid,
        lot=lot,
        size_ml=issue.size_ml,
        count=count,
        person=issue.person,
        owner=issue.owner,
        to_text=issue.to_text,
        purpose=issue.purpose,
        act=act,
        returns=issue,
        happened_at=happened_at,
        author=by,
    )
    record(by=by, act="jars came back", subject=lot, reason=reason, new={"size_ml": issue.size_ml, "count": count})
    settle_state(lot)
    return back


@transaction.atomic
def break_jars(
    *,
    lot: Lot,
    size_ml: int,
    count: int,
    by: Person,
    reason: str,
    destroyed: bool = False,
    happened_at: dt.datetime | None = None,
    uuid: uuids.UUID | None = None,
) -> Act | None:
    """Jars that stand here broke later on, or are destroyed on purpose; always with the reason."""
    if access.why_not(by, "lot.pack", anywhere=True):
        access.require(by, "lot.issue", anywhere=True)
    held = hold_lot(lot)
    uuid = uuid or uuids.uuid4()
    earlier = Act.objects.filter(origin_kind="breakage", origin_uuid=uuid).first()
    if earlier is not None:
        return earlier
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write what happened to the jars, in a sentence."))])
    free = whole([held])[held.pk].get(size_ml, 0)
    if not 0 < count <= free:
        fact = _("Lot %(lot)s has %(n)d jars of %(size)s here.") % {
            "lot": held.code,
            "n": free,
            "size": size_words(size_ml),
        }
        raise Refused([Reason(code="too-few", fact=fact, next_text=_("Say how many of them"))])
    act = post(
        kind=ActKind.BOTTLE,
        season=held.season,
        author=by,
        happened_at=happened_at or timezone.now(),
        moves=[
            Move(
                volume_ml=size_ml * count,
                cause=Cause.DESTROYED if destroyed else Cause.LOST,
                source=held.vessel,
                detail="destroyed" if destroyed else "broken",
            )
        ],
        reason=reason.strip(),
        origin_kind="breakage",
        origin_uuid=uuid,
    )
    JarCount.objects.filter(lot=held, size_ml=size_ml).update(broken=F("broken") + count)
    record(
        by=by,
        act="destroy jars" if destroyed else "jars broke",
        subject=held,
        reason=reason,
        new={"size_ml": size_ml, "count": count},
    )
    settle_state(held)
    return act


@transaction.atomic
def destroy_lot(*, lot: Lot, by: Person, reason: str, happened_at: dt.datetime | None = None) -> Lot:
    """Destroy all that stands here of a lot: whole jars, or the syrup of jars that were opened again."""
    access.require(by, "lot.pack", anywhere=True)
    held = hold_lot(lot)
    must_be_open(held.season)
    if held.state == LotState.DESTROYED:
        return held
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why the lot is destroyed, in a sentence."))])
    left_ml = balance_ml(held.vessel)
    if left_ml:
        post(
            kind=ActKind.BOTTLE,
            season=held.season,
            author=by,
            happened_at=happened_at or timezone.now(),
            moves=[Move(volume_ml=left_ml, cause=Cause.DESTROYED, source=held.vessel, detail="destroyed")],
            reason=reason.strip(),
            origin_kind="lot",
            origin_uuid=held.pk,
        )
    for size, count in whole([held])[held.pk].items():
        if count:
            JarCount.objects.filter(lot=held, size_ml=size).update(broken=F("broken") + count)
    if held.state != LotState.RECALLED:
        held.state = LotState.DESTROYED if not any(out([held]).values()) else LotState.ISSUED
    held.save()
    if held.vessel.shut_at is None:
        held.vessel.shut_at = timezone.now()
        held.vessel.save(update_fields=["shut_at"])
    record(by=by, act="destroy lot", subject=held, reason=reason, new={"ml": left_ml})
    return held


def went_out(lots: Iterable[Lot]) -> dict[uuids.UUID, int]:
    """Jars of each lot that are out now."""
    sums: dict[uuids.UUID, int] = defaultdict(int)
    for (lot_id, _size), count in out(lots).items():
        sums[lot_id] += count
    return sums
