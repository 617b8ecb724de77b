"""The gate: may this tree be given out for the season; may one more tap go in now, here, by this person?

One question with one home. The answer is a list of reasons, each with its next step; an empty list is yes. Pages,
phones and commands all ask it and show the same words. It never writes anything.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.owners.models import Capacity, OwnerKind, Permission, PermissionState
from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import diameter_words, length_words
from sugarbush.seasons.models import SeasonState
from sugarbush.taps import holes
from sugarbush.taps.facts import TreeFacts, latest_asked, read_facts
from sugarbush.trees.models import Land, Life, SpeciesSure, Tree
from sugarbush.trees.records import TreatmentAnswer, Verdict
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

GateAct = Literal["assign", "tap"]


@dataclass(frozen=True, kw_only=True)
class NewHole:
    """A hole about to be drilled, or just drilled."""

    height_mm: int
    aspect_deg: int
    bit_um: int
    depth_mm: int


def url(name: str, *args: object) -> str:
    """The address of a next step; empty where that page is not part of this run."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def day(value: dt.date) -> str:
    return date_format(value, "j F Y")


def gate(
    tree: Tree,
    act: GateAct,
    on: dt.date | None = None,
    *,
    hole: NewHole | None = None,
    by: Person | None = None,
    group: Group | None = None,
    person: Person | None = None,
    facts: TreeFacts | None = None,
    units: str = "metric",
) -> list[Reason]:
    """Every reason against the act on this day; empty means yes.

    act: "assign" (give the tree to `group`, `person` for the season) or "tap" (one more tap now, by `by`, at `hole`).
    facts: the tree's facts when already read, so that many trees cost no more queries than one.
    """
    on = on or timezone.localdate()
    facts = facts or read_facts([tree.pk])[tree.pk]
    reasons = [
        *_season(facts, act),
        *_life(facts),
        *_species(facts),
        *_permission(facts, on, act),
        *_treatment(facts),
        *_check(facts, on),
        *_size(facts, on, act, units),
    ]
    if act == "assign":
        reasons += _free_to_give(facts, group, person)
    else:
        reasons += _given(facts, by)
        if hole is not None:
            reasons += _hole(facts, hole, on, units)
        if by is not None:
            reasons += _person(facts, by)
    return reasons


def _season(facts: TreeFacts, act: GateAct) -> list[Reason]:
    season = facts.season
    if season is None:
        return [
            Reason(
                code="no-season",
                fact=_("No season is open."),
                next_text=_("Start a season"),
                next_url=url("season-new"),
            )
        ]
    if act == "tap" and not season.takes_taps:
        return [
            Reason(
                code="season",
                fact=_("Tapping has not begun.") if season.state in ("draft", "open") else _("Tapping is over."),
                detail=_("Season %(year)d is %(state)s.") % {"year": season.year, "state": season.get_state_display()},
                next_text=_("See the season"),
                next_url=url("season", season.year),
            )
        ]
    if act == "assign" and season.state in {SeasonState.ENDING, SeasonState.CLOSED}:
        return [
            Reason(
                code="season",
                fact=_("Season %(year)d is ending.") % {"year": season.year},
                next_text=_("Prepare the next season"),
                next_url=url("season-new"),
            )
        ]
    return []


def _life(facts: TreeFacts) -> list[Reason]:
    tree = facts.tree
    facts_by_life = {
        Life.RESTING: _("This tree is resting."),
        Life.EXCLUDED: _("This tree is set aside as not for tapping."),
        Life.FELLED: _("This tree has been felled."),
    }
    if tree.merged_into_id:
        return [
            Reason(
                code="merged",
                fact=_("This entry was merged into another tree."),
                next_text=_("See the tree that was kept"),
                next_url=url("tree", tree.code),
            )
        ]
    fact = facts_by_life.get(Life(tree.life))
    if fact is None:
        return []
    return [
        Reason(
            code=tree.life,
            fact=fact,
            detail=tree.life_reason,
            next_text=_("See why, or change it"),
            next_url=url("tree-life", tree.code),
        )
    ]


