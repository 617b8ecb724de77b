"""What is told about one tap: who will settle it, and what became of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Membership, Role

MOST_STEPS = 60


def who_settles(tree: Tree, not_id: int) -> str:
    """The lead of the tree's group, by name; a coordinator where there is no other lead than the tapper."""
    rows = Membership.objects.live(timezone.localdate()).filter(person__is_active=True).exclude(person_id=not_id)
    rows = rows.select_related("person").order_by("person__display_name")
    lead = rows.filter(role=Role.LEAD, group_id=tree.group_id).first() if tree.group_id else None
    return str(lead.person) if lead else _("A coordinator")


@dataclass(frozen=True)
class Step:
    """One line of a history: when, what, by whom."""

    at: dt.datetime
    what: str
    who: str


def history_of(tap: Tap) -> list[Step]:
    """What became of the tap, oldest first; two queries."""
    steps: list[Step] = []
    before = None
    for row in tap.history.select_related("history_user").order_by("history_date", "history_id")[:MOST_STEPS]:
        who = str(row.history_user or "")
        if before is None:
            what = _("Recorded, to settle") if row.state == TapState.TO_SETTLE else _("Recorded")
            steps.append(Step(row.history_date, what, who or str(tap.by)))
        else:
            steps += [Step(row.history_date, what, who) for what in _changes(before, row)]
        before = row
    return steps


def _changes(old: Tap, new: Tap) -> list[str]:
    said = []
    if old.state != new.state:
        said.append(
            {
                TapState.IN: _("Stands: %(note)s") % {"note": new.settled_note} if new.settled_note else _("Stands"),
                TapState.TO_SETTLE: _("To settle"),
                TapState.PULLED: _("Pulled"),
                TapState.LOST: _("Lost: %(reason)s") % {"reason": new.out_reason},
            }[TapState(new.state)]
        )
    for name, on, off in (
        ("dry", _("Runs dry"), _("Runs again")),
        ("leaking", _("Leaks"), _("Leaks no more")),
    ):
        if getattr(old, name) != getattr(new, name):
            said.append(on if getattr(new, name) else off)
    return said
