"""What an owner does by their private link: agree or not, stop, wish for a jar, say whether a tree was treated.

The link is the right: each act finds the slip or the tree among its owner's own, and asks no role. In the history
these acts have no person; they name the link.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.owners.actions import SlipMovedOn, keep_slip, put_step, take_slip, unanswered
from sugarbush.owners.consent import days_of, wording_of
from sugarbush.owners.models import (
    Capacity,
    OwnerAnswer,
    OwnerKind,
    OwnerLink,
    Permission,
    PermissionState,
    PermissionTree,
    Said,
    ShareWish,
    TreeOwner,
)
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees import shown
from sugarbush.trees.actions_treatment import write_answer
from sugarbush.trees.models import Treatment, Tree
from sugarbush.volunteers import access

WAITING = {PermissionState.ASKED, PermissionState.NO_ANSWER}
STANDING = {PermissionState.GRANTED, PermissionState.SUSPENDED}
IN_SIGHT = {*WAITING, *STANDING, PermissionState.REVOKED, PermissionState.REFUSED}


# What is theirs ------------------------------------------------------------------


def slips_of(link: OwnerLink) -> QuerySet[Permission]:
    """The owner's slips but drafts: those are still being written."""
    return Permission.objects.filter(owner=link.owner_id, state__in=IN_SIGHT)


def trees_of(link: OwnerLink) -> QuerySet[Tree]:
    """Trees written down as the owner's, or named on a slip that they were asked for and did not turn down."""
    asked = PermissionTree.objects.filter(
        tree=OuterRef("pk"), permission__owner=link.owner_id, permission__state__in=IN_SIGHT - {PermissionState.REFUSED}
    )
    owned = TreeOwner.objects.filter(tree=OuterRef("pk"), owner=link.owner_id)
    return Tree.objects.standing_alone().filter(Q(Exists(owned)) | Q(Exists(asked)))


def can_answer(slip: Permission) -> bool:
    """Whether the slip waits for its owner, and says enough for a yes to count."""
    days = days_of(slip)
    whole = days is not None and days[1] >= access.today()
    may_sign = slip.capacity != Capacity.OCCUPANT and (
        slip.capacity != Capacity.AGENCY or slip.owner.kind == OwnerKind.PUBLIC
    )
    return slip.state in WAITING and whole and may_sign


# Acts ----------------------------------------------------------------------------


def _pressed(link: OwnerLink) -> None:
    OwnerLink.objects.filter(pk=link.pk).update(last_pressed_at=timezone.now())


def _hold(link: OwnerLink, slip: Permission) -> Permission:
    """The slip, held; a slip of somebody else never comes here, because the page finds only the owner's own."""
    held = take_slip(slip)
    if held.owner_id != link.owner_id:
        raise Permission.DoesNotExist
    return held


def _told(link: OwnerLink, **more: Any) -> dict[str, Any]:
    return {"by": "the owner’s link", "link": link.pk, **more}


@transaction.atomic
def answer_slip(
    *,
    link: OwnerLink,
    slip: Permission,
    yes: bool,
    name: str,
    programme: str,
    units: str,
    read: str,
    share_wish: str = "",
    treated: Mapping[int, str] | None = None,
) -> Permission:
    """The owner's yes or no to a slip that waits for it. Pressed again it changes nothing.

    read: the mark of the words on the page, which are kept whole with the answer.  treated: answers about insecticide
    by tree.  Raises SlipMovedOn when the words are others by now, Refused when the slip waits no longer.
    """
    held = _hold(link, slip)
    said = Said.YES if yes else Said.NO
    if held.answers_by_link.filter(said=said).exists():
        return held
    if not can_answer(held):
        raise Refused([Reason(code="waits-no-more", fact=_("This question is not open any more."))])
    wording = wording_of(held, programme=programme, units=units)
    if read != wording.mark:
        raise SlipMovedOn(held)
    if yes:
        held.date_from, held.date_to = days_of(held) or (None, None)
    if yes:
        _write_treated(link, held, treated or {}, name)
    held.signed_by = name.strip()[:120]
    held.evidence_note = _("by the owner’s private link on %(day)s, wording %(version)s") % {
        "day": date_format(timezone.localdate(), "j F Y"),
        "version": wording.version,
    }
    if yes and share_wish in ShareWish.values:
        held.share_wish = share_wish
    put_step(
        slip=held,
        state=PermissionState.GRANTED if yes else PermissionState.REFUSED,
        by=None,
        reason=_("The owner said so by their private link."),
        told=_told(link, wording=wording.version),
    )
    OwnerAnswer.objects.create(
        link=link,
        permission=held,
        said=said,
        name=held.signed_by,
        wording_version=wording.version,
        wording=wording.text,
    )
    _pressed(link)
    shown.refresh(held.lines.values_list("tree_id", flat=True))
    return held


