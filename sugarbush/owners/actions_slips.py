"""Bringing a slip with all that belongs to it, changing what it says, adding trees to it, keeping its scan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.files.base import File
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from simple_history.utils import bulk_create_with_history

from sugarbush.audit.models import record
from sugarbush.owners.actions import (
    MOST_REASON,
    bring_into_sight,
    hold_numbers,
    keep_slip,
    name_by_slip,
    put_decision,
    put_land,
    put_owners,
    put_slip,
    take_slip,
    why_not_granted,
)
from sugarbush.owners.actions_owners import write_owner
from sugarbush.owners.models import Permission, PermissionState, PermissionTree
from sugarbush.owners.queries import require_decide, why_not_change, why_not_decide
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import shown
from sugarbush.trees.models import Land, Treatment, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.changing import MovedOn, edition_of, plain_values
from sugarbush.volunteers.models import Group, Person


@dataclass(frozen=True, kw_only=True)
class NewOwner:
    """An owner written down together with the slip."""

    name: str
    kind: str
    reach: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Brought:
    """What comes with a slip: answers by tree, whose land, and the state to take it to at once."""

    new_owner: NewOwner | None = None
    answers: Mapping[int, str] = field(default_factory=dict)
    said_on: dt.date | None = None
    land: str = ""
    land_said_by: str = ""
    then: str = PermissionState.DRAFT


def bring_slip(*, slip: Permission, trees: Sequence[Tree], by: Person, brought: Brought) -> Permission:
    """Keep a slip with its owner, land and answers, and perhaps ask or grant at once: all of it, or nothing.

    slip: unsaved. Sent again with the same uuid it is kept once.  Raises Refused with all that a yes still lacks.
    """
    try:
        return _bring(slip=slip, trees=trees, by=by, brought=brought)
    except Exception:
        # The rows are taken back by themselves; the scan on the disk is not.
        if slip.evidence.name and "/" in slip.evidence.name:  # it has a folder once it is on the disk
            slip.evidence.storage.delete(slip.evidence.name)
        raise


@transaction.atomic
def _bring(*, slip: Permission, trees: Sequence[Tree], by: Person, brought: Brought) -> Permission:
    hold_numbers()
    before = Permission.objects.filter(uuid=slip.uuid).first() if slip.uuid else None
    if before is not None:
        if before.written_by_id != by.pk:
            raise Refused([Reason(code="other-slip", fact=_("Another slip was kept under this form. Open a new one."))])
        return before
    if brought.new_owner is not None:
        new = brought.new_owner
        slip.owner = write_owner(by=by, name=new.name, kind=new.kind, group=_one_group(trees), reach=new.reach)
    put_slip(permission=slip, trees=trees, by=by)
    decides = not why_not_decide(by, slip)
    if brought.land and decides:
        unknown = [tree.pk for tree in trees if tree.land == Land.UNKNOWN]
        put_land(tree_ids=unknown, land=brought.land, said_by=brought.land_said_by, by=by)
    _write_answers(slip, trees, brought.answers, brought.said_on, by)
    if slip.belongs_because.strip() and decides:
        put_owners(trees=trees, owner=slip.owner, evidence=slip.belongs_because, by=by)
    if brought.then != PermissionState.DRAFT:
        put_decision(permission=slip, state=brought.then, by=by, on=brought.said_on)
    shown.refresh(tree.pk for tree in trees)
    return slip


def _one_group(trees: Sequence[Tree]) -> Group | None:
    groups = {tree.group for tree in trees}
    return groups.pop() if len(groups) == 1 else None


def _write_answers(
    slip: Permission, trees: Sequence[Tree], answers: Mapping[int, str], said_on: dt.date | None, by: Person
) -> None:
    """Each answer about insecticide is a dated record of its own at its tree, as from the health check."""
    said_by = (slip.signed_by.strip() or slip.owner.name)[:120]
    note, date = _("with %(number)s") % {"number": slip.number}, said_on or timezone.localdate()
    answered = [tree for tree in trees if answers.get(tree.pk)]
    for tree in answered:
        access.require(by, "treatment.record", group_id=tree.group_id)
    rows = [
        Treatment(tree=tree, answer=answers[tree.pk], said_by=said_by, date=date, recorded_by=by, note=note)
        for tree in answered
    ]
    bulk_create_with_history(rows, Treatment, default_user=by)
    for row in rows:
        record(by=by, act="treatment answer", subject=row.tree, new={"answer": row.answer, "said_by": said_by})


@transaction.atomic
def change_slip(*, permission: Permission, by: Person, values: Mapping[str, Any], seen: str, reason: str) -> Permission:
    """Change what a slip says: days, limits, words. Once it has been asked or granted that needs a reason.

    seen: the `edition_of` these columns when the page was opened.  Raises MovedOn when they hold something else by
    now, Refused when a yes would no longer be complete.
    """
    locked = take_slip(permission)
    why = why_not_change(by, locked)
    if why:
        raise PermissionDenied(why)
    names = list(values)
    if seen != edition_of(locked, names):
        raise MovedOn(locked)
    reason = reason.strip()
    if locked.state != PermissionState.DRAFT and not reason:
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence. The old words stay in the history."))])
    if len(reason) > MOST_REASON:
        raise Refused([Reason(code="reason-long", fact=_("Say why in at most %(n)d letters.") % {"n": MOST_REASON})])
    old = plain_values(locked, names)
    for name, value in values.items():
        setattr(locked, name, value)
    new = plain_values(locked, names)
    moved = [name for name in names if old[name] != new[name]]
    if not moved:
        return locked
    if locked.state in {PermissionState.GRANTED, PermissionState.SUSPENDED}:
        lacking = why_not_granted(locked)
        if lacking:
            raise Refused(lacking)
    keep_slip(locked, by)
    record(
        by=by,
        act="change permission",
        subject=locked,
        reason=reason,
        old={name: old[name] for name in moved},
        new={name: new[name] for name in moved} | {"edition": locked.edition},
    )
    if not why_not_decide(by, locked):
        name_by_slip(locked, by)
    shown.refresh(locked.lines.values_list("tree_id", flat=True))
    return locked


@transaction.atomic
def add_trees(
    *,
    permission: Permission,
    trees: Sequence[Tree],
    by: Person,
    answers: Mapping[int, str] | None = None,
    evidence: str = "",
    reason: str = "",
) -> list[Tree]:
    """Name more trees on a slip that is being written, asked or granted; those that are new on it.

    evidence: how we know that they are the owner's; empty takes what the slip says.  Raises Refused.
    """
    locked = take_slip(permission)
    require_decide(by, locked)
    for tree in trees:
        access.require(by, "permission.decide", group_id=tree.group_id)
    if locked.state in {PermissionState.REFUSED, PermissionState.REVOKED, PermissionState.SUSPENDED}:
        raise Refused(
            [
                Reason(
                    code="step",
                    fact=_("%(number)s is “%(state)s”: no tree is added to it.")
                    % {"number": locked.number, "state": locked.get_state_display()},
                )
            ]
        )
    there = set(locked.lines.values_list("tree_id", flat=True))
    new = [tree for tree in trees if tree.pk not in there]
    PermissionTree.objects.bulk_create(PermissionTree(permission=locked, tree=tree) for tree in new)
    _write_answers(locked, trees, answers or {}, None, by)
    if locked.state == PermissionState.GRANTED:
        lacking = why_not_granted(locked)
        if lacking:
            raise Refused(lacking)
    if new:
        bring_into_sight(new, by)
        groups = set(locked.lines.values_list("tree__group_id", flat=True))
        locked.group_id = groups.pop() if len(groups) == 1 else None
        keep_slip(locked, by)
        record(
            by=by,
            act="add trees to permission",
            subject=locked,
            reason=reason.strip(),
            new={"trees": [tree.code for tree in new], "edition": locked.edition},
        )
    if why := evidence.strip() or locked.belongs_because.strip():
        put_owners(trees=trees, owner=locked.owner, evidence=why, by=by)
    shown.refresh(tree.pk for tree in trees)
    return new


@transaction.atomic
def keep_scan(*, permission: Permission, scan: File[Any], by: Person) -> Permission:
    """Keep the scan of the slip. An earlier one stays on the disk, named in the history."""
    locked = take_slip(permission)
    why = why_not_change(by, locked)
    if why:
        raise PermissionDenied(why)
    locked.evidence = scan
    keep_slip(locked, by)
    record(by=by, act="keep scan", subject=locked, new={"edition": locked.edition})
    return locked
