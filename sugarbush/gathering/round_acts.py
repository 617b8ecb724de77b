"""Making rounds: choosing trees, the order in which they are walked, splitting a group's trees, ending a round."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.audit.models import record
from sugarbush.core.roundplan import split_into_rounds
from sugarbush.core.rounds import MOST_STOPS, distance_m, walking_order
from sugarbush.gathering.models_rounds import Round, RoundRun, RoundStop, RunState
from sugarbush.gathering.rounds import natural
from sugarbush.gathering.way import live_stops, off_every_round, place_of
from sugarbush.parts.reasons import Reason, Refused
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Assignment, AssignmentState
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Group, Person

MOST_ROUNDS = 60


def refuse(code: str, fact: str, next_text: str = "", next_url: str = "") -> Refused:
    return Refused([Reason(code=code, fact=fact, next_text=next_text, next_url=next_url)])


def hold(found: Round, by: Person) -> Round:
    """Hold the round's row, so that two people at it come one after the other. Refuses where nothing may be changed."""
    rows = Round.objects.select_for_update(of=("self",)).select_related("season", "group")
    held = rows.get(pk=found.pk)
    access.require(by, "round.plan", group_id=held.group_id)
    if held.season.is_closed:
        raise refuse(
            "closed", _("Season %(year)s is closed; its rounds stay as they were.") % {"year": held.season.year}
        )
    if held.ended_at is not None:
        raise refuse("ended", _("This round has been ended."), _("Make a new one of its trees"))
    return held


def by_street(trees: Sequence[Tree]) -> list[Tree]:
    """Trees by street and house number."""
    return sorted(trees, key=lambda tree: (natural(tree.address), tree.code))


def walked(trees: Sequence[Tree], start: Tree | None = None) -> list[Tree]:
    """The trees in walking order from one of them. More than the core takes at once keep their order."""
    if not 2 < len(trees) <= MOST_STOPS:
        return list(trees)
    first = start if start is not None and start in trees else trees[0]
    # The start itself is taken out and put first: the core's way begins beside it and comes home to it.
    rest = [tree for tree in trees if tree.pk != first.pk]
    order = walking_order([place_of(tree) for tree in rest], start=place_of(first))
    found = [rest[n] for n in order]
    return [first, *_shorter_way_round(first, found)]


def _shorter_way_round(first: Tree, rest: list[Tree]) -> list[Tree]:
    """A way that comes home can be walked either way round; nobody goes home at its end, so the long leg goes."""
    here = place_of(first)
    return rest if distance_m(here, place_of(rest[0])) <= distance_m(here, place_of(rest[-1])) else rest[::-1]


@transaction.atomic
def make_round(
    *,
    season: Season,
    group: Group,
    by: Person,
    name: str,
    latest_start: dt.time,
    trees: Sequence[Tree] = (),
    start: Tree | None = None,
) -> Round:
    """A round of these trees in walking order. Trees that are on a round already, or not this group's, are refused."""
    access.require(by, "round.plan", group_id=group.pk)
    if season.is_closed:
        raise refuse("closed", _("Season %(year)s is closed.") % {"year": season.year})
    name = name.strip()
    if Round.objects.filter(season=season, group=group, name=name, ended_at=None).exists():
        raise refuse("name", _("%(group)s has a round “%(name)s” already.") % {"group": group, "name": name})
    made = Round(season=season, group=group, name=name, latest_start=latest_start)
    made._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    made.save()
    _put(made, walked(by_street(trees), start))
    record(by=by, act="make round", subject=made, new={"trees": [tree.code for tree in trees]})
    return made


