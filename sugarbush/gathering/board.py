"""The board of today: how each round stands, by entries, taps, runs and the ledger; a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import timezone

from sugarbush.gathering.crew import first_standby, mark_out, rows_of
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.gathering.models_rounds import Part, Round, RoundPerson, RoundRun, RoundStop, RunPerson, RunState
from sugarbush.gathering.rounds import IN, Stop, day_span
from sugarbush.gathering.run_state import ORDER, WAITS, Standing, cut_off, standing
from sugarbush.gathering.way import EMPTIED, live_stops
from sugarbush.sap.ledger import signed_ml
from sugarbush.sap.models import Cause, Movement
from sugarbush.sap.models import Standing as Counts
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Tap
from sugarbush.volunteers import access
from sugarbush.volunteers.booking import Papers
from sugarbush.volunteers.models import Person

AHEAD_DAYS = 14
"""Who comes next is looked for so far ahead; a round without a run by then has nobody coming."""
ORIGIN = "collection"


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """The tree of a round that was emptied longest ago, or never since its spout went in."""

    code: str
    address: str
    since: dt.datetime
    hours: float
    ever: bool

    @property
    def days(self) -> int:
        return int(self.hours // 24)

    @property
    def rest_h(self) -> int:
        return int(self.hours % 24)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One round today. stops: the trees on its way, visited or not. volume_ml: counted so far, out of its trees."""

    round: Round
    run: RoundRun | None
    standing: Standing
    stops: tuple[Stop, ...]
    volume_ml: int
    started_at: dt.datetime | None
    cut_off: dt.datetime
    longest: Waiting | None
    to_review: int
    people: tuple[RunPerson, ...]
    standby: RunPerson | RoundPerson | None

    @property
    def visited(self) -> int:
        return sum(stop.visited for stop in self.stops)

    @property
    def left(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if not stop.visited)

    @property
    def is_late(self) -> bool:
        return self.standing in (Standing.LATE, Standing.SOON)

    @property
    def may_call(self) -> bool:
        """Whether calling somebody who stands by would help."""
        return self.run is not None and self.standing in WAITS and (self.is_late or not self.comes)

    @property
    def comes(self) -> list[RunPerson]:
        return [one for one in self.people if one.comes]

    @property
    def out(self) -> list[RunPerson]:
        """Who was put on it and may not be there by now."""
        return [one for one in self.people if one.part == Part.WALKS and one.out]

    @property
    def called(self) -> list[RunPerson]:
        """Who stood by, was called, and has not said no."""
        return [one for one in self.comes if one.called_at is not None]


@dataclass(frozen=True, kw_only=True)
class Board:
    """All rounds in a person's reach, the urgent first."""

    day: dt.date
    now: dt.datetime
    lines: tuple[Line, ...]
    # The next day on which somebody comes to a tree after today, by round; today's own run is in its line.
    coming: dict[int, RoundRun]
    tomorrow: dict[int, RoundRun]
    people: dict[int, tuple[RunPerson, ...]]
    counts: dict[Standing, int] = field(default_factory=dict)

    @property
    def trees(self) -> int:
        return sum(len(line.stops) for line in self.lines)

    @property
    def visited(self) -> int:
        return sum(line.visited for line in self.lines)

    @property
    def volume_ml(self) -> int:
        return sum(line.volume_ml for line in self.lines)

    @property
    def to_review(self) -> int:
        return sum(line.to_review for line in self.lines)


def rounds_in_reach(person: Person, season: Season, act: str = "round.see") -> QuerySet[Round]:
    """The rounds of the season that this person may see, by group and name."""
    reach = access.scope(person, act).filter()
    return Round.objects.filter(reach, season=season, ended_at=None).select_related("group", "season")


def runs_planned(person: Person, season: Season, day: dt.date) -> bool:
    """Whether any round in reach is planned for that day; one query."""
    found = rounds_in_reach(person, season, "round.board")
    return RoundRun.objects.filter(round__in=found, date=day, state=RunState.PLANNED).exists()


def board(person: Person, season: Season, now: dt.datetime | None = None) -> Board:
    """How today stands; twelve queries, however many rounds there are."""
    now = now or timezone.now()
    found = list(rounds_in_reach(person, season, "round.board").order_by("group__name", "name", "pk"))
    return lines_of(found, season, now)


def lines_of(found: Sequence[Round], season: Season, now: dt.datetime) -> Board:
    """The board of these rounds."""
    day = timezone.localdate(now)
    keys = [one.pk for one in found]
    runs = _runs(keys, day)
    todays = {run.round_id: run for run in runs if run.date == day}
    after = [run for run in runs if run.date > day and run.state != "called_off"]
    on = rows_of([run.pk for run in runs if (run.date - day).days <= 1])
    usual: dict[int, list[RoundPerson]] = defaultdict(list)
    for one in RoundPerson.objects.filter(round__in=keys, part=Part.STANDBY).select_related("person").order_by("nth"):
        usual[one.round_id].append(one)
    there = [one.person for rows in on.values() for one in rows]
    papers = Papers([*there, *(one.person for rows in usual.values() for one in rows)])
    mark_out(on, papers)
    people = {run: tuple(rows) for run, rows in on.items()}
    read = _Read.of(keys, season, day)
    lines = [_line(one, todays.get(one.pk), read, people, usual.get(one.pk, []), papers, now) for one in found]
    lines.sort(key=lambda line: (ORDER[line.standing], line.cut_off))
    counts = {kind: sum(line.standing == kind for line in lines) for kind in Standing}
    return Board(
        day=day,
        now=now,
        lines=tuple(lines),
        # The first of each round: later runs of a round are overwritten by earlier ones.
        coming={run.round_id: run for run in reversed(after)},
        tomorrow={run.round_id: run for run in runs if (run.date - day).days == 1},
        people=people,
        counts={kind: count for kind, count in counts.items() if count},
    )


