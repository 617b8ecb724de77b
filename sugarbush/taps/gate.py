"""The gate: may this tree be given out for the season; may one more tap go in now, here, by this person?

One question with one home. The answer is a list of reasons, each with its next step; an empty list is yes. Pages,
phones and commands all ask it and show the same words. It never writes anything.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.parts.reasons import Reason
from sugarbush.parts.wording import diameter_words
from sugarbush.seasons.models import SeasonState
from sugarbush.taps.facts import TreeFacts, read_facts
from sugarbush.taps.gate_owners import permission_reasons
from sugarbush.taps.gate_place import full, given_to, hole_reasons, person_reasons
from sugarbush.taps.models import NewHole
from sugarbush.taps.said import day, url
from sugarbush.trees.models import Life, SpeciesSure, Tree
from sugarbush.trees.queries import reasons_of
from sugarbush.trees.records import TreatmentAnswer, Verdict
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

__all__ = ["GateAct", "NewHole", "day", "gate", "names_for", "url"]

GateAct = Literal["assign", "tap"]


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
    names: bool = True,
) -> list[Reason]:
    """Every reason against the act on this day; empty means yes.

    act: "assign" (give the tree to `group`, `person` for the season) or "tap" (one more tap now, by `by`, at `hole`).
    facts: the tree's facts when already read, so that many trees cost no more queries than one.
    names: whether the sentences may name owners and who spoke for them; ask `names_for` about the reader.
    """
    on = on or timezone.localdate()
    facts = facts or read_facts([tree.pk])[tree.pk]
    reasons = [
        *_season(facts, act),
        *_life(facts),
        *_species(facts),
        *permission_reasons(facts, on, act, names=names),
        *_treatment(facts, names=names),
        *_check(facts, on),
        *_size(facts, on, act, units),
    ]
    if act == "assign":
        reasons += _free_to_give(facts, group, person)
    else:
        reasons += given_to(facts, by)
        if hole is not None:
            reasons += hole_reasons(facts, hole, on, units)
        if by is not None:
            reasons += person_reasons(facts, by)
    return reasons


def names_for(reader: Person, tree: Tree) -> bool:
    """Whether this reader may see owners’ names at this tree."""
    return access.scope(reader, "owners.see").covers(tree.group_id)


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


def _treatment(facts: TreeFacts, *, names: bool) -> list[Reason]:
    tree, treated = facts.tree, facts.treated
    if treated is not None:
        return [
            Reason(
                code="treated",
                fact=_("It was treated with insecticide inside the tree."),
                detail=_("%(who)s said so on %(day)s. Only a coordinator clears this, in writing.")
                % {"who": treated.said_by if names else _("Somebody"), "day": day(treated.date)},
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
                detail=" ".join(reason.sentence(_) for reason in reasons_of(check)),
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
        return [full(facts, on)]
    return []


def _free_to_give(facts: TreeFacts, group: Group | None, person: Person | None) -> list[Reason]:
    given = facts.assignment
    if given is None or group is None or given.group_id == group.pk:
        return []
    return [
        Reason(
            code="assigned",
            fact=_("It is given to %(group)s already.") % {"group": given.group},
            next_text=_("Ask %(group)s to give it back first") % {"group": given.group},
            next_url=url("tree", facts.tree.code),
        )
    ]