def _put(found: Round, trees: Sequence[Tree]) -> None:
    """Put trees at the end of a round, all or none."""
    if not trees:
        return
    ids = [tree.pk for tree in trees]
    given = Assignment.objects.filter(tree__in=ids, season=found.season_id, group=found.group_id)
    ours = set(given.exclude(state=AssignmentState.ENDED).values_list("tree_id", flat=True))
    taken = RoundStop.objects.filter(tree__in=ids, season=found.season_id, off_at=None).select_related("round")
    on = {stop.tree_id: stop.round for stop in taken}
    reasons = []
    for tree in trees:
        if tree.pk not in ours:
            fact = _("%(code)s is not given to %(group)s.") % {"code": tree.code, "group": found.group}
            reasons.append(Reason(code="not-ours", fact=fact, next_text=_("Give it to the group first")))
        elif tree.pk in on and on[tree.pk].pk != found.pk:
            fact = _("%(code)s is on “%(name)s” already.") % {"code": tree.code, "name": on[tree.pk]}
            reasons.append(Reason(code="on-round", fact=fact, next_text=_("Take it off there first")))
    new = [tree for tree in trees if tree.pk not in on]
    last = live_stops([found.pk]).order_by("-position").first()
    at = itertools.count(last.position + 1 if last else 1)
    if len(new) + live_stops([found.pk]).count() > MOST_STOPS:
        fact = _("A round has at most %(n)d trees.") % {"n": MOST_STOPS}
        reasons.append(Reason(code="too-many", fact=fact, next_text=_("Make two rounds of them")))
    if reasons:
        raise Refused(reasons)
    rows = [RoundStop(round=found, season_id=found.season_id, tree=tree, position=next(at)) for tree in new]
    try:
        with transaction.atomic():
            RoundStop.objects.bulk_create(rows)
    except IntegrityError:
        # Somebody put one of them on another round between the question and the answer.
        raise refuse("on-round", _("One of these trees was just put on another round."), _("Look again")) from None


@transaction.atomic
def put_on(*, found: Round, trees: Sequence[Tree], by: Person) -> int:
    """Put trees at the end of a round; those that are on it already stay. Gives how many are new."""
    held = hold(found, by)
    before = live_stops([held.pk]).count()
    _put(held, by_street(trees))
    new = live_stops([held.pk]).count() - before
    if new:
        record(by=by, act="put trees on round", subject=held, new={"trees": [tree.code for tree in trees]})
    return new


@transaction.atomic
def take_off(*, stop: RoundStop, by: Person, reason: str = "") -> None:
    """Take a tree off its round. The stop stays as history."""
    held = hold(stop.round, by)
    if RoundStop.objects.filter(pk=stop.pk, off_at=None).update(off_at=timezone.now(), off_reason=reason[:120]):
        record(by=by, act="take tree off round", subject=held, reason=reason, old={"tree": stop.tree.code})


def leave_rounds(tree_id: int, season_id: int) -> None:
    """A tree that its group gives back goes off the round it is on. Registered with taps.assigning."""
    rows = RoundStop.objects.filter(tree=tree_id, season=season_id, off_at=None)
    rows.update(off_at=timezone.now(), off_reason=_("given back by its group")[:120])


def move_stops(loser: Tree, kept: Tree) -> list[int]:
    """Two entries of one tree become one: it stands on one round, the kept entry's where both had one."""
    taken = set(RoundStop.objects.filter(tree=kept, off_at=None).values_list("season_id", flat=True))
    moved = []
    for stop in RoundStop.objects.filter(tree=loser):
        if stop.off_at is None and stop.season_id in taken:
            stop.off_at, stop.off_reason = timezone.now(), _("the same tree as %(code)s") % {"code": kept.code}
        stop.tree = kept
        stop.save()
        moved.append(stop.pk)
    return moved


def _number(stops: Sequence[RoundStop]) -> None:
    for n, stop in enumerate(stops, start=1):
        stop.position = n
    RoundStop.objects.bulk_update(stops, ["position"])


@transaction.atomic
def walk_from(*, found: Round, by: Person, start: Tree | None = None) -> None:
    """Put the whole round into walking order, from one of its trees; without one from the tree that is first now."""
    held = hold(found, by)
    stops = {stop.tree_id: stop for stop in live_stops([held.pk]).select_related("tree")}
    order = walked([stop.tree for stop in stops.values()], start)
    _number([stops[tree.pk] for tree in order])
    record(by=by, act="order round", subject=held, new={"trees": [tree.code for tree in order]})


@transaction.atomic
def move_stop(*, stop: RoundStop, by: Person, up: bool) -> None:
    """Move a tree one place towards the start, or towards the end. At either end nothing happens."""
    held = hold(stop.round, by)
    stops = list(live_stops([held.pk]))
    at = next((n for n, one in enumerate(stops) if one.pk == stop.pk), None)
    to = None if at is None else at + (-1 if up else 1)
    if at is None or to is None or not 0 <= to < len(stops):
        return
    stops[at], stops[to] = stops[to], stops[at]
    _number(stops)


@dataclass(frozen=True, kw_only=True)
class Split:
    """What came of a split: the rounds with how many trees each."""

    rounds: tuple[tuple[Round, int], ...]


def shares_of(count: int, rounds: int) -> list[int]:
    """So many trees in so many rounds as even as they can be.

    >>> shares_of(10, 4)
    [3, 3, 2, 2]
    """
    size, over = divmod(count, rounds)
    return [size + (n < over) for n in range(rounds)]


