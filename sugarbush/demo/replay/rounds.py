"""Rounds and runs: each group's trees on two or three rounds, the last week walked, and today at every stage.

What shows today depends on the time at which the demo is made: one round is late then, one soon will be.
"""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Sequence
from decimal import Decimal

from django.utils import timezone

from sugarbush.demo.programme import READY, DemoTree
from sugarbush.demo.replay.cast import Cast, Plan, season_of
from sugarbush.demo.replay.clock import Story, at
from sugarbush.demo.season import CARRIERS
from sugarbush.gathering.actions import Visit, log_visit
from sugarbush.gathering.models_rounds import Answer, Round, RoundRun
from sugarbush.gathering.round_acts import cut, make_round
from sugarbush.gathering.rounds import natural
from sugarbush.gathering.run_acts import call_off, finish, give_runs, keep_usual, say
from sugarbush.taps.models import Tap
from sugarbush.trees.models import Shown, Tree
from sugarbush.volunteers.models import Person

NAMES = {
    "North Bank": ("Boathouse way", "School way", "Upper bank"),
    "Mill Race": ("Mill pond", "Foundry end", "Barley side"),
    "Lantern Green": ("Around the green", "Lantern hill"),
}
STANDBY = {"North Bank": "tamsin", "Mill Race": "aldous", "Lantern Green": "cuthbert"}
WEEK = 7
WALK = dt.timedelta(minutes=50)


def write(story: Story, cast: Cast, plan: Plan, today: dt.date) -> None:
    """The rounds made eight days ago, their runs of the week, and what has happened of today."""
    now = _now_on(today, story)
    made: dict[str, Round] = {}
    story.add(story.moment(today - dt.timedelta(days=WEEK + 1), 19), _make, cast, plan, made, now)
    walked = {timezone.localdate(visit.happened_at, story.zone) for visit in plan.season.visits}
    for back in range(WEEK, 0, -1):
        day = today - dt.timedelta(days=back)
        if day in walked:
            story.add(story.moment(day - dt.timedelta(days=1), 20, 30), _give, cast, made, day, day)
    eve = today - dt.timedelta(days=1)
    story.add(story.moment(eve, 20, 40), _give_today, cast, made, today)
    story.add(story.moment(eve, 20, 50), _off, cast, made, today)
    midnight = story.moment(today, 0)
    begin = max(midnight, now - WALK - dt.timedelta(minutes=20))
    story.add(begin, _walk, cast, made, today, begin, now)


def _now_on(today: dt.date, story: Story) -> dt.datetime:
    """The time it is, or noon where the demo is made for another day."""
    now = timezone.now()
    return now if timezone.localdate(now, story.zone) == today else story.moment(today, 12)


