"""What becomes of holes and assignments when two entries of one tree become one."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason
from sugarbush.taps.models import Assignment, AssignmentState, Tap, TapState
from sugarbush.taps.said import url
from sugarbush.trees.models import Tree


def two_groups_work_it(loser: Tree, kept: Tree) -> list[Reason]:
    """A merge waits while the two entries are given to two groups."""
    live = Assignment.objects.exclude(state=AssignmentState.ENDED).select_related("group")
    theirs = {given.season_id: given for given in live.filter(tree=kept)}
    return [
        Reason(
            code="two-groups",
            fact=_("%(first)s and %(second)s both work this tree.")
            % {"first": theirs[given.season_id].group, "second": given.group},
            next_text=_("Have one of them give it back first"),
            next_url=url("tree", loser.code),
        )
        for given in live.filter(tree=loser)
        if given.season_id in theirs and theirs[given.season_id].group_id != given.group_id
    ]


def move_assignments(loser: Tree, kept: Tree) -> list[Any]:
    """The kept entry's own assignment stands; the other one ends, and moves as history."""
    live = Assignment.objects.exclude(state=AssignmentState.ENDED)
    held = set(live.filter(tree=kept).values_list("season_id", flat=True))
    moved = []
    for given in Assignment.objects.filter(tree=loser):
        if given.season_id in held:
            given.state = AssignmentState.ENDED
        given.tree = kept
        given.save()
        moved.append(given.pk)
    return moved


def move_taps(loser: Tree, kept: Tree) -> list[Any]:
    """Every hole is in this one trunk. One for which no place is left is put to settle, or stays out of the count."""
    moved = []
    for tap in Tap.objects.filter(tree=loser).order_by("placed_at"):
        taken = set(Tap.objects.filter(tree=kept, season=tap.season_id).values_list("position", flat=True))
        if tap.position in taken and tap.position:
            tap.position = next((n for n in (1, 2) if n not in taken), 0)
        if tap.position == 0 and tap.state == TapState.IN:
            tap.state = TapState.TO_SETTLE
            tap.settle_reasons = [_("Two entries of this tree were merged, and it has more taps than places.")]
        tap.tree = kept
        tap.save()
        moved.append(tap.pk)
    return moved
