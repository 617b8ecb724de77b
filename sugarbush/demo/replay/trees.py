"""The programme's trees: found, looked at, checked, treated, rested, ruled out, felled."""

from __future__ import annotations

import datetime as dt
import math
import random
from collections.abc import Sequence
from typing import Any

from django.utils import timezone

from sugarbush.core.trunk import diameter_from_girth_um
from sugarbush.demo.people import owners
from sugarbush.demo.programme import ASKED, FELLED, NOT_FOR_TAPPING, RESTING, DemoTree
from sugarbush.demo.replay.cast import KNOWERS, SCOUTS, Cast, Plan
from sugarbush.demo.replay.clock import Story
from sugarbush.owners.actions import set_land
from sugarbush.trees.actions_checks import record_check
from sugarbush.trees.actions_looks import Seen, Size, record_look
from sugarbush.trees.actions_treatment import record_treatment
from sugarbush.trees.actions_trees import set_life
from sugarbush.trees.group_actions import put_into_group
from sugarbush.trees.models import Species
from sugarbush.volunteers.models import Person

FIRST_LOOKS, LOOKS = -510, -150
"""Trees tapped last year are looked at while the leaves are on, the others in the autumn after."""
LAST_CHECKS = -374
_STILL_OPEN = "two holes still open"
_RULED_OUT = {"London plane": -138, "treated": -37, "refused": -25}
_RESTED, _FELLED = -30, -21
_MORNING = 10


def write(story: Story, cast: Cast, plan: Plan) -> None:
    """Everything that is found and said about the trees themselves."""
    before = {tree.tree_no for tree in plan.last_trees}
    for first, which in ((FIRST_LOOKS, True), (LOOKS, False)):
        _look(story, cast, [tree for tree in plan.trees if (tree.tree_no in before) == which], plan, first)
    for nth, tree in enumerate(plan.last_trees):
        story.add(story.moment(LAST_CHECKS, _MORNING, 12 * nth), _check_last_year, cast, tree)
    for nth, tree in enumerate(plan.trees):
        if tree.check is not None:
            moment = story.moment(tree.check.on, 11, 2 * nth)
            story.add(moment, _check, cast, tree, tapped_before=tree.tree_no in before)
        _live(story, cast, tree, nth)
        if tree.later_treatment is not None:
            moment = story.moment(tree.later_treatment.on, _MORNING)
            story.add(moment, _say_treated, cast, tree, tree.later_treatment.on)


def _look(story: Story, cast: Cast, trees: Sequence[DemoTree], plan: Plan, first: int) -> None:
    """Put trees into their group, say whose land it is where the town does not, and look twice at each."""
    by_group: dict[str, list[DemoTree]] = {}
    for tree in trees:
        by_group.setdefault(tree.group, []).append(tree)
    rng = random.Random(f"looks {plan.seed} {first}")  # noqa: S311 - an invented town, nothing secret
    for group, mine in by_group.items():
        story.add(story.moment(first, 9), _take_into_group, cast, group, mine)
        story.add(story.moment(first, 9, 30), _say_land, cast, group, mine)
        for nth, tree in enumerate(mine):
            # About a dozen trees a walk, first the scout, a week later somebody who knows the kinds.
            day, minute = first + 2 + nth // 12, 7 * (nth % 12)
            size = _measured(tree, rng)
            note = rng.choice(("", "", "", "keys on the ground", "fine crown", "grass strip, good footing"))
            if tree.species_sure == "unconfirmed":
                story.add(story.moment(day, 13, minute), _see, cast, tree, SCOUTS[group], "bark", size, note)
                continue
            story.add(story.moment(day, 13, minute), _see, cast, tree, SCOUTS[group], "leaf", size, note)
            if tree.species_sure == "disputed":
                again = {"species": "Acer platanoides", "note": "to me these are maple leaves"}
                story.add(story.moment(day + 7, 13, minute), _see, cast, tree, KNOWERS[group], "leaf", None, **again)
            else:
                proof = rng.choice(("leaf", "fruit", "fruit", "twig"))
                story.add(story.moment(day + 7, 13, minute), _see, cast, tree, KNOWERS[group], proof, None, "")


def _take_into_group(cast: Cast, group: str, trees: Sequence[DemoTree]) -> None:
    cast.know_trees([tree.tree_no for tree in trees])
    put_into_group(trees=cast.trees_of(trees), group=cast.groups[group], by=cast.lead(group))
    cast.know_trees([tree.tree_no for tree in trees])


def _say_land(cast: Cast, group: str, trees: Sequence[DemoTree]) -> None:
    for tree in trees:
        row = cast.trees[tree.tree_no]
        if row.land != tree.land:
            set_land(trees=[row], land=tree.land, said_by=_name(tree.owner), by=cast.lead(group))