def _clock(now: dt.datetime, minutes: int, story_zone: dt.tzinfo) -> dt.time:
    """A time of the clock so many minutes on, in fives, on the same day."""
    local = now.astimezone(story_zone)
    at = (local.hour * 60 + local.minute + minutes) // 5 * 5
    at = max(0, min(at, 23 * 60 + 55))
    return dt.time(at // 60, at % 60)


def _make(cast: Cast, plan: Plan, made: dict[str, Round], now: dt.datetime) -> None:
    zone = timezone.get_current_timezone()
    later = dt.time(18) if now.astimezone(zone).hour < 16 else dt.time(23, 55)
    starts = {"Lantern hill": _clock(now, -25, zone), "Mill pond": _clock(now, 40, zone)}
    for group, names in NAMES.items():
        trees = _spouts(cast, plan, group)
        # One tree of the town is on no round: the list of rounds begins with it.
        trees = trees[:-1] if group == "Mill Race" else trees
        for name, part in zip(names, cut(trees, len(names)), strict=True):
            one = make_round(
                season=season_of(plan.year),
                group=cast.groups[group],
                by=cast.lead(group),
                name=name,
                latest_start=starts.get(name, later),
                trees=part,
                start=part[0],
            )
            keep_usual(found=one, by=cast.lead(group), walks=_walkers(cast, group, name), standby=_standby(cast, group))
            made[name] = one


def _spouts(cast: Cast, plan: Plan, group: str) -> list[Tree]:
    tapped: Sequence[DemoTree] = [tree for tree in plan.trees if tree.group == group and tree.taps]
    assert all(tree.state != READY for tree in tapped)  # noqa: S101 - the plan's own promise
    return sorted(cast.trees_of(tapped), key=lambda tree: natural(tree.address))


def _walkers(cast: Cast, group: str, name: str) -> list[Person]:
    return [cast.people[CARRIERS[group][NAMES[group].index(name) % 2]]]


def _standby(cast: Cast, group: str) -> list[Person]:
    return [cast.people[STANDBY[group]]]


def _give(cast: Cast, made: dict[str, Round], first: dt.date, last: dt.date, *, but: Sequence[str] = ()) -> None:
    for group, names in NAMES.items():
        for name in names:
            if name in but:
                continue
            walks, standby = _walkers(cast, group, name), _standby(cast, group)
            give_runs(found=made[name], by=cast.lead(group), first=first, last=last, walks=walks, standby=standby)


def _give_today(cast: Cast, made: dict[str, Round], today: dt.date) -> None:
    """Today's runs and those of the days to come: one round has nobody today, one nobody tomorrow."""
    _give(cast, made, today, today, but=["Barley side"])
    first = today + dt.timedelta(days=1)
    _give(cast, made, first, first + dt.timedelta(days=3), but=["Upper bank"])
    coming = RoundRun.objects.get(round=made["Lantern hill"], date=first)
    say(run=coming, by=coming.people.get(part="walks").person, answer=Answer.NO)
    for name in ("Boathouse way", "Foundry end"):
        run = RoundRun.objects.get(round=made[name], date=today)
        say(run=run, by=run.people.get(part="walks").person, answer=Answer.YES)


def _off(cast: Cast, made: dict[str, Round], today: dt.date) -> None:
    run = RoundRun.objects.get(round=made["Around the green"], date=today)
    call_off(run=run, by=cast.lead("Lantern Green"), reason="The green is fenced off for the winter market.")


def _walk(cast: Cast, made: dict[str, Round], today: dt.date, begin: dt.datetime, now: dt.datetime) -> None:
    """What has been walked of today: a round done, one in part, one finished with a tree left out."""
    pulls = {name: made[name].stops.filter(tree__shown_state=Shown.PULL).exists() for name in NAMES["North Bank"]}
    done, part, ended = sorted(NAMES["North Bank"], key=lambda name: pulls[name])
    step = (now - begin) / 40
    moment = begin
    for name in (done, part, ended):
        stops = list(made[name].stops.select_related("tree").order_by("position"))
        chosen = stops if name == done else stops[: max(1, len(stops) // 2)]
        for stop in chosen:
            moment += step
            with at(moment):
                _visit(stop.tree, _walkers(cast, "North Bank", name)[0], moment)
    run = RoundRun.objects.get(round=made[ended], date=today)
    visited = len(stops) // 2 or 1
    left = {stop.tree.code: "can’t get in" for stop in stops[visited:]}
    with at(moment):
        by = _walkers(cast, "North Bank", ended)[0]
        finish(run=run, by=by, left_out=left, note="Road works, the walk is dug up.")


def _visit(tree: Tree, by: Person, moment: dt.datetime) -> None:
    """A morning's pail: what the night's frost and this morning's sun gave."""
    rng = random.Random(f"{tree.inventory_number} {moment:%j}")  # noqa: S311 - the demo's own figures
    taps = Tap.objects.filter(tree=tree, state="in").count()
    litres = round(rng.uniform(1.1, 2.6) * max(1, taps), 1)
    pull = tree.shown_state == Shown.PULL
    visit = (
        Visit(outcome="no_access", note="gate locked, nobody in")
        if pull
        else Visit(outcome="sap", volume_ml=round(litres * 1000), sugar_brix=Decimal("2.1"), look="clear")
    )
    log_visit(
        tree=tree, by=by, visit=visit, happened_at=moment, entry_id=uuid.UUID(int=rng.getrandbits(128), version=4)
    )
