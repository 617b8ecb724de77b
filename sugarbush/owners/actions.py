"""Asking, granting, suspending and taking back permissions. Each act refreshes what its trees show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction
from django.urls import reverse
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
from sugarbush.owners.queries import require_decide
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Programme
from sugarbush.trees import shown
from sugarbush.trees.keeping import consider
from sugarbush.trees.models import Land, Life, Treatment, Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

MOST_REASON = 300
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


class SlipMovedOn(Exception):  # noqa: N818  # it says what happened, and is no fault
    """Somebody changed the slip after this page was opened. `now` is how it stands."""

    def __init__(self, now: Permission) -> None:
        self.now = now
        super().__init__(now.number)


def hold_numbers() -> None:
    """Let one slip at a time take its number: two people saving at once then get two numbers."""
    Programme.objects.select_for_update().first()


def keep_slip(permission: Permission, by: Person | None) -> None:
    """Save a slip as its next edition, with its author in the history; None: the owner, by their own link."""
    permission._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    permission.edition += 1
    permission.save()


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
    put_slip(permission=permission, trees=trees, by=by)
    shown.refresh(tree.pk for tree in trees)
    return permission


# The acts that `put_` something write it down; the act around them shows the trees anew, once.


def put_slip(*, permission: Permission, trees: Sequence[Tree], by: Person) -> None:
    """Write a slip down for these trees, as a draft."""
    if not trees:
        raise Refused([Reason(code="no-tree", fact=_("Choose at least one tree."))])
    for tree in trees:
        access.require(by, "permission.draft", group_id=tree.group_id)
    hold_numbers()
    permission.written_by = by
    permission.state = PermissionState.DRAFT
    permission._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    permission.number = next_number(timezone.localdate().year)
    groups = {tree.group_id for tree in trees}
    permission.group_id = groups.pop() if len(groups) == 1 else permission.group_id
    permission.save()
    PermissionTree.objects.bulk_create(PermissionTree(permission=permission, tree=tree) for tree in trees)
    bring_into_sight(trees, by)
    record(
        by=by,
        act="write permission",
        subject=permission,
        new={"trees": [t.code for t in trees], "edition": permission.edition},
    )


def bring_into_sight(trees: Iterable[Tree], by: Person) -> None:
    """Listed trees come into the programme's sights as soon as somebody asks for them."""
    for tree in Tree.objects.select_for_update().filter(pk__in=[t.pk for t in trees], life=Life.LISTED):
        consider(tree)
        tree.edition += 1
        tree._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
        tree.save(update_fields=["life", "edition", "t17"])


@transaction.atomic
def name_owners(*, trees: Sequence[Tree], owner: Owner, evidence: str, by: Person) -> list[Tree]:
    """Write down that trees belong to an owner, and how we know; the trees that had not named them before."""
    new = put_owners(trees=trees, owner=owner, evidence=evidence, by=by)
    shown.refresh(tree.pk for tree in new)
    return new


def put_owners(*, trees: Sequence[Tree], owner: Owner, evidence: str, by: Person) -> list[Tree]:
    """Write down whose these trees are."""
    for tree in trees:
        access.require(by, "permission.decide", group_id=tree.group_id)
    evidence = evidence.strip()
    if not evidence:
        raise Refused([Reason(code="evidence", fact=_("Say how we know that it is theirs."))])
    known = set(TreeOwner.objects.filter(owner=owner, tree__in=[t.pk for t in trees]).values_list("tree_id", flat=True))
    new = [tree for tree in trees if tree.pk not in known]
    TreeOwner.objects.bulk_create(
        [TreeOwner(tree=tree, owner=owner, evidence=evidence[:200], recorded_by=by) for tree in new],
        ignore_conflicts=True,
    )
    for tree in new:
        record(by=by, act="name owner", subject=tree, new={"owner": owner.pk, "evidence": evidence})
    return new


@transaction.atomic
def name_owner(*, tree: Tree, owner: Owner, evidence: str, by: Person) -> TreeOwner:
    """Write down that a tree belongs to an owner, and how we know. Naming them again changes nothing."""
    name_owners(trees=[tree], owner=owner, evidence=evidence, by=by)
    return TreeOwner.objects.get(tree=tree, owner=owner)


def why_not_granted(permission: Permission) -> list[Reason]:
    """What a slip still lacks before it can count as a yes."""
    change = reverse("permission-change", args=[permission.number]) if permission.number else ""
    reasons = []

    def lacks(code: str, fact: str, *, detail: str = "", step: str, url: str = change) -> None:
        reasons.append(Reason(code=code, fact=fact, detail=detail, next_text=step, next_url=url))

    if not permission.date_from or not permission.date_to:
        lacks("days", _("A yes needs its first and last day."), step=_("Write both days"))
    if not permission.signed_by.strip():
        lacks("signed-by", _("Write the name of the person who said yes."), step=_("Write the name"))
    if permission.capacity == Capacity.OCCUPANT:
        lacks(
            "occupant",
            _("Somebody who lives there but does not own the tree cannot say yes."),
            detail=_("The owner has to."),
            step=_("Ask the owner, then change who signs"),
        )
    if permission.capacity == Capacity.AGENCY and permission.owner.kind != OwnerKind.PUBLIC:
        lacks(
            "agency",
            _("%(owner)s is not a public body.") % {"owner": permission.owner},
            step=_("Change who signs"),
        )
    if not permission.evidence and not permission.evidence_note.strip():
        lacks(
            "evidence",
            _("Add the scan of the slip, or write how the yes was given and to whom."),
            step=_("Add it"),
        )
    missing = unanswered(permission)
    if missing:
        lacks(
            "treatment",
            _("The insecticide question is not answered for %(trees)s.") % {"trees": ", ".join(missing)},
            detail=_("“Nobody knows” is an answer too, but it stops the tree."),
            step=_("Ask, then record the answer"),
            url=reverse("tree-treatment", args=[missing[0]]),
        )
    return reasons