def _write_treated(link: OwnerLink, slip: Permission, treated: Mapping[int, str], name: str) -> None:
    missing = set(unanswered(slip))
    for tree in Tree.objects.filter(permission_lines__permission=slip, pk__in=list(treated)).order_by("code"):
        if treated[tree.pk] and tree.code in missing:
            _put_treated(link, tree, treated[tree.pk], name)


def _put_treated(link: OwnerLink, tree: Tree, answer: str, name: str) -> Treatment:
    # An answer needs somebody of the programme who took it down: that is who made the link it came by.
    row = write_answer(
        by=link.made_by,
        tree=tree,
        answer=answer,
        said_by=name or link.owner.name,
        date=timezone.localdate(),
        note=_("typed by the owner, by their private link"),
    )
    record(by=None, act="treatment answer", subject=tree, new=_told(link, answer=answer))
    return row


@transaction.atomic
def stop(*, link: OwnerLink, slip: Permission) -> Permission:
    """The owner takes a yes back, at once and for good. Pressed again it changes nothing."""
    held = _hold(link, slip)
    if held.state == PermissionState.REVOKED:
        return held
    if held.state not in STANDING:
        raise Refused([Reason(code="no-yes", fact=_("There is no yes of yours to take back here."))])
    reason = _("The owner asked us to stop, by their private link.")
    put_step(slip=held, state=PermissionState.REVOKED, by=None, reason=reason, told=_told(link))
    OwnerAnswer.objects.create(link=link, permission=held, said=Said.STOP)
    _pressed(link)
    shown.refresh(held.lines.values_list("tree_id", flat=True))
    return held


@transaction.atomic
def wish(*, link: OwnerLink, slip: Permission, share_wish: str) -> Permission:
    """What the owner wishes for of the syrup; it counts when the shares are worked out next."""
    held = _hold(link, slip)
    if held.state not in STANDING:
        raise Refused([Reason(code="no-yes", fact=_("This permission is over, so no wish can be added to it."))])
    old, held.share_wish = held.share_wish, ShareWish(share_wish)
    if old != held.share_wish:
        keep_slip(held, None)
        record(
            by=None,
            act="change permission",
            subject=held,
            reason=_("The owner said so by their private link."),
            old={"share_wish": old},
            new=_told(link, share_wish=str(held.share_wish), edition=held.edition),
        )
        _pressed(link)
    return held


@transaction.atomic
def say_treated(*, link: OwnerLink, tree: Tree, answer: str) -> Treatment:
    """The owner says whether a tree was given insecticide. A yes stops it; the same answer on the same day is one."""
    held = Tree.objects.select_for_update(of=("self",)).get(pk=tree.pk)
    newest = held.treatments.first()
    if newest is not None and (newest.answer, newest.date) == (answer, timezone.localdate()):
        return newest
    row = _put_treated(link, held, answer, link.owner.name)
    _pressed(link)
    shown.refresh([held.pk])
    return row
