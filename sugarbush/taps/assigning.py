"""Giving trees out for the season, and taking them back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history, bulk_update_with_history

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.gate import gate, names_for, url
from sugarbush.taps.models import Assignment, AssignmentState
from sugarbush.trees import shown
from sugarbush.trees.models import Life, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

Ended = Callable[[int, int], None]
_after_end: list[Ended] = []


def register_ended(hook: Ended) -> None:
    """Let a later app tidy up when a tree is given back: `hook(tree_id, season_id)`, in the same transaction."""
    _after_end.append(hook)


@dataclass
class Given:
    """What came of giving out many trees: each one either done, or refused with its reasons."""

    done: list[Tree] = field(default_factory=list)
    refused: list[tuple[Tree, list[Reason]]] = field(default_factory=list)


def lock_trees(tree_ids: Sequence[int]) -> dict[int, Tree]:
    """Hold these trees until the transaction ends; two people at one tree then come one after the other."""
    rows = Tree.objects.select_for_update().filter(pk__in=tree_ids).order_by("pk")
    return {tree.pk: tree for tree in rows}


@transaction.atomic
def assign_trees(
    *, trees: Sequence[Tree], group: Group, by: Person, person: Person | None = None, on: dt.date | None = None
) -> Given:
    """Give trees to a group (and perhaps one person) for the season. Each stands or falls alone, none half-done."""
    access.require(by, "assign", group_id=group.pk)
    result, on = Given(), on or timezone.localdate()
    if person is not None and not access.scope(person, "tap.pull", on).covers(group.pk):
        raise Refused([_not_a_member(person, group)])
    ids = list(dict.fromkeys(tree.pk for tree in trees))
    lock_trees(ids)
    facts = read_facts(ids)
    reach = access.scope(by, "assign")
    taken: list[TreeFacts] = []
    for tree_id in ids:
        known = facts[tree_id]
        tree = known.tree
        reasons = gate(tree, "assign", on, group=group, facts=known, units=by.units, names=names_for(by, tree))
        if not reach.covers(tree.group_id):
            reasons.append(
                Reason(
                    code="other-group",
                    fact=_("It belongs to another group."),
                    next_text=_("Ask a coordinator to move it"),
                )
            )
        if reasons:
            result.refused.append((tree, reasons))
        else:
            taken.append(known)
            result.done.append(tree)
    _give(taken, group, person, by)
    record(
        by=by,
        act="assign trees",
        subject=group,
        new={"given": [t.code for t in result.done], "refused": [t.code for t, _r in result.refused]},
        group_id=group.pk,
    )
    shown.refresh((tree.pk for tree in result.done), on)
    return result


def _not_a_member(person: Person, group: Group) -> Reason:
    return Reason(
        code="member",
        fact=_("%(who)s is not in %(group)s.") % {"who": person, "group": group},
        next_text=_("Choose somebody of the group, or nobody in particular"),
    )


def _give(taken: Sequence[TreeFacts], group: Group, person: Person | None, by: Person) -> None:
    """Write all of it at once: a thousand trees cost as many questions of the database as ten."""
    new, moved, trees = [], [], []
    for facts in taken:
        tree, old = facts.tree, facts.assignment
        if old is None:
            new.append(Assignment(tree=tree, season=facts.season, group=group, person=person, given_by=by))
        elif (old.person_id, old.state) != (person.pk if person else None, AssignmentState.ACTIVE):
            old.person, old.state = person, AssignmentState.ACTIVE
            moved.append(old)
        life = Life.CANDIDATE if tree.life == Life.LISTED else tree.life
        if (tree.group_id, tree.life) != (group.pk, life):
            tree.group, tree.life = group, life
            tree.edition += 1
            trees.append(tree)
    bulk_create_with_history(new, Assignment, default_user=by)
    if moved:
        bulk_update_with_history(moved, Assignment, ["person", "state"], default_user=by)
    if trees:
        bulk_update_with_history(trees, Tree, ["group", "life", "edition"], default_user=by)


@transaction.atomic
def end_assignment(*, assignment: Assignment, by: Person, reason: str = "") -> None:
    """Take a tree back. Not while a spout is in it."""
    access.require(by, "assign", group_id=assignment.group_id)
    tree = lock_trees([assignment.tree_id])[assignment.tree_id]
    facts = read_facts([tree.pk], assignment.season)[tree.pk]
    if facts.assignment is None or facts.assignment.pk != assignment.pk:
        return
    if facts.spouts_in:
        raise Refused(
            [
                Reason(
                    code="spout-in",
                    fact=_("A spout is still in %(tree)s.") % {"tree": tree.code},
                    next_text=_("Pull it first"),
                    next_url=url("tap", facts.spouts_in[0].pk),
                )
            ]
        )
    live = facts.assignment
    live.state = AssignmentState.ENDED
    live._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    live.save()
    for hook in _after_end:
        hook(tree.pk, live.season_id)
    record(by=by, act="end assignment", subject=tree, reason=reason, old={"group": live.group_id})
    shown.refresh([tree.pk])
