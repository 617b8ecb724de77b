"""Whether a tree was given insecticide from the inside. Asked by the health check, the permission and its own page."""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import shown
from sugarbush.trees.keeping import take
from sugarbush.trees.models import Treatment, Tree
from sugarbush.trees.records import TreatmentAnswer
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Person


def write_answer(
    *,
    by: Person,
    tree: Tree,
    answer: str,
    said_by: str,
    date: dt.date,
    note: str = "",
    row_uuid: uuid.UUID | None = None,
) -> Treatment:
    """One answer of its own. The caller has asked for the right and refreshes what the tree shows."""
    return Treatment.objects.create(
        uuid=row_uuid, tree=tree, answer=answer, said_by=said_by[:120], date=date, recorded_by=by, note=note
    )


@transaction.atomic
def record_treatment(
    *,
    by: Person,
    tree: Tree,
    answer: str,
    said_by: str,
    date: dt.date,
    note: str = "",
    row_uuid: uuid.UUID | None = None,
) -> Treatment:
    """Record what somebody said about insecticide. Sent again with the same uuid it counts once."""
    tree = take(tree)
    require(by, "treatment.record", group_id=tree.group_id)
    if row_uuid and (before := Treatment.objects.filter(uuid=row_uuid, tree=tree).first()):
        return before
    row = write_answer(by=by, tree=tree, answer=answer, said_by=said_by, date=date, note=note, row_uuid=row_uuid)
    record(by=by, act="treatment answer", subject=tree, new={"answer": answer, "said_by": said_by, "date": str(date)})
    shown.refresh([tree.pk])
    return row


@transaction.atomic
def clear_treatment(*, by: Person, tree: Tree, reason: str) -> int:
    """A coordinator clears every standing "yes" of the tree, in writing. How many were cleared."""
    tree = take(tree)
    require(by, "treatment.clear", group_id=tree.group_id)
    reason = reason.strip()
    if not reason:
        raise Refused([Reason(code="reason", fact=_("Clearing is done in writing."), next_text=_("Write why"))])
    rows = list(tree.treatments.filter(answer=TreatmentAnswer.YES, cleared_at=None))
    for row in rows:
        row.cleared_at, row.cleared_by, row.cleared_reason = timezone.now(), by, reason
        row.save()
    if rows:
        record(by=by, act="clear treatment", subject=tree, reason=reason, old={"answers": [row.pk for row in rows]})
        shown.refresh([tree.pk])
    return len(rows)
