"""The demo season written into the books through the acts a person uses, each at its own moment.

The plan is plain data (the modules beside this one); here it meets the app. Where an act refuses what the plan wants,
the replay stops: the demo shows nothing that the rules would not allow.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from sugarbush.demo import town
from sugarbush.demo.lastyear import last_years_season, last_years_trees
from sugarbush.demo.replay import cards, files, finds, jars, notices, people, rounds, season, slips, trees
from sugarbush.demo.replay.cast import LAST_YEAR_DAYS, Cast, Plan
from sugarbush.demo.replay.clock import Story, at
from sugarbush.taps.tasks import refresh_states

SINCE_FIRST_DAY = town.DEMO_DAY_INDEX + 1
"""The season began so many days ago, so that the last of its planned days that has happened is yesterday."""


@dataclass(frozen=True)
class Made:
    """What was made: the plan, the rows by the plan's names, and the day it was made for."""

    plan: Plan
    cast: Cast
    today: dt.date


def plan_for(today: dt.date, seed: int = town.SEED) -> Plan:
    """The demo as plain data, for a programme that is looked at on this day."""
    first_day = today - dt.timedelta(days=SINCE_FIRST_DAY)
    planned = town.programme_trees(seed=seed, first_day=first_day)
    before = last_years_trees(planned)
    return Plan(
        seed=seed,
        first_day=first_day,
        year=today.year,
        trees=planned,
        slips=town.permissions(planned, seed=seed, first_day=first_day),
        season=town.demo_season(planned, seed=seed, first_day=first_day),
        last_trees=before,
        last_season=last_years_season(before, seed=seed, first_day=first_day - dt.timedelta(days=LAST_YEAR_DAYS)),
    )


def replay(*, seed: int = town.SEED, today: dt.date | None = None) -> Made:
    """Write the whole demo programme into an empty set of books: all of it, or nothing.

    today: the day on the town's clock for which it is made.
    """
    zone = ZoneInfo(town.TIME_ZONE)
    today = today or timezone.localdate(timezone=zone)
    plan, cast = plan_for(today, seed), Cast()
    story, kept = Story(first_day=plan.first_day, zone=zone), list[Path]()
    people.write(story, cast, plan)
    files.write(story, cast, plan, kept)
    trees.write(story, cast, plan)
    finds.write(story, cast, plan)
    slips.write(story, cast, plan)
    season.write(story, cast, plan, today)
    jars.write(story, cast, plan, today)
    rounds.write(story, cast, plan, today)
    cards.write(story, cast, plan, today)
    notices.write(story, cast, plan, today)
    try:
        with transaction.atomic():
            story.tell()
            with at(story.moment(today, 0, 1)):
                refresh_states(everything=True)
    except BaseException:
        # The rows are taken back by themselves; the copies of the files on the disk are not.
        for path in kept:
            path.unlink(missing_ok=True)
        raise
    return Made(plan, cast, today)
