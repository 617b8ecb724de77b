"""Many trees at once: put them into a group, take them into the programme's sights."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason
from sugarbush.trees import shown
from sugarbush.trees.models import Life, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

CHANGE = "tree.change"
SCOUT = "tree.scout"


@dataclass
class Outcome:
    """What came of an act on many trees: each one done, or refused with its reasons, or as it should be already."""

    done: list[Tree] = field(default_factory=list)
    refused: list[tuple[Tree, list[Reason]]] = field(default_factory=list)
    unchanged: list[Tree] = field(default_factory=list)


Hold = Callable[[Sequence[Tree], Group | None], dict[int, list[Reason]]]
_holds: list[Hold] = []


def register_hold(hold: Hold) -> None:
    """Let a later app say what keeps trees in the group they are in: (trees, new group) -> {tree id: reasons}."""
    if hold not in _holds:
        _holds.append(hold)


def put_into_group(*, trees: Sequence[Tree], group: Group | None, by: Person) -> Outcome:
    """Put trees into a group, or (None) out of any. Each tree stands or falls alone, none is half-done.

    A listed tree that gets a group comes into the programme's sights. Needs the right to change trees, in the group
    the tree is in and in the group it goes to.
    """
    access.require(by, CHANGE, group_id=group.pk if group else None)
    reach = access.scope(by, CHANGE)
    result = Outcome()
    with transaction.atomic():
        rows = _held(trees)
        held = _all_holds(rows, group)
        for tree in rows:
            reasons = _gone(tree) + held.get(tree.pk, [])
            if not reach.covers(tree.group_id):
                reasons = [_another_groups(tree)]
            if reasons:
                result.refused.append((tree, reasons))
                continue
            life = Life.CANDIDATE if tree.life == Life.LISTED and group is not None else Life(tree.life)
            if (tree.group_id, tree.life) == (group.pk if group else None, life):
                result.unchanged.append(tree)
                continue
            old = {"group": tree.group_id, "life": tree.life}
            tree.group, tree.life = group, life
            _keep(tree, by=by, act="put into a group", old=old)
            result.done.append(tree)
        shown.refresh(tree.pk for tree in result.done)
    return result


def consider(*, trees: Sequence[Tree], by: Person) -> Outcome:
    """Take listed trees into the programme's sights. Any member may, in their own groups and where there is none."""
    access.require(by, SCOUT, anywhere=True)
    reach = access.scope(by, SCOUT)
    result = Outcome()
    with transaction.atomic():
        for tree in _held(trees):
            if not reach.covers(tree.group_id):
                result.refused.append((tree, [_another_groups(tree)]))
            elif reasons := _gone(tree) or _ruled_out(tree):
                result.refused.append((tree, reasons))
            elif tree.life != Life.LISTED:
                result.unchanged.append(tree)
            else:
                tree.life = Life.CANDIDATE
                _keep(tree, by=by, act="consider a tree", old={"life": Life.LISTED})
                result.done.append(tree)
        shown.refresh(tree.pk for tree in result.done)
    return result


def _held(trees: Sequence[Tree]) -> list[Tree]:
    """The same trees, held until the transaction ends, in the order of their numbers so that two acts cannot cross."""
    return list(Tree.objects.select_for_update().filter(pk__in=[tree.pk for tree in trees]).order_by("pk"))


def _keep(tree: Tree, *, by: Person, act: str, old: Mapping[str, object]) -> None:
    tree.edition += 1
    tree.save(update_fields=["group", "life", "edition", "t17"])
    record(by=by, act=act, subject=tree, old=dict(old), new={"group": tree.group_id, "life": tree.life})


def _all_holds(trees: Sequence[Tree], group: Group | None) -> dict[int, list[Reason]]:
    found: dict[int, list[Reason]] = {}
    for hold in _holds:
        for tree_id, reasons in hold(trees, group).items():
            found.setdefault(tree_id, []).extend(reasons)
    return found


def _gone(tree: Tree) -> list[Reason]:
    if tree.merged_into_id:
        return [Reason(code="merged", fact=_("This entry was merged into another tree."))]
    if tree.life == Life.FELLED:
        return [Reason(code="felled", fact=_("This tree has been felled."))]
    return []


def _ruled_out(tree: Tree) -> list[Reason]:
    if tree.life == Life.EXCLUDED:
        return [Reason(code="excluded", fact=_("This tree is set aside as not for tapping."), detail=tree.life_reason)]
    return []


def _another_groups(tree: Tree) -> Reason:
    return Reason(
        code="other-group",
        fact=_("It belongs to another group."),
        next_text=_("Ask a coordinator to move it"),
    )