def cut(trees: Sequence[Tree], rounds: int, start: Tree | None = None) -> list[list[Tree]]:
    """The trees in so many rounds: one walking order of all, cut into even stretches.

    Where they are too many for one order, near neighbours are put together first, and then each round is ordered.
    """
    trees = by_street(trees)
    if len(trees) > MOST_STOPS:
        first = place_of(start or trees[0])
        drafts = split_into_rounds(
            [place_of(tree) for tree in trees], start=first, most_stops=ceil(len(trees) / rounds)
        )
        return [[trees[n] for n in draft.indexes] for draft in drafts]
    order = iter(walked(trees, start))
    return [list(itertools.islice(order, size)) for size in shares_of(len(trees), rounds)]


@transaction.atomic
def split_group(
    *, season: Season, group: Group, by: Person, rounds: int, latest_start: dt.time, anew: bool = False
) -> Split:
    """Make so many rounds of a group's trees at once.

    Of the trees that are on no round; with anew=True of all of them, after ending the rounds there are. Refused where
    there are fewer trees than rounds.
    """
    access.require(by, "round.plan", group_id=group.pk)
    if season.is_closed:
        raise refuse("closed", _("Season %(year)s is closed.") % {"year": season.year})
    # Two people splitting one group come one after the other, and the second finds no tree left over.
    Group.objects.select_for_update().get(pk=group.pk)
    if anew:
        for old in Round.objects.filter(season=season, group=group, ended_at=None):
            end_round(found=old, by=by, reason=_("The rounds were made anew."))
    trees = list(off_every_round(season, group))
    if len(trees) < rounds or not 1 <= rounds <= MOST_ROUNDS or len(trees) > rounds * MOST_STOPS:
        fact = _("%(trees)d trees cannot be split into %(rounds)d rounds.") % {"trees": len(trees), "rounds": rounds}
        next_text = _("Choose 1 to %(n)d rounds, with at least one tree and at most %(most)d trees each")
        raise refuse("split", fact, next_text % {"n": MOST_ROUNDS, "most": MOST_STOPS})
    names = _free_names(season, group)
    made = []
    for part in cut(trees, rounds):
        one = Round(season=season, group=group, name=next(names), latest_start=latest_start)
        one._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
        one.save()
        _put(one, part)
        made.append((one, len(part)))
    record(by=by, act="split into rounds", subject=group, new={"rounds": [[one.name, n] for one, n in made]})
    return Split(rounds=tuple(made))


def _free_names(season: Season, group: Group) -> Iterator[str]:
    """ "North Bank 1", "North Bank 2", ... as far as they are free."""
    taken = set(Round.objects.filter(season=season, group=group, ended_at=None).values_list("name", flat=True))
    return itertools.filterfalse(taken.__contains__, (f"{group.name[:54]} {n}" for n in itertools.count(1)))


@transaction.atomic
def change_round(*, found: Round, by: Person, name: str, latest_start: dt.time) -> Round:
    """Another name or latest start."""
    held = hold(found, by)
    name = name.strip()
    same = Round.objects.filter(season=held.season, group=held.group, name=name, ended_at=None).exclude(pk=held.pk)
    if same.exists():
        raise refuse("name", _("%(group)s has a round “%(name)s” already.") % {"group": held.group, "name": name})
    old = {"name": held.name, "latest_start": str(held.latest_start)}
    held.name, held.latest_start = name, latest_start
    held._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    held.save()
    record(by=by, act="change round", subject=held, old=old, new={"name": name, "latest_start": str(latest_start)})
    return held


@transaction.atomic
def end_round(*, found: Round, by: Person, reason: str) -> None:
    """End a round: its trees are free for others, what was planned is called off, what was walked stays."""
    if Round.objects.filter(pk=found.pk, ended_at__isnull=False).exists():
        return
    held = hold(found, by)
    if not reason.strip():
        raise refuse("reason", _("Write why, in a sentence."))
    now, today = timezone.now(), timezone.localdate()
    live_stops([held.pk]).update(off_at=now, off_reason=reason[:120])
    planned = RoundRun.objects.filter(round=held, date__gte=today, state=RunState.PLANNED)
    planned.update(state=RunState.CALLED_OFF, off_reason=reason[:200])
    held.ended_at = now
    held._history_user = by  # type: ignore[attr-defined]  # simple-history reads it
    held.save()
    record(by=by, act="end round", subject=held, reason=reason)