def _species(facts: TreeFacts) -> list[Reason]:
    tree, season = facts.tree, facts.season
    step = {"next_text": _("Look again, with leaf, fruit or twig"), "next_url": url("tree-look", tree.code)}
    if tree.species is None:
        return [Reason(code="species", fact=_("Nobody has said what kind of tree it is."), **step)]
    if tree.species_sure == SpeciesSure.DISPUTED:
        return [
            Reason(
                code="species",
                fact=_("People disagree whether it is a %(name)s.") % {"name": tree.species.common},
                next_text=_("Settle the species"),
                next_url=url("tree-species", tree.code),
            )
        ]
    if tree.species_sure != SpeciesSure.CONFIRMED:
        return [
            Reason(
                code="species",
                fact=_("Nobody is sure yet that it is a %(name)s.") % {"name": tree.species.common},
                detail=_("It needs proof and a second person’s look."),
                **step,
            )
        ]
    keys = season.species_keys if season is not None and season.frozen_at else None
    listed = tree.species.botanical in keys if keys is not None else tree.species.tappable
    if not listed:
        return [
            Reason(
                code="species-unfit",
                fact=_("%(name)s is not on this season’s list.") % {"name": tree.species.common.capitalize()},
                detail=_("Only the kinds on the season’s list are tapped."),
                next_text=_("See the season’s list"),
                next_url=url("season", season.year) if season else "",
            )
        ]
    return []


def _permission(facts: TreeFacts, on: dt.date, act: GateAct) -> list[Reason]:
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
        theirs = [p for p in facts.permissions if not name or p.owner.name == name]
        if tree.land == Land.PUBLIC:
            theirs = [p for p in facts.permissions if p.owner.kind == OwnerKind.PUBLIC]
            fact = (
                _("City tree: it needs the permit of %(name)s.") % {"name": name}
                if name
                else _("City tree: it needs the public body’s permit.")
            )
        else:
            fact = _("%(name)s has not said yes.") % {"name": name}
        detail, slip = _what_there_is(theirs, on)
        if not detail and tree.land == Land.PUBLIC and facts.permissions:
            detail = _("A resident’s yes is not enough.")
        if slip is not None:
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


def _treatment(facts: TreeFacts) -> list[Reason]:
    tree, treated = facts.tree, facts.treated
    if treated is not None:
        return [
            Reason(
                code="treated",
                fact=_("It was treated with insecticide inside the tree."),
                detail=_("%(who)s said so on %(day)s. Only a coordinator clears this, in writing.")
                % {"who": treated.said_by, "day": day(treated.date)},
                next_text=_("See the answer"),
                next_url=url("tree-treatment", tree.code),
            )
        ]
    answer = facts.treatment_answer
    if answer is None or answer.answer == TreatmentAnswer.UNKNOWN:
        return [
            Reason(
                code="treatment",
                fact=_("Nobody has said whether it was treated with insecticide.")
                if answer is None
                else _("Nobody knows whether it was treated with insecticide."),
                next_text=_("Ask the owner, then record the answer"),
                next_url=url("tree-treatment", tree.code),
            )
        ]
    return []


def _check(facts: TreeFacts, on: dt.date) -> list[Reason]:
    tree, check, season = facts.tree, facts.check, facts.season
    step = {"next_text": _("Check the tree"), "next_url": url("tree-check", tree.code)}
    if check is None:
        return [Reason(code="check", fact=_("It has no health check."), **step)]
    if check.verdict == Verdict.FAIL:
        return [
            Reason(
                code="check-failed",
                fact=_("It failed its health check on %(day)s.") % {"day": day(check.date)},
                detail=" ".join(check.reasons),
                next_text=_("Check again when it has recovered"),
                next_url=step["next_url"],
            )
        ]
    if season is not None and not facts.check_counts_on(on):
        if check.date > on:
            return [Reason(code="check", fact=_("The health check carries a day to come."), **step)]
        age = (on - check.date).days
        return [
            Reason(
                code="check-old",
                fact=ngettext("The health check is %(n)d day old.", "The health check is %(n)d days old.", age)
                % {"n": age},
                detail=_("It counts for %(n)d days.") % {"n": season.check_good_days},
                next_text=_("Check again"),
                next_url=step["next_url"],
            )
        ]
    return []


