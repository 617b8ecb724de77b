"""What keeps a tree in its group: it is given out for the season, or a spout is in it."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from sugarbush.parts.reasons import Reason
from sugarbush.taps.gate import url
from sugarbush.taps.models import Assignment, AssignmentState
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group


def given_elsewhere(trees: Sequence[Tree], group: Group | None) -> dict[int, list[Reason]]:
    """Trees that another group works this season. Registered with trees.group_actions."""
    live = Assignment.objects.filter(tree__in=[tree.pk for tree in trees]).exclude(state=AssignmentState.ENDED)
    live = live.exclude(season__state="closed").exclude(group=group).select_related("group", "season", "tree")
    return {
        given.tree_id: [
            Reason(
                code="assigned",
                fact=_("It is given to %(group)s for %(year)d.") % {"group": given.group, "year": given.season.year},
                next_text=_("Have it given back first"),
                next_url=url("tree", given.tree.code),
            )
        ]
        for given in live
    }