def _runs(round_ids: Sequence[int], day: dt.date) -> list[RoundRun]:
    span = (day, day + dt.timedelta(days=AHEAD_DAYS))
    return list(RoundRun.objects.filter(round__in=round_ids, date__range=span).order_by("date", "pk"))


@dataclass(frozen=True, kw_only=True)
class _Read:
    """What the books say about the trees of these rounds on one day."""

    stops: dict[int, list[RoundStop]]
    spouts: dict[int, list[dt.datetime]]  # when each spout that is in went in, by tree
    visits: dict[int, list[Collection]]
    volume_ml: dict[int, int]
    to_review: dict[int, int]

    @classmethod
    def of(cls, round_ids: Sequence[int], season: Season, day: dt.date) -> _Read:
        start, end = day_span(day)
        newest = Collection.objects.filter(tree=OuterRef("tree"), season=season, outcome__in=EMPTIED)
        last = newest.exclude(state=CollectionState.VOID).order_by("-happened_at").values("happened_at")
        stops: dict[int, list[RoundStop]] = defaultdict(list)
        rows = live_stops(round_ids, day).select_related("tree").annotate(emptied_at=Subquery(last[:1]))
        for stop in rows:
            stops[stop.round_id].append(stop)
        # As a question inside the question: thousands of trees would be too many to send along.
        trees = RoundStop.objects.filter(round__in=list(round_ids)).values("tree")
        spouts: dict[int, list[dt.datetime]] = defaultdict(list)
        for tree, placed_at in Tap.objects.filter(tree__in=trees, state__in=IN).values_list("tree_id", "placed_at"):
            spouts[tree].append(placed_at)
        visits: dict[int, list[Collection]] = defaultdict(list)
        today = Collection.objects.filter(tree__in=trees, happened_at__gte=start, happened_at__lt=end)
        standing_rows = today.exclude(state=CollectionState.VOID).order_by("happened_at")
        for visit in standing_rows.only("tree_id", "outcome", "happened_at"):
            visits[visit.tree_id].append(visit)
        review = Collection.objects.filter(tree__in=trees, season=season, state=CollectionState.REVIEW)
        to_review: dict[int, int] = defaultdict(int)
        for tree in review.values_list("tree_id", flat=True):
            to_review[tree] += 1
        return cls(
            stops=stops,
            spouts=spouts,
            visits=visits,
            volume_ml=_counted_ml(today),
            to_review=to_review,
        )


def _counted_ml(today: QuerySet[Collection]) -> dict[int, int]:
    """What the ledger counts of today's entries, by tree; one query. What is to review is left out of it."""
    rows = Movement.objects.filter(
        cause=Cause.OUT_OF_TREE,
        act__standing=Counts.COUNTED,
        act__origin_kind=ORIGIN,
        act__origin_uuid__in=today.values("pk"),
    )
    return dict(rows.order_by().values_list("act__tree").annotate(ml=signed_ml()))


def _line(
    found: Round,
    run: RoundRun | None,
    read: _Read,
    people: dict[int, tuple[RunPerson, ...]],
    usual: list[RoundPerson],
    papers: Papers,
    now: dt.datetime,
) -> Line:
    day = timezone.localdate(now)
    rows = [stop for stop in read.stops.get(found.pk, []) if _on_the_way(stop, read)]
    stops = tuple(
        Stop(
            pk=row.tree_id,
            code=row.tree.code,
            address=row.tree.address,
            shown_state=row.tree.shown_state,
            outcome=read.visits[row.tree_id][-1].outcome if row.tree_id in read.visits else "",
        )
        for row in rows
    )
    visits = [visit for row in rows for visit in read.visits.get(row.tree_id, [])]
    there = people.get(run.pk, ()) if run else ()
    visited = sum(stop.visited for stop in stops)
    return Line(
        round=found,
        run=run,
        standing=standing(
            said=run.state if run else None,
            day=day,
            latest_start=found.latest_start,
            now=now,
            trees=len(stops),
            visited=visited,
        ),
        stops=stops,
        volume_ml=sum(read.volume_ml.get(row.tree_id, 0) for row in rows),
        started_at=min((visit.happened_at for visit in visits), default=None),
        cut_off=cut_off(day, found.latest_start),
        longest=_longest(rows, read, now),
        to_review=sum(read.to_review.get(row.tree_id, 0) for row in rows),
        people=there,
        standby=first_standby(there, usual, papers, day),
    )


def _on_the_way(stop: RoundStop, read: _Read) -> bool:
    """A tree stays on today's way while a spout is in it; one that was visited today stays to be seen."""
    return stop.tree_id in read.visits or stop.tree_id in read.spouts


def _longest(rows: Iterable[RoundStop], read: _Read, now: dt.datetime) -> Waiting | None:
    found: list[tuple[dt.datetime, bool, RoundStop]] = []
    for row in rows:
        in_now = read.spouts.get(row.tree_id)
        emptied: dt.datetime | None = row.emptied_at  # type: ignore[attr-defined]  # annotated where it is read
        if in_now:
            found.append((max(emptied, min(in_now)) if emptied else min(in_now), emptied is not None, row))
    if not found:
        return None
    since, ever, row = min(found, key=lambda one: one[0])
    hours = max(0.0, (now - since).total_seconds() / 3600)
    return Waiting(code=row.tree.code, address=row.tree.address, since=since, hours=hours, ever=ever)
