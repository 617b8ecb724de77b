"""What the page of one round shows: its way, its people, the runs that come and those that were."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from sugarbush.gathering.crew import people_of
from sugarbush.gathering.models import Collection, CollectionState
from sugarbush.gathering.models_rounds import Part, Round, RoundRun, RoundStop, RunPerson
from sugarbush.gathering.rounds import IN, day_span
from sugarbush.gathering.run_state import Standing, standing
from sugarbush.gathering.way import Way, live_stops, usual_ml, way, with_spout
from sugarbush.parts.drawing import waymap
from sugarbush.parts.drawing.waymap import Stop, WayMap
from sugarbush.parts.places import Spot
from sugarbush.taps.models import Tap
from sugarbush.volunteers.models import Person

RUNS_BACK, RUNS_AHEAD = 10, 14
MAP_PX = {"wide": 720, "narrow": 328}
FOOT_M = 0.3048


@dataclass(frozen=True, kw_only=True)
class RunLine:
    """One run in a list. visited and trees: of that day's way."""

    run: RoundRun
    standing: Standing
    visited: int
    trees: int
    people: tuple[RunPerson, ...]

    @property
    def comes(self) -> list[RunPerson]:
        return [one for one in self.people if one.comes]

    @property
    def standby(self) -> list[RunPerson]:
        return [one for one in self.people if one.part == Part.STANDBY]


def way_of(found: Round, person: Person) -> Way:
    """The round's way with the weight in this person's hands; three queries."""
    stops = list(live_stops([found.pk]).select_related("tree"))
    trees = [stop.tree_id for stop in stops]
    usual = usual_ml(trees, found.season)
    return way(stops, usual, with_spout(trees), carry_limit_g=person.carry_limit_g or None)


@dataclass(frozen=True, kw_only=True)
class RoundMap:
    """The way as a line, in one form. stops: each with whether a spout is in."""

    form: str
    drawn: WayMap
    stops: tuple[tuple[Stop, bool], ...]
    unit: str


def maps_of(found: Way, units: str) -> list[RoundMap]:
    """The line map of a way for a desk and for a phone; none without a stop. From the trees already read."""
    places = [(leg.stop.tree.longitude, leg.stop.tree.latitude) for leg in found.legs]
    unit, unit_m = ("ft", FOOT_M) if units == "us" else ("m", 1.0)
    maps = []
    for form, width in MAP_PX.items():
        drawn = waymap.draw(places, width_px=width, unit_m=unit_m)
        if drawn is not None:
            stops = zip(drawn.stops, (leg.spout_in for leg in found.legs), strict=True)
            maps.append(RoundMap(form=form, drawn=drawn, stops=tuple(stops), unit=unit))
    return maps


def spots_of(stops: Sequence[RoundStop]) -> list[Spot]:
    """The trees of a way as places on a map, numbered as they are walked."""
    return [
        Spot(
            key=stop.tree.code,
            longitude_deg=stop.tree.longitude,
            latitude_deg=stop.tree.latitude,
            name=stop.tree.code,
            words=f"{n}. {stop.tree.address}".rstrip(". "),
            more={"place_on_the_way": n, "address": stop.tree.address},
        )
        for n, stop in enumerate(stops, start=1)
    ]


def runs_around(found: Round, today: dt.date) -> tuple[list[RunLine], list[RunLine]]:
    """The runs from today on, and those before, newest first."""
    runs = RoundRun.objects.filter(round=found).select_related("round", "finished_by")
    ahead = list(runs.filter(date__gte=today).order_by("date")[:RUNS_AHEAD])
    back = list(runs.filter(date__lt=today).order_by("-date")[:RUNS_BACK])
    lines = run_lines([*ahead, *back])
    return [lines[run.pk] for run in ahead], [lines[run.pk] for run in back]


def run_lines(runs: Sequence[RoundRun]) -> dict[int, RunLine]:
    """How these runs stand, whatever their rounds and days; seven queries."""
    if not runs:
        return {}
    keys = {run.round_id for run in runs}
    first, last = min(run.date for run in runs), max(run.date for run in runs)
    start, end = day_span(first)[0], day_span(last)[1]
    stops: dict[int, list[RoundStop]] = defaultdict(list)
    for stop in RoundStop.objects.filter(round__in=keys, on_at__lt=end):
        stops[stop.round_id].append(stop)
    trees = RoundStop.objects.filter(round__in=keys).values("tree")
    visited: dict[dt.date, set[int]] = defaultdict(set)
    rows = Collection.objects.filter(tree__in=trees, happened_at__gte=start, happened_at__lt=end)
    for tree, at in rows.exclude(state=CollectionState.VOID).values_list("tree_id", "happened_at"):
        visited[timezone.localdate(at)].add(tree)
    spouts: dict[int, list[tuple[dt.datetime, dt.datetime | None]]] = defaultdict(list)
    for tree, placed_at, out_at, state in Tap.objects.filter(tree__in=trees).values_list(
        "tree_id", "placed_at", "out_at", "state"
    ):
        spouts[tree].append((placed_at, None if state in IN else out_at))
    people = people_of([run.pk for run in runs])
    now = timezone.now()
    found = {}
    for run in runs:
        _start, run_end = day_span(run.date)
        came = visited.get(run.date, set())
        on_way = {
            stop.tree_id
            for stop in stops[run.round_id]
            if stop.on_at < run_end
            and (stop.off_at is None or stop.off_at >= run_end)
            and (
                stop.tree_id in came
                or any(in_at < run_end and (out is None or out >= run_end) for in_at, out in spouts[stop.tree_id])
            )
        }
        there = len(on_way & came)
        found[run.pk] = RunLine(
            run=run,
            standing=standing(
                said=run.state,
                day=run.date,
                latest_start=run.round.latest_start,
                now=now,
                trees=len(on_way),
                visited=there,
            ),
            visited=there,
            trees=len(on_way),
            people=people.get(run.pk, ()),
        )
    return found
