"""What a tree shows on map and lists: one function, in the order people should act on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from sugarbush.owners.models import Capacity, PermissionState
from sugarbush.seasons.models import Season, SeasonState
from sugarbush.taps.facts import TreeFacts, latest_asked, read_facts
from sugarbush.taps.gate import gate
from sugarbush.taps.models import TapState
from sugarbush.trees.models import Life, Shown, SpeciesSure
from sugarbush.trees.records import Verdict
from sugarbush.trees.shown import ShownState

Looker = Callable[[list[int]], set[int]]
_lookers: list[Looker] = []


def register_look(looker: Looker) -> None:
    """Later apps name trees that somebody should look at, such as those with a collection to review."""
    if looker not in _lookers:
        _lookers.append(looker)


def states_of(tree_ids: list[int], on: dt.date) -> dict[int, ShownState]:
    """The reader that trees.shown asks."""
    season = Season.current()
    flagged = set().union(*(looker(tree_ids) for looker in _lookers)) if _lookers else set()
    return {
        tree_id: ShownState(
            state=state_of(facts, on), until=holds_until(facts, on), needs_look=tree_id in flagged or odd(facts, on)
        )
        for tree_id, facts in read_facts(tree_ids, season).items()
    }


def state_of(facts: TreeFacts, on: dt.date) -> Shown:
    tree = facts.tree
    if facts.spouts_in:
        return Shown.PULL if must_pull(facts, on) else Shown.TAPPED
    if tree.life == Life.FELLED:
        return Shown.FELLED
    if not_for_tapping(facts):
        return Shown.NOT
    if tree.life == Life.RESTING:
        return Shown.RESTING
    if facts.permissions or facts.check or tree.life == Life.CANDIDATE:
        if not gate(facts.tree, "assign", on, facts=facts):
            return Shown.READY
        if any(
            p.state == PermissionState.GRANTED
            and p.capacity != Capacity.OCCUPANT
            and (p.date_to is None or p.date_to >= on)
            for p in facts.permissions
        ):
            return Shown.ALLOWED
        if latest_asked(facts.permissions):
            return Shown.ASKED
        return Shown.CONSIDERED
    return Shown.LISTED


def must_pull(facts: TreeFacts, on: dt.date) -> bool:
    season = facts.season
    if any(tap.state == TapState.TO_SETTLE for tap in facts.spouts_in):
        return True
    if facts.tree.life in {Life.EXCLUDED, Life.FELLED} or facts.treated is not None:
        return True
    # A spout of an earlier season, or one still in while the season ends, is out of its time.
    if season is None or season.state in {SeasonState.ENDING, SeasonState.CLOSED}:
        return True
    if any(tap.season_id != season.pk for tap in facts.spouts_in):
        return True
    return not facts.covered(on, "tap")


def not_for_tapping(facts: TreeFacts) -> bool:
    tree = facts.tree
    if tree.life == Life.EXCLUDED or facts.treated is not None:
        return True
    if facts.check is not None and facts.check.verdict == Verdict.FAIL:
        return True
    known = tree.species is not None and tree.species_sure == SpeciesSure.CONFIRMED
    if known and tree.life != Life.LISTED and tree.species is not None and not tree.species.tappable:
        return True
    newest = next(iter(facts.permissions), None)
    return newest is not None and newest.state == PermissionState.REFUSED and not facts.live_ever()


def holds_until(facts: TreeFacts, on: dt.date) -> dt.date | None:
    """The last day this state is sure to hold; None when no date can change it."""
    days = []
    for permission in facts.permissions:
        if permission.state != PermissionState.GRANTED:
            continue
        if permission.date_to and permission.date_to >= on:
            days.append(permission.date_to)
        if permission.date_from and permission.date_from > on:
            days.append(permission.date_from - dt.timedelta(days=1))
    if facts.check is not None and facts.season is not None:
        end = facts.check.counts_until(facts.season.check_good_days)
        if end >= on:
            days.append(end)
        if facts.check.date > on:
            days.append(facts.check.date - dt.timedelta(days=1))
    return min(days, default=None)


def odd(facts: TreeFacts, on: dt.date) -> bool:
    """Whether somebody should look: to settle, a species in dispute, more taps than the rules now allow."""
    tree = facts.tree
    if any(tap.state == TapState.TO_SETTLE for tap in facts.taps):
        return True
    in_sights = tree.life != Life.LISTED or bool(facts.permissions)
    if in_sights and (tree.species_sure == SpeciesSure.DISPUTED):
        return True
    return bool(facts.spouts_in) and len(facts.spouts_in) > facts.allowance(on).taps