def _size(facts: TreeFacts, on: dt.date, act: GateAct, units: str) -> list[Reason]:
    tree, season = facts.tree, facts.season
    if season is None:
        return []
    look = {"next_text": _("Measure the trunk"), "next_url": url("tree-look", tree.code)}
    if not tree.diameter_um:
        fact = _("Its trunk is not measured.")
        detail = _("The largest single stem counts, each measured alone.") if tree.stems > 1 else ""
        return [Reason(code="size", fact=fact, detail=detail, **look)]
    allowance = facts.allowance(on, act)
    across = diameter_words(tree.diameter_um, units)
    if allowance.size_taps == 0:
        return [
            Reason(
                code="size",
                fact=_("Its trunk is %(size)s across.") % {"size": across},
                detail=_("A first tap needs %(least)s.") % {"least": diameter_words(season.first_tap_um, units)},
                next_text=_("Measure again in a year or two"),
                next_url=look["next_url"],
            )
        ]
    if allowance.too_thin_for is not None:
        slip = allowance.too_thin_for
        return [
            Reason(
                code="size-permit",
                fact=_("Its trunk is %(size)s across; %(number)s asks for %(least)s.")
                % {
                    "size": across,
                    "number": slip.label,
                    "least": diameter_words(slip.least_diameter_um or 0, units),
                },
                next_text=_("See %(number)s") % {"number": slip.label},
                next_url=url("permission", slip.number),
            )
        ]
    if allowance.taps == 0:
        slip_label = next((label for label, most in allowance.limits if most == 0), "")
        return [
            Reason(
                code="size-permit",
                fact=_("%(number)s allows no tap in it.") % {"number": slip_label},
                next_text=_("See the permissions"),
                next_url=url("permissions"),
            )
        ]
    if act == "tap" and allowance.left == 0:
        return [_full(facts, allowance.taps, allowance.limits, allowance.size_taps)]
    return []


def _full(facts: TreeFacts, most: int, limits: tuple[tuple[str, int], ...], size_taps: int) -> Reason:
    made = facts.holes_this_season
    last = made[-1]
    fact = ngettext(
        "It has its %(n)d tap this season: by %(who)s, %(when)s.",
        "It has its %(n)d taps this season: the last by %(who)s, %(when)s.",
        most,
    ) % {"n": most, "who": last.by, "when": date_format(timezone.localtime(last.placed_at), "j F, H:i")}
    which = next((label for label, cap in limits if cap == most and cap < size_taps), "")
    if which == "watch":
        detail = _("The health check says watch: one tap at most.")
    elif which:
        detail = ngettext("%(number)s allows %(n)d tap.", "%(number)s allows %(n)d taps.", most) % {
            "number": which,
            "n": most,
        }
    else:
        detail = _("A pulled or lost hole counts too.")
    return Reason(
        code="full",
        fact=fact,
        detail=detail,
        next_text=_("Please do not drill; see the tree"),
        next_url=url("tree", facts.tree.code),
    )


def _free_to_give(facts: TreeFacts, group: Group | None, person: Person | None) -> list[Reason]:
    given = facts.assignment
    if given is None or (group is not None and given.group_id == group.pk):
        return []
    return [
        Reason(
            code="assigned",
            fact=_("It is given to %(group)s already.") % {"group": given.group},
            next_text=_("Ask %(group)s to give it back first") % {"group": given.group},
            next_url=url("tree", facts.tree.code),
        )
    ]


def _given(facts: TreeFacts, by: Person | None) -> list[Reason]:
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


def _person(facts: TreeFacts, by: Person) -> list[Reason]:
    group_id = facts.assignment.group_id if facts.assignment else facts.tree.group_id
    why = access.why_not(by, "tap.place", group_id=group_id)
    if not why:
        return []
    return [
        Reason(
            code="person",
            fact=_("%(person)s may not place this tap.") % {"person": by},
            detail=why,
            next_text=_("See who may do what"),
            next_url=url("access-table"),
        )
    ]


def _hole(facts: TreeFacts, hole: NewHole, on: dt.date, units: str) -> list[Reason]:
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
