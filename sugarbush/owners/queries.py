"""Owners and slips as one person may see them, and what stands in the way of a change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from sugarbush.owners.models import Owner, OwnerKind, Permission, PermissionState, PermissionTree, TreeOwner
from sugarbush.trees.models import Tree
from sugarbush.trees.queries import trees_for
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

MOST_TREES = 500
"""As many trees as one slip takes at once."""

# Owners --------------------------------------------------------------------------


def owners_for(person: Person, act: str = "owners.see") -> QuerySet[Owner]:
    """The owners a person may see: of their own groups, of trees there, named on slips there, and groupless bodies."""
    reach = access.scope(person, act)
    if reach.everything:
        return Owner.objects.all()
    if not reach.group_ids:
        return Owner.objects.none()
    near = reach.filter("tree__group")
    return Owner.objects.filter(
        Q(group__in=reach.group_ids)
        | Q(group=None, kind=OwnerKind.PUBLIC)
        | Exists(TreeOwner.objects.filter(near, owner=OuterRef("pk")))
        | Exists(PermissionTree.objects.filter(near, permission__owner=OuterRef("pk")))
    )


def find_owner(person: Person, owner_id: int, act: str = "") -> Owner:
    """An owner the person may see (404 otherwise), and may do the act with (403 otherwise)."""
    owner = owners_for(person).select_related("group").filter(pk=owner_id).first()
    if owner is None:
        raise Http404
    if act:
        access.require(person, act, anywhere=True)
        if not owners_for(person, act).filter(pk=owner_id).exists():
            raise PermissionDenied(_("This owner is in the care of another group. Ask a coordinator."))
    return owner


def owners_found(owners: QuerySet[Owner], *, q: str = "", kind: str = "", group: int | None = None) -> QuerySet[Owner]:
    """The owners that fit: by name, or by the tag or address of a tree they own. Never by how to reach them."""
    q = " ".join(q.split())[:120]
    if q:
        at_tree = Q(tree__code=q.upper()) | Q(tree__address__icontains=q)
        owners = owners.filter(Q(name__icontains=q) | Exists(TreeOwner.objects.filter(at_tree, owner=OuterRef("pk"))))
    if kind:
        owners = owners.filter(kind=kind)
    if group is not None:
        owners = owners.filter(group=group)
    return owners


# Slips ---------------------------------------------------------------------------


def permissions_for(person: Person) -> QuerySet[Permission]:
    """The slips a person may see: those that name a tree in their reach, and drafts they brought themselves."""
    reach = access.scope(person, "permission.see")
    if reach.everything:
        return Permission.objects.all()
    own = Q(written_by=person, state=PermissionState.DRAFT)
    if not reach.group_ids:
        return Permission.objects.filter(own)
    near = reach.filter("tree__group")
    return Permission.objects.filter(own | Exists(PermissionTree.objects.filter(near, permission=OuterRef("pk"))))


def find_permission(person: Person, number: str) -> Permission:
    """A slip the person may see; Http404 otherwise."""
    if "\x00" in number:  # PostgreSQL takes no such letter, so no number holds one
        raise Http404
    found = permissions_for(person).select_related("owner", "group", "written_by").filter(number=number).first()
    if found is None:
        raise Http404
    return found


def permissions_found(
    slips: QuerySet[Permission],
    *,
    q: str = "",
    states: Sequence[str] = (),
    ends_within_days: int | None = None,
    group: int | None = None,
    on: dt.date | None = None,
) -> QuerySet[Permission]:
    """The slips that fit. `q`: our number, the public permit's, the owner's name, a tree's tag or address."""
    on = on or access.today()
    q = " ".join(q.split())[:120]
    if q:
        at_tree = Q(tree__code=q.upper()) | Q(tree__address__icontains=q)
        slips = slips.filter(
            Q(number__icontains=q)
            | Q(public_number__icontains=q)
            | Q(owner__name__icontains=q)
            | Exists(PermissionTree.objects.filter(at_tree, permission=OuterRef("pk")))
        )
    if states:
        slips = slips.filter(state__in=states)
    if ends_within_days is not None:
        last = on + dt.timedelta(days=ends_within_days)
        slips = slips.filter(state=PermissionState.GRANTED, date_to__gte=on, date_to__lte=last)
    if group is not None:
        slips = slips.filter(Exists(PermissionTree.objects.filter(tree__group=group, permission=OuterRef("pk"))))
    return slips


def groups_named(permission: Permission) -> set[int | None]:
    """The groups whose trees the slip names; None stands for trees without a group."""
    groups: set[int | None] = set(permission.lines.values_list("tree__group_id", flat=True))
    return groups or {permission.group_id}


def why_not_decide(person: Person, permission: Permission) -> str:
    """Why this person may not decide the slip, or an empty string. Every tree on it must lie in their reach."""
    reach = access.scope(person, "permission.decide")
    groups = groups_named(permission)
    outside = [group for group in groups if not reach.covers(group)]
    if outside and len(outside) < len(groups):
        return _("This slip also names trees of other groups. Ask a coordinator.")
    return access.why_not(person, "permission.decide", group_id=outside[0]) if outside else ""


def require_decide(person: Person, permission: Permission) -> None:
    """Refuse (403, with the sentence) unless the person may decide this slip."""
    why = why_not_decide(person, permission)
    if why:
        raise PermissionDenied(why)


def why_not_change(person: Person, permission: Permission) -> str:
    """Why this person may not change what the slip says. Who brought it may, while it is a draft."""
    if permission.state in {PermissionState.REFUSED, PermissionState.REVOKED}:
        return _("%(number)s is over. Write a new permission for a new yes.") % {"number": permission.number}
    if permission.state == PermissionState.DRAFT and permission.written_by_id == person.pk:
        return ""
    return why_not_decide(person, permission)


def why_not_open_scan(person: Person, permission: Permission) -> str:
    """A slip of paper carries addresses and telephone numbers: as with contacts, not everybody opens it."""
    if permission.state == PermissionState.DRAFT and permission.written_by_id == person.pk:
        return ""
    reach = access.scope(person, "contact.see")
    outside = [group for group in groups_named(permission) if not reach.covers(group)]
    return access.why_not(person, "contact.see", group_id=outside[0]) if outside else ""


def live_besides(tree_ids: Iterable[int], on: dt.date, *, without: int | None = None) -> list[tuple[str, Permission]]:
    """(tag, slip) of the live permissions these trees have already."""
    lines = (
        PermissionTree.objects.filter(tree_id__in=list(tree_ids), permission__in=Permission.objects.live(on))
        .exclude(permission=without)
        .select_related("tree", "permission__owner")
        .order_by("tree__code")
    )
    return [(line.tree.code, line.permission) for line in lines]


# Trees a slip is brought for ---------------------------------------------------------


def trees_asked(person: Person, codes: Iterable[str], act: str = "permission.draft") -> tuple[list[Tree], list[str]]:
    """(trees, tags not taken) for these tags. A merged tag stands for the tree that was kept."""
    wanted = list(dict.fromkeys(code.strip().upper() for code in codes if code.strip()))
    kept = dict(
        Tree.objects.filter(code__in=wanted, merged_into__isnull=False).values_list("code", "merged_into__code")
    )
    names = {kept.get(code, code) for code in wanted}
    reach = access.scope(person, act)
    found = {
        tree.code: tree
        for tree in trees_for(person).select_related("species", "group").filter(code__in=names)
        if reach.covers(tree.group_id)
    }
    trees = list(dict.fromkeys(found[kept.get(code, code)] for code in wanted if kept.get(code, code) in found))
    return trees, [code for code in wanted if kept.get(code, code) not in found]
