"""Entering a tree, changing where it stands and whose land it is on, and the turns of its life."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.trees.actions_looks import Seen, note_look
from sugarbush.trees.codes import next_codes
from sugarbush.trees.duplicates import say_apart
from sugarbush.trees.group_actions import put_into_group
from sugarbush.trees.keeping import keep, take
from sugarbush.trees.models import Land, Life, Tree
from sugarbush.volunteers.access import require
from sugarbush.volunteers.models import Group, Person

CHANGEABLE = (
    "longitude",
    "latitude",
    "address",
    "side",
    "nth",
    "land",
    "access_note",
    "inventory_number",
)


def saved_before(tree_uuid: uuid.UUID) -> Tree | None:
    """The tree a form with this uuid has made already."""
    return Tree.objects.filter(uuid=tree_uuid).first()


def add_tree(
    *,
    by: Person,
    tree_uuid: uuid.UUID,
    longitude_deg: float,
    latitude_deg: float,
    seen: Seen,
    address: str = "",
    side: str = "",
    nth: int | None = None,
    land: str = Land.UNKNOWN,
    land_said_by: str = "",
    access_note: str = "",
    inventory_number: str = "",
    group: Group | None = None,
    apart_from: Iterable[int] = (),
) -> Tree:
    """Enter a tree with the first look at it. Sent twice, it is entered once.

    apart_from: entries close by of which the person said that they are other trees.
    """
    require(by, "tree.scout", group_id=group.pk if group else None)
    try:
        with transaction.atomic():
            before = saved_before(tree_uuid)
            if before is not None:
                return before
            tree = Tree(
                uuid=tree_uuid,
                code=next_codes(1)[0],
                longitude=longitude_deg,
                latitude=latitude_deg,
                address=address,
                side=side,
                nth=nth,
                land=land,
                access_note=access_note,
                inventory_number=inventory_number,
                group=group,
                life=Life.CANDIDATE,
            )
            tree.save()
            note_look(by=by, tree=tree, seen=seen)
            keep(tree, by=by, why=land_said_by and _("whose land: %(who)s") % {"who": land_said_by})
            say_apart(by=by, one=tree.pk, others=apart_from)
            record(
                by=by,
                act="enter tree",
                subject=tree,
                new={"land": land, "land_said_by": land_said_by, "apart_from": list(apart_from)},
            )
            return tree
    except IntegrityError:
        # Two sendings of one form met at the same moment: the other one stands.
        before = saved_before(tree_uuid)
        if before is None:
            raise
        return before


def _plain(value: Any) -> Any:
    return value if isinstance(value, str | int | float | None) else str(value)


@transaction.atomic
def change_tree(*, by: Person, tree: Tree, edition: int, changes: dict[str, Any], land_said_by: str = "") -> Tree:
    """Change place, land, access note or group. Raises ChangedMeanwhile when somebody was quicker."""
    tree = take(tree, edition=edition)
    require(by, "tree.change", group_id=tree.group_id)
    old: dict[str, Any] = {}
    if "group" in changes and changes["group"] != tree.group:
        old["group"] = _plain(tree.group)
        # The same act as on the map: later apps may know why a tree has to stay in its group.
        outcome = put_into_group(trees=[tree], group=changes["group"], by=by)
        if outcome.refused:
            raise Refused(outcome.refused[0][1])
        tree.refresh_from_db()
    for name in CHANGEABLE:
        if name in changes and getattr(tree, name) != changes[name]:
            old[name] = _plain(getattr(tree, name))
            setattr(tree, name, changes[name])
    if not old:
        return tree
    if "land" in old and tree.land != Land.UNKNOWN and not land_said_by.strip():
        raise Refused(
            [Reason(code="land", fact=_("Whose land it is needs somebody who said so."), next_text=_("Name them"))]
        )
    new = {name: _plain(getattr(tree, name)) for name in old}
    keep(tree, by=by, why=land_said_by and _("whose land: %(who)s") % {"who": land_said_by})
    record(by=by, act="change tree", subject=tree, reason=land_said_by, old=old, new=new)
    return tree


NEEDS_REASON = {Life.RESTING, Life.EXCLUDED, Life.FELLED}


@transaction.atomic
def set_life(*, by: Person, tree: Tree, life: str, reason: str = "", edition: int | None = None) -> Tree:
    """Consider, rest, rule out, say it is felled, or bring back. All but the first look need a reason."""
    tree = take(tree, edition=edition)
    require(by, "tree.life", group_id=tree.group_id)
    reason = " ".join(reason.split())
    if tree.life == life:
        return tree
    if not reason and (life in NEEDS_REASON or tree.life in NEEDS_REASON):
        raise Refused([Reason(code="reason", fact=_("This needs its reason."), next_text=_("Write why"))])
    old = {"life": tree.life, "reason": tree.life_reason}
    tree.life, tree.life_reason = life, reason[:200]
    keep(tree, by=by, why=reason)
    record(by=by, act="tree’s life", subject=tree, reason=reason, old=old, new={"life": life})
    return tree
