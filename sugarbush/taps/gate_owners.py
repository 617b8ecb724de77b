"""The part of the gate that asks whose tree it is and whether everybody who has to has said yes."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from sugarbush.owners.models import Capacity, OwnerKind, Permission, PermissionState
from sugarbush.parts.reasons import Reason
from sugarbush.taps.facts import TreeFacts, latest_asked
from sugarbush.taps.said import day, url
from sugarbush.trees.models import Land


def permission_reasons(facts: TreeFacts, on: dt.date, act: str, *, names: bool) -> list[Reason]:
    """What is missing of the owners’ yes. names: whether the reader may see owners’ names."""
    tree = facts.tree
    if tree.land == Land.UNKNOWN:
        return [
            Reason(
                code="land",
                fact=_("Nobody has recorded whose land it stands on."),
                detail=_("A tree in front of a house is often the town’s."),
                next_text=_("Record whose land it is"),
                next_url=url("tree-edit", tree.code),
            )
        ]
    ask = {
        "next_text": _("Write or find the permission"),
        "next_url": (base + f"?tree={tree.code}") if (base := url("permission-new")) else "",
    }
    if not facts.someone_owns():
        fact = (
            _("A shared tree needs each of its owners named, at least two.")
            if tree.land == Land.SHARED
            else _("Nobody has recorded who owns this tree.")
        )
        return [Reason(code="owner", fact=fact, **ask)]
    reasons = []
    for name in facts.uncovered(on, act):
        theirs = [p for p in facts.permissions if p.owner.name == name]
        if tree.land == Land.PUBLIC:
            theirs = [p for p in facts.permissions if p.owner.kind == OwnerKind.PUBLIC]
            fact = (
                _("City tree: it needs the permit of %(name)s.") % {"name": name}
                if name and names
                else _("City tree: it needs the public body’s permit.")
            )
        elif names:
            fact = _("%(name)s has not said yes.") % {"name": name}
        elif len(facts.owners) > 1:
            fact = _("One of its owners has not said yes.")
        else:
            fact = _("Its owner has not said yes.")
        detail, slip = _what_there_is(theirs, on)
        if not detail and tree.land == Land.PUBLIC and facts.permissions:
            detail = _("A resident’s yes is not enough.")
        if not names:
            step = {"next_text": _("Ask the group’s lead"), "next_url": ""}
        elif slip is not None:
            step = {
                "next_text": _("See %(number)s") % {"number": slip.label},
                "next_url": url("permission", slip.number),
            }
        else:
            step = ask
        reasons.append(Reason(code="permission", fact=fact, detail=detail, **step))
    return reasons


def _what_there_is(slips: list[Permission], on: dt.date) -> tuple[str, Permission | None]:
    """What the newest slip of this owner says, so that the reader need not open it."""
    waiting = latest_asked(slips)
    slip = waiting or next(iter(slips), None)
    if slip is None:
        return "", None
    if slip.state == PermissionState.GRANTED:
        if slip.capacity == Capacity.OCCUPANT:
            return _("%(number)s was signed by somebody who does not own the tree.") % {"number": slip.label}, slip
        if slip.date_to and slip.date_to < on:
            return _("%(number)s ended on %(day)s.") % {"number": slip.label, "day": day(slip.date_to)}, slip
        if slip.date_from and slip.date_from > on:
            return _("%(number)s starts on %(day)s.") % {"number": slip.label, "day": day(slip.date_from)}, slip
        return _("%(number)s does not fit the tapping days.") % {"number": slip.label}, slip
    if slip.state == PermissionState.ASKED and slip.asked_on:
        return _("Asked on %(day)s.") % {"day": day(slip.asked_on)}, slip
    words = {
        PermissionState.DRAFT: _("%(number)s is written but nobody has said yes."),
        PermissionState.ASKED: _("%(number)s: asked, no answer yet."),
        PermissionState.NO_ANSWER: _("%(number)s: asked, no answer."),
        PermissionState.REFUSED: _("%(number)s: the answer was no."),
        PermissionState.SUSPENDED: _("%(number)s is suspended."),
        PermissionState.REVOKED: _("%(number)s was taken back."),
    }
    return words[PermissionState(slip.state)] % {"number": slip.label}, slip