def unanswered(permission: Permission) -> list[str]:
    """The tags of trees on the slip for which nobody has answered the insecticide question."""
    answered = Treatment.objects.filter(tree__permission_lines__permission=permission).values("tree")
    lines = permission.lines.exclude(tree__in=answered).order_by("tree__code")
    return list(lines.values_list("tree__code", flat=True))


@transaction.atomic
def decide(
    *,
    permission: Permission,
    state: str,
    by: Person,
    reason: str = "",
    on: dt.date | None = None,
    edition: int | None = None,
) -> Permission:
    """Take the slip to its next state. Suspending and taking back need a reason and work at once.

    edition: what the page showed; a yes is not given to words that somebody changed meanwhile (SlipMovedOn).
    Raises Refused when the step does not follow, when a yes is not complete, or when a reason is missing.
    """
    put_decision(permission=permission, state=state, by=by, reason=reason, on=on, edition=edition)
    shown.refresh(permission.lines.values_list("tree_id", flat=True))
    return permission


def put_decision(
    *, permission: Permission, state: str, by: Person, reason: str = "", on: dt.date | None, edition: int | None = None
) -> None:
    """Take the slip to its next state; `decide` says how."""
    locked = take_slip(permission)
    require_decide(by, locked)
    put_step(slip=locked, state=state, by=by, reason=reason, on=on, edition=edition)
    permission.refresh_from_db()


def put_step(
    *,
    slip: Permission,
    state: str,
    by: Person | None,
    reason: str = "",
    on: dt.date | None = None,
    edition: int | None = None,
    told: Mapping[str, Any] | None = None,
) -> None:
    """The step itself. The caller holds the slip and has asked whether this one may decide it.

    by: None where the owner says so by their own link.  told: what the record of the act holds besides.
    """
    if state not in STEPS[slip.state]:
        raise Refused(
            [
                Reason(
                    code="step",
                    fact=_("%(number)s is “%(state)s”; that step does not follow.")
                    % {"number": slip.number, "state": slip.get_state_display()},
                    next_text=_("Write a new permission for a new yes"),
                    next_url=reverse("permission-new"),
                )
            ]
        )
    if state == PermissionState.GRANTED:
        if edition is not None and edition != slip.edition:
            raise SlipMovedOn(slip)
        lacking = why_not_granted(slip)
        if lacking:
            raise Refused(lacking)
    if state in {PermissionState.SUSPENDED, PermissionState.REVOKED} and not reason.strip():
        raise Refused([Reason(code="reason", fact=_("Write why, in a sentence."))])
    if len(reason.strip()) > MOST_REASON:
        raise Refused([Reason(code="reason-long", fact=_("Say why in at most %(n)d letters.") % {"n": MOST_REASON})])
    old = slip.state
    slip.state = state
    if state == PermissionState.ASKED:
        slip.asked_on = on or timezone.localdate()
    if state in {PermissionState.SUSPENDED, PermissionState.REVOKED}:
        # A slip suspended and then taken back stopped counting when it was suspended.
        slip.ended_at = slip.ended_at if old == PermissionState.SUSPENDED else timezone.now()
        slip.end_reason = reason.strip()
    if state == PermissionState.GRANTED:
        slip.ended_at, slip.end_reason = None, ""
    keep_slip(slip, by)
    record(
        by=by,
        act=f"permission {state}",
        subject=slip,
        reason=reason.strip(),
        old={"state": old},
        new={"state": state, "edition": slip.edition, **(told or {})},
    )
    if by is not None and state in {PermissionState.ASKED, PermissionState.GRANTED}:
        name_by_slip(slip, by)


def take_slip(permission: Permission) -> Permission:
    """The slip as it stands, held until the transaction ends."""
    # Only the slip itself: PostgreSQL would hold the joined owner too.
    return Permission.objects.select_for_update(of=("self",)).select_related("owner").get(pk=permission.pk)


def name_by_slip(permission: Permission, by: Person) -> None:
    """What a slip says about whose the trees are is written down at each tree, once a lead stands behind it."""
    if permission.belongs_because.strip():
        trees = list(Tree.objects.filter(permission_lines__permission=permission).order_by("pk"))
        put_owners(trees=trees, owner=permission.owner, evidence=permission.belongs_because, by=by)


@transaction.atomic
def set_land(*, trees: Iterable[Tree], land: str, said_by: str, by: Person) -> None:
    """Write down whose land trees stand on, and who said so."""
    ids = [tree.pk for tree in trees]
    put_land(tree_ids=ids, land=land, said_by=said_by, by=by)
    shown.refresh(ids)


def put_land(*, tree_ids: Sequence[int], land: str, said_by: str, by: Person) -> None:
    """Write down whose land it is."""
    if not said_by.strip():
        raise Refused([Reason(code="land-said-by", fact=_("Write who said whose land it is."))])
    rows = list(Tree.objects.select_for_update().filter(pk__in=tree_ids).order_by("pk"))
    for tree in rows:
        access.require(by, "permission.decide", group_id=tree.group_id)
        old = tree.land
        tree.land = Land(land)
        tree.edition += 1
        tree._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
        tree.save(update_fields=["land", "edition", "t17"])
        record(by=by, act="set land", subject=tree, reason=said_by, old={"land": old}, new={"land": land})
