"""The part of the gate about one more hole: the number is reached, whose tree it is this season, where, and by whom."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.owners.models import Permission
from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import diameter_words, length_words
from sugarbush.taps import holes
from sugarbush.taps.facts import TreeFacts
from sugarbush.taps.models import NewHole
from sugarbush.taps.said import moment, url
from sugarbush.volunteers import access, waivers
from sugarbush.volunteers.models import Person


def full(facts: TreeFacts, on: dt.date) -> Reason:
    """The tree has all the holes it may have this season."""
    allowance = facts.allowance(on)
    made, most = facts.holes_this_season, allowance.taps
    last = made[-1]
    if most == 1:
        fact = _("%(who)s tapped this tree %(when)s, so it has its one tap.")
    else:
        fact = _("%(who)s tapped this tree %(when)s, so it has its two taps.")
    which = next((label for label, cap in allowance.limits if cap == most and cap < allowance.size_taps), "")
    if which == "watch":
        detail = _("The health check says watch: one tap at most.")
    elif which:
        detail = ngettext("%(number)s allows %(n)d tap.", "%(number)s allows %(n)d taps.", most) % {
            "number": which,
            "n": most,
        }
    elif any(not tap.spout_in for tap in made):
        detail = _("A pulled or lost hole counts too.")
    else:
        detail = ""
    return Reason(
        code="full",
        fact=fact % {"who": last.by, "when": moment(last.placed_at, on)},
        detail=detail,
        next_text=_("Please do not drill; see its holes"),
        next_url=url("tree", facts.tree.code) + "#drill",
    )


def given_to(facts: TreeFacts, by: Person | None) -> list[Reason]:
    """Whether the tree is given out this season, and to this person or their group."""
    given = facts.assignment
    if given is None:
        return [
            Reason(
                code="assigned",
                fact=_("It is not given to anybody this season."),
                next_text=_("Give it to a group"),
                next_url=url("tree", facts.tree.code),
            )
        ]
    if by is None:
        return []
    mine = access.scope(by, "tap.place").covers(given.group_id) if given.person_id is None else given.person_id == by.pk
    if mine or (access.holds(by, "assign") and access.scope(by, "assign").covers(given.group_id)):
        return []
    return [
        Reason(
            code="assigned",
            fact=_("It is given to %(who)s.") % {"who": given.person or given.group},
            next_text=_("Ask the group’s lead"),
            next_url=url("tree", facts.tree.code),
        )
    ]


def person_reasons(facts: TreeFacts, by: Person) -> list[Reason]:
    """What the person lacks for placing a tap here."""
    group_id = facts.assignment.group_id if facts.assignment else facts.tree.group_id
    why = access.why_not(by, "tap.place", group_id=group_id)
    if not why:
        return []
    if why == waivers.why_missing(by):
        fact, step = _("%(person)s may not place this tap.") % {"person": by}, _("Read the house rules, say yes")
        return [Reason(code="person", fact=fact, detail=why, next_text=step, next_url=url("house-rules"))]
    return [
        Reason(
            code="person",
            fact=_("%(person)s may not place this tap.") % {"person": by},
            detail=why,
            next_text=_("See who may do what"),
            next_url=url("access-table"),
        )
    ]


def hole_reasons(facts: TreeFacts, hole: NewHole, on: dt.date, units: str) -> list[Reason]:
    """What is wrong with this very place, bit and depth."""
    reasons = []
    slips = facts.live(on, "tap")

    def over(limit: int | None, value: int, text: str, slip: Permission, words: str) -> None:
        if limit is not None and value > limit:
            reasons.append(
                Reason(
                    code="hole-permit",
                    fact=text % {"number": slip.label, "most": words},
                    next_text=_("Choose another place or bit"),
                    next_url=url("permission", slip.number),
                )
            )

    for slip in slips:
        height, bit, depth = slip.most_height_mm, slip.largest_bit_um, slip.most_depth_mm
        over(height, hole.height_mm, _("%(number)s allows no hole above %(most)s."), slip, length_words(height, units))
        over(bit, hole.bit_um, _("%(number)s allows no bit over %(most)s."), slip, diameter_words(bit, units, bit=True))
        over(
            depth, hole.depth_mm, _("%(number)s allows no hole deeper than %(most)s."), slip, length_words(depth, units)
        )
    if hole.depth_mm > holes.MOST_DEPTH_MM:
        reasons.append(
            Reason(
                code="hole-depth",
                fact=_("A hole is %(most)s deep at most.") % {"most": length_words(holes.MOST_DEPTH_MM, units)},
                next_text=_("Mark the depth on the bit with tape"),
            )
        )
    for tap in holes.too_near(facts, hole, this_season=True):
        reasons.append(
            Reason(
                code="hole-near",
                fact=_("It is too near this season’s hole %(n)d.") % {"n": tap.position or 1},
                detail=_("Keep %(side)s to the side.")
                % {"side": length_words(facts.season.keep_open_side_mm if facts.season else 150, units)},
                next_text=_("Choose another side of the trunk"),
                next_url=url("tree", facts.tree.code),
            )
        )
    return reasons
