"""Which pails are full first: what ran into each since it was emptied, by this programme's own litres an hour.

No published average is used: what trees elsewhere give in a season says little about an hour here. A tree's own visits
come first, then the mean of all trees of the programme, and each line says which.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sugarbush.core.figures import LEAST_OWN
from sugarbush.core.outlook import hours_to_full
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.parts.shown import dressed, in_words
from sugarbush.parts.worked import Working, working
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap, TapState
from sugarbush.trees.models import Tree
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

LOOK_BACK = dt.timedelta(days=8)
"""The last week and a day: a run of March says nothing about one of February."""
FURTHEST_H = 72.0
EMPTIED = (Outcome.SAP, Outcome.EMPTY)


@dataclass(frozen=True, slots=True)
class Run:
    """What ran into a pail, over how many hours, by how many visits."""

    volume_ml: int = 0
    hours: float = 0.0
    visits: int = 0

    @property
    def ml_an_hour(self) -> float:
        return self.volume_ml / self.hours if self.hours else 0.0

    @property
    def enough(self) -> bool:
        """Whether it may be reckoned with: as many readings as any own figure needs."""
        return self.visits >= LEAST_OWN and self.hours > 0


@dataclass(frozen=True, kw_only=True)
class Filling:
    """One tree's pails. hours: until they run over, 0 when they should be full. own: by this tree's own visits."""

    tree: Tree
    capacity_ml: int
    held_ml: int
    run: Run
    own: bool
    hours: float
    full_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class FullFirst:
    """The pails that are full first, and how that was worked out. too_few: nothing can be said yet."""

    rows: tuple[Filling, ...]
    panel: Working | None
    too_few: bool


def runs(
    visits: Iterable[tuple[int, dt.datetime, int]], started: dict[int, dt.datetime]
) -> tuple[dict[int, Run], dict[int, dt.datetime]]:
    """Each tree's run and when its pail was last emptied.

    visits: (tree, when, mL), oldest first. started: when each tree's spout went in. The first visit in sight only
    starts the clock, unless the spout itself went in later than the visits looked at.
    """
    found: dict[int, Run] = {}
    last = dict(started)
    for tree, when, volume_ml in visits:
        before = last.get(tree)
        if before is not None and when > before:
            run = found.get(tree, Run())
            hours = (when - before).total_seconds() / 3600
            found[tree] = Run(run.volume_ml + volume_ml, run.hours + hours, run.visits + 1)
        last[tree] = when
    return found, last


def full_first(
    person: Person, season: Season, *, units: str, now: dt.datetime | None = None, most: int = 8
) -> FullFirst:
    """The pails in this person's reach that run over soonest, within three days. Two queries."""
    now = now or timezone.now()
    taps = Tap.objects.filter(
        access.scope(person, "collection.see").filter("tree__group"), season=season, state=TapState.IN, out_at=None
    ).select_related("tree__group")
    trees: dict[int, Tree] = {}
    capacity: dict[int, int] = defaultdict(int)
    started: dict[int, dt.datetime] = {}
    since = now - LOOK_BACK
    for tap in taps:
        trees[tap.tree_id] = tap.tree
        capacity[tap.tree_id] += tap.container_ml
        if tap.placed_at >= since:
            started[tap.tree_id] = min(tap.placed_at, started.get(tap.tree_id, tap.placed_at))
    visits = (
        Collection.objects.filter(
            season=season,
            state=CollectionState.COUNTED,
            outcome__in=EMPTIED,
            happened_at__gte=since,
            happened_at__lte=now,
        )
        .order_by("happened_at")
        .values_list("tree_id", "happened_at", "volume_ml")
    )
    own, emptied = runs(visits, started)
    known = [run for tree, run in own.items() if tree in trees]
    everyone = Run(
        sum(run.volume_ml for run in known), sum(run.hours for run in known), sum(run.visits for run in known)
    )
    rows = []
    for tree_id, tree in trees.items():
        run = own.get(tree_id, Run())
        is_own = run.enough
        run = run if is_own else everyone
        if tree_id not in emptied or not run.enough or not run.ml_an_hour:
            continue
        rate = min(run.ml_an_hour, 100_000.0)
        since_h = (now - emptied[tree_id]).total_seconds() / 3600
        held_ml = min(round(rate * since_h), 10_000_000)
        hours = hours_to_full(capacity_ml=capacity[tree_id], held_ml=held_ml, ml_an_hour=rate)
        if hours > FURTHEST_H:
            continue
        rows.append(
            Filling(
                tree=tree,
                capacity_ml=capacity[tree_id],
                held_ml=min(held_ml, capacity[tree_id]),
                run=run,
                own=is_own,
                hours=hours,
                full_at=now + dt.timedelta(hours=hours),
            )
        )
    rows.sort(key=lambda row: (row.hours, row.held_ml / row.capacity_ml * -1, row.tree.code))
    shown = tuple(rows[:most])
    return FullFirst(
        rows=shown,
        panel=_panel(shown[0], units) if shown else None,
        too_few=bool(trees) and not everyone.enough,
    )


def origin_words(row: Filling) -> str:
    """Whose figure a line rests on."""
    visits = ngettext("%(n)d visit", "%(n)d visits", row.run.visits) % {"n": row.run.visits}
    if row.own:
        return _("this tree’s own run, %(visits)s") % {"visits": visits}
    return _("mean of the programme’s trees, %(visits)s") % {"visits": visits}


def _panel(row: Filling, units: str) -> Working:
    rate = in_words("volume", round(row.run.ml_an_hour), units, exact=True)
    room = in_words("volume", row.capacity_ml - row.held_ml, units)
    return working(
        "outlook.hours_to_full",
        "figures.figure",
        of=_("when a pail is full"),
        units=units,
        sums=[
            _("%(code)s: room %(room)s ÷ %(rate)s an hour = %(hours)s h")
            % {"code": row.tree.code, "room": room, "rate": rate, "hours": dressed(f"{row.hours:.1f}")}
        ],
        words=_("Room left ÷ what runs in an hour. What is in it = hours since it was emptied × the same run."),
        inputs={
            "capacity_ml": row.capacity_ml,
            "held_ml": row.held_ml,
            "ml_an_hour": _("%(rate)s an hour: %(origin)s") % {"rate": rate, "origin": origin_words(row)},
        },
        notes=[
            _(
                "A run is what the last eight days’ visits found ÷ the hours between them, nights included. With "
                "fewer than three visits the mean of the programme’s trees stands in. No published average is used."
            )
        ],
    )
