"""Putting right what is found wrong after a season has closed: dated, with a reason, and never in the old rows."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.gathering.actions import ORIGIN, standing_movements
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.sap.ledger import Move, hands_of, lock, post, undo_of
from sugarbush.sap.models import Act, ActKind, Cause
from sugarbush.seasons.models import Season
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

LATE = "late"


@transaction.atomic
def correct_after_closing(*, entry: Collection, by: Person, volume_ml: int, reason: str) -> Act:
    """Say what really came out of the tree, once the season is closed. The entry and the kept totals stay as they are.

    What was measured at the depot stays too, so the other side of the correction is a difference in measuring.
    Raises Refused.
    """
    season = Season.objects.select_for_update().get(pk=entry.season_id)
    access.require(by, "season.step", anywhere=True)
    if not season.is_closed:
        raise Refused([Reason(code="open", fact=_("The season is not closed; change the entry itself."))])
    if entry.state != CollectionState.COUNTED:
        raise Refused(
            [Reason(code="not-counted", fact=_("This entry does not count, so there is nothing to correct."))]
        )
    if not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence. It stands in the season’s report."))])
    if volume_ml + entry.rain_ml < entry.discarded_ml:
        raise Refused([Reason(code="discard", fact=_("More was tipped out than came out of the tree."))])
    hands = hands_of(entry.person, season)
    lock([hands])
    standing = [row for row in standing_movements(entry) if row.cause == Cause.OUT_OF_TREE]
    change_ml = volume_ml - sum(row.volume_ml for row in standing)
    if change_ml == 0:
        raise Refused([Reason(code="same", fact=_("That is what the ledger says already."))])
    moves = [undo_of(row) for row in standing]
    if volume_ml:
        moves.append(
            Move(volume_ml=volume_ml, cause=Cause.OUT_OF_TREE, target=hands, sugar_brix=entry.sugar_brix, detail=LATE)
        )
    if change_ml > 0:
        moves.append(Move(volume_ml=change_ml, cause=Cause.MEASURED_UNDER, source=hands, detail=LATE))
    else:
        moves.append(Move(volume_ml=-change_ml, cause=Cause.MEASURED_OVER, target=hands, detail=LATE))
    act = post(
        kind=ActKind.CORRECT,
        season=season,
        author=by,
        happened_at=entry.happened_at,
        moves=moves,
        reason=reason.strip(),
        tree=entry.tree,
        person=entry.person,
        group=entry.group,
        origin_kind=ORIGIN,
        origin_uuid=entry.pk,
        after_closing=True,
    )
    record(
        by=by,
        act="correct after closing",
        subject=entry,
        reason=reason,
        old={"volume_ml": volume_ml - change_ml},
        new={"volume_ml": volume_ml},
        group_id=entry.group_id,
    )
    return act
