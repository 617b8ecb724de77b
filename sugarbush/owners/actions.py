"""Asking, granting, suspending and taking back permissions. Each act refreshes what its trees show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.owners.models import (
    Capacity,
    Owner,
    OwnerKind,
    Permission,
    PermissionState,
    PermissionTree,
    TreeOwner,
)
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import shown
from sugarbush.trees.models import Land, Life, Treatment, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

FINAL = {PermissionState.REFUSED, PermissionState.REVOKED}
STEPS: dict[str, tuple[str, ...]] = {
    PermissionState.DRAFT: (PermissionState.ASKED, PermissionState.GRANTED, PermissionState.REFUSED),
    PermissionState.ASKED: (PermissionState.NO_ANSWER, PermissionState.GRANTED, PermissionState.REFUSED),
    PermissionState.NO_ANSWER: (PermissionState.ASKED, PermissionState.GRANTED, PermissionState.REFUSED),
    PermissionState.GRANTED: (PermissionState.SUSPENDED, PermissionState.REVOKED),
    PermissionState.SUSPENDED: (PermissionState.GRANTED, PermissionState.REVOKED),
    PermissionState.REFUSED: (),
    PermissionState.REVOKED: (),
}


def next_number(year: int) -> str:
    """A number nobody has yet, such as P2026-014. Call it inside the transaction that saves it."""
    prefix = f"P{year}-"
    last = Permission.objects.filter(number__startswith=prefix).order_by("-pk").values_list("number", flat=True).first()
    count = int(last.removeprefix(prefix)) if last and last.removeprefix(prefix).isdecimal() else 0
    while Permission.objects.filter(number=f"{prefix}{count + 1:03d}").exists():
        count += 1
    return f"{prefix}{count + 1:03d}"


@transaction.atomic
def write_permission(*, permission: Permission, trees: Sequence[Tree], by: Person) -> Permission:
    """Keep a new slip as a draft for these trees. Any member may bring one for trees of their groups.

    permission: unsaved, with owner, capacity, days and limits filled in.  Raises Refused for no tree.
    """
    if not trees:
        raise Refused([Reason(code="no-tree", fact=_("Choose at least one tree."))])
    for tree in trees:
        access.require(by, "permission.draft", group_id=tree.group_id)
    permission.written_by = by
    permission.state = PermissionState.DRAFT
    permission.number = next_number(timezone.localdate().year)
    groups = {tree.group_id for tree in trees}
    permission.group_id = groups.pop() if len(groups) == 1 else permission.group_id
    permission.save()
    PermissionTree.objects.bulk_create(PermissionTree(permission=permission, tree=tree) for tree in trees)
    # Listed trees come into the programme's sights as soon as somebody asks for them.
    Tree.objects.filter(pk__in=[t.pk for t in trees], life=Life.LISTED).update(life=Life.CANDIDATE)
    record(by=by, act="write permission", subject=permission, new={"trees": [t.code for t in trees]})
    shown.refresh(t.pk for t in trees)
    return permission


@transaction.atomic
def name_owner(*, tree: Tree, owner: Owner, evidence: str, by: Person) -> TreeOwner:
    """Write down that a tree belongs to an owner, and how we know. Naming them again changes nothing."""
    access.require(by, "permission.decide", group_id=tree.group_id)
    if not evidence.strip():
        raise Refused([Reason(code="evidence", fact=_("Say how we know that it is theirs."))])
    row, made = TreeOwner.objects.get_or_create(
        tree=tree, owner=owner, defaults={"evidence": evidence.strip(), "recorded_by": by}
    )
    if made:
        record(by=by, act="name owner", subject=tree, new={"owner": owner.pk, "evidence": evidence})
        shown.refresh([tree.pk])
    return row


def why_not_granted(permission: Permission) -> list[Reason]:
    """What a slip still lacks before it can count as a yes."""
    reasons = []
    if not permission.date_from or not permission.date_to:
        reasons.append(Reason(code="days", fact=_("A yes needs its first and last day.")))
    if not permission.signed_by.strip():
        reasons.append(Reason(code="signed-by", fact=_("Write the name of the person who said yes.")))
    if permission.capacity == Capacity.OCCUPANT:
        reasons.append(
            Reason(
                code="occupant",
                fact=_("Somebody who lives there but does not own the tree cannot say yes."),
                detail=_("The owner has to."),
            )
        )
    if permission.capacity == Capacity.AGENCY and permission.owner.kind != OwnerKind.PUBLIC:
        reasons.append(Reason(code="agency", fact=_("%(owner)s is not a public body.") % {"owner": permission.owner}))
    if not permission.evidence and not permission.evidence_note.strip():
        reasons.append(
            Reason(code="evidence", fact=_("Add the scan of the slip, or write how the yes was given and to whom."))
        )
    answers = set(
        Treatment.objects.filter(tree__permission_lines__permission=permission).values_list("tree_id", flat=True)
    )
    missing = [line.tree.code for line in permission.lines.select_related("tree") if line.tree_id not in answers]
    if missing:
        reasons.append(
            Reason(
                code="treatment",
                fact=_("The insecticide question is not answered for %(trees)s.") % {"trees": ", ".join(missing)},
                detail=_("“Nobody knows” is an answer too, but it stops the tree."),
            )
        )
    return reasons


@transaction.atomic
def decide(
    *, permission: Permission, state: str, by: Person, reason: str = "", on: dt.date | None = None
) -> Permission:
    """Take the slip to its next state. Suspending and taking back need a reason and work at once.

    Raises Refused when the step does not follow, when a yes is not complete, or when a reason is missing.
    """
    locked = Permission.objects.select_for_update().select_related("owner").get(pk=permission.pk)
    access.require(by, "permission.decide", group_id=locked.group_id)
    if state not in STEPS[locked.state]:
        raise Refused(
            [
                Reason(
                    code="step",
                    fact=_("%(number)s is “%(state)s”; that step does not follow.")
                    % {"number": locked.number, "state": locked.get_state_display()},
                    next_text=_("Write a new permission for a new yes"),
                )
            ]
        )
    if state == PermissionState.GRANTED:
        lacking = why_not_granted(locked)
        if lacking:
            raise Refused(lacking)
    if state in {PermissionState.SUSPENDED, PermissionState.REVOKED} and not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence."))])
    old = locked.state
    locked.state = state
    if state == PermissionState.ASKED:
        locked.asked_on = on or timezone.localdate()
    if state in {PermissionState.SUSPENDED, PermissionState.REVOKED}:
        # A slip suspended and then taken back stopped counting when it was suspended.
        locked.ended_at = locked.ended_at if old == PermissionState.SUSPENDED else timezone.now()
        locked.end_reason = reason.strip()
    if state == PermissionState.GRANTED:
        locked.ended_at, locked.end_reason = None, ""
    locked.edition += 1
    locked.save()
    record(by=by, act=f"permission {state}", subject=locked, reason=reason, old={"state": old}, new={"state": state})
    shown.refresh(locked.lines.values_list("tree_id", flat=True))
    permission.refresh_from_db()
    return permission


@transaction.atomic
def set_land(*, trees: Iterable[Tree], land: str, said_by: str, by: Person) -> None:
    """Write down whose land trees stand on, and who said so."""
    for tree in trees:
        access.require(by, "permission.decide", group_id=tree.group_id)
        old = tree.land
        tree.land = Land(land)
        tree.save(update_fields=["land", "t17"])
        record(by=by, act="set land", subject=tree, reason=said_by, old={"land": old}, new={"land": land})
    shown.refresh(tree.pk for tree in trees)