def _name(owner: str) -> str:
    return next(told.contact_name for told in owners() if told.key == owner)


def _measured(tree: DemoTree, rng: random.Random) -> Size | None:
    """A girth by tape to half a centimetre: what the town's crew found, and a few millimetres of growth since."""
    grown_mm = rng.randint(3, 9)
    if tree.trunk_in is None:
        return None
    girth_mm = 5 * math.ceil(math.pi * (tree.trunk_in * 25.4 + grown_mm) / 5)
    return Size(stems_um=(diameter_from_girth_um(girth_mm * 1000),), as_given=f"{girth_mm / 10:g} cm round")


def _see(cast: Cast, tree: DemoTree, by: str, evidence: str, size: Size | None, note: str, species: str = "") -> None:
    row = cast.trees[tree.tree_no]
    kind = Species.objects.get(botanical=species) if species else row.species
    seen = Seen(date=timezone.localdate(), size=size, species=kind, evidence=evidence, note=note)
    record_look(by=cast.people[by], tree=row, seen=seen)


def answers(
    *, crown_dieback_pct: int, cavity: bool = False, old_holes: str = "none", large_dead_limbs: bool = False
) -> dict[str, Any]:
    """The answers of a health check; what is not named was not seen."""
    return {
        "crown_dieback_pct": crown_dieback_pct, "large_dead_limbs": large_dead_limbs, "topped_or_defoliated": False,
        "cavity": cavity, "conks": False, "cracks": False, "construction": False, "herbicide": False,
        "no_safe_place": False, "salt": "none", "old_holes": old_holes,
    }  # fmt: skip


def _check(cast: Cast, tree: DemoTree, *, tapped_before: bool) -> None:
    told = tree.check
    if told is None:
        raise LookupError(f"no check is planned for {tree.tree_no}")
    holes = "part" if tree.why == _STILL_OPEN else "closed" if tapped_before else "none"
    # A check before the owner was asked can only say that nobody knows.
    known = tree.treatment.answer if told.on >= tree.treatment.on else "unknown"
    check = record_check(
        by=cast.people[told.checker],
        tree=cast.trees[tree.tree_no],
        date=told.on,
        answers=answers(crown_dieback_pct=told.crown_dieback_pct, cavity=told.cavity, old_holes=holes),
        treatment=known,
        said_by=_name(tree.treatment.said_by),
        note=told.note,
    )
    if check.verdict != told.verdict:
        raise ValueError(f"the check of {tree.tree_no} says {check.verdict}, the plan {told.verdict}")


def _check_last_year(cast: Cast, tree: DemoTree) -> None:
    checker: Person = cast.people[KNOWERS[tree.group]]
    record_check(
        by=checker,
        tree=cast.trees[tree.tree_no],
        date=timezone.localdate(),
        answers=answers(crown_dieback_pct=0),
        treatment="no",
        said_by=_name(tree.owner),
    )


def _live(story: Story, cast: Cast, tree: DemoTree, nth: int) -> None:
    """The turns of a tree's life, and the answer about insecticide where no slip carries it."""
    day: int | dt.date
    if tree.state == RESTING:
        day = _RESTED
    elif tree.state == FELLED:
        day = _FELLED
    elif tree.state == NOT_FOR_TAPPING and tree.check is not None:
        day = tree.check.on
    elif tree.state == NOT_FOR_TAPPING:
        day = _RULED_OUT[tree.why]
    else:
        if tree.state == ASKED:
            story.add(story.moment(tree.treatment.on, 19, nth), _say, cast, tree, tree.treatment.answer)
        return
    if tree.treatment.answer == "yes":
        story.add(story.moment(tree.treatment.on, 19, nth), _say, cast, tree, "yes")
    story.add(story.moment(day, 20, nth), _turn, cast, tree)


def _turn(cast: Cast, tree: DemoTree) -> None:
    set_life(by=cast.lead(tree.group), tree=cast.trees[tree.tree_no], life=tree.life, reason=tree.life_reason)


def _say(cast: Cast, tree: DemoTree, answer: str) -> None:
    record_treatment(
        by=cast.lead(tree.group),
        tree=cast.trees[tree.tree_no],
        answer=answer,
        said_by=_name(tree.treatment.said_by),
        date=timezone.localdate(),
    )


def _say_treated(cast: Cast, tree: DemoTree, on: dt.date) -> None:
    record_treatment(
        by=cast.lead(tree.group),
        tree=cast.trees[tree.tree_no],
        answer="yes",
        said_by=_name("town"),
        date=on,
        note="the office found the contractor's list: treated two summers ago",
    )
