"""The way of a round: its trees in order, how far it is on foot, what it usually gives and weighs."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Avg, Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from sugarbush.core.rounds import Place, walk
from sugarbush.core.sugar import mass_kg
from sugarbush.gathering.models import Collection, CollectionState, Outcome
from sugarbush.gathering.models_rounds import RoundStop
from sugarbush.gathering.rounds import IN, day_span
from sugarbush.parts.shown import dressed
from sugarbush.seasons.models import Season
from sugarbush.taps.models import Assignment, AssignmentState, Tap
from sugarbush.trees.models import Tree
from sugarbush.volunteers.models import Group

USUAL_DAYS = 14
"""What a visit gave in the last fortnight says what the next will weigh; the first weeks say little by then."""
EMPTIED = (Outcome.SAP, Outcome.EMPTY)
SAP_G_L = 1000 * mass_kg(volume_ml=1_000, brix=2, temperature_c=4)


@dataclass(frozen=True, kw_only=True)
class Leg:
    """One stop with the way to it. usual_ml: None where nothing is known of the tree yet. carried_g: by then."""

    stop: RoundStop
    leg_m: float
    walked_m: float
    usual_ml: int | None
    carried_g: int
    over_limit: bool
    spout_in: bool


@dataclass(frozen=True, kw_only=True)
class Way:
    """A round on foot: from its first tree to its last. Straight lines: the streets are longer."""

    legs: tuple[Leg, ...]
    walked_m: float
    usual_ml: int
    known: int


def place_of(tree: Tree) -> Place:
    return Place(longitude_deg=tree.longitude, latitude_deg=tree.latitude)


def live_stops(round_ids: Iterable[int], on: dt.date | None = None) -> QuerySet[RoundStop]:
    """The stops of these rounds in order: now, or as they stood at the end of a day."""
    rows = RoundStop.objects.filter(round__in=list(round_ids)).order_by("round_id", "position", "pk")
    if on is None:
        return rows.filter(off_at=None)
    _start, end = day_span(on)
    return rows.filter(on_at__lt=end).filter(Q(off_at=None) | Q(off_at__gte=end))


def usual_ml(tree_ids: Iterable[int], season: Season, now: dt.datetime | None = None) -> dict[int, int]:
    """What one visit to each tree gave on average in the last fortnight, in mL; one query."""
    since = (now or timezone.now()) - dt.timedelta(days=USUAL_DAYS)
    rows = Collection.objects.filter(
        tree__in=list(tree_ids),
        season=season,
        state=CollectionState.COUNTED,
        outcome__in=EMPTIED,
        happened_at__gte=since,
    )
    return {tree: round(ml) for tree, ml in rows.order_by().values_list("tree_id").annotate(ml=Avg("volume_ml"))}


def with_spout(tree_ids: Iterable[int]) -> set[int]:
    """Those of the trees in which a spout is now; one query."""
    return set(Tap.objects.filter(tree__in=list(tree_ids), state__in=IN).values_list("tree_id", flat=True))


def way(stops: Sequence[RoundStop], usual: dict[int, int], spouts: set[int], *, carry_limit_g: int | None) -> Way:
    """Follow the stops of one round (with their trees) in order and add up the way, the sap and its weight."""
    trees = [place_of(stop.tree) for stop in stops]
    if not trees:
        return Way(legs=(), walked_m=0.0, usual_ml=0, known=0)
    # A tree without a spout is passed with empty hands.
    masses = [round(usual.get(stop.tree_id, 0) / 1000 * SAP_G_L) if stop.tree_id in spouts else 0 for stop in stops]
    steps = walk(range(len(trees)), trees, masses, start=trees[0], carry_limit_g=carry_limit_g)
    legs = tuple(
        Leg(
            stop=stop,
            leg_m=step.leg_m,
            walked_m=step.walked_m,
            usual_ml=usual.get(stop.tree_id),
            carried_g=step.carried_g,
            over_limit=step.over_limit,
            spout_in=stop.tree_id in spouts,
        )
        for stop, step in zip(stops, steps, strict=True)
    )
    tapped = [leg for leg in legs if leg.spout_in]
    return Way(
        legs=legs,
        walked_m=legs[-1].walked_m,
        usual_ml=sum(leg.usual_ml or 0 for leg in tapped),
        known=sum(leg.usual_ml is not None for leg in tapped),
    )


def ways(round_ids: Sequence[int], season: Season) -> dict[int, Way]:
    """The way of each round; three queries, however many rounds."""
    stops: dict[int, list[RoundStop]] = defaultdict(list)
    for stop in live_stops(round_ids).select_related("tree"):
        stops[stop.round_id].append(stop)
    trees = [stop.tree_id for found in stops.values() for stop in found]
    usual, spouts = usual_ml(trees, season), with_spout(trees)
    return {pk: way(stops.get(pk, []), usual, spouts, carry_limit_g=None) for pk in round_ids}


def walk_words(walked_m: float, units: str) -> str:
    """A way on foot in the reader's units: metres, kilometres from two thousand on, or miles."""
    if units == "us":
        return f"{dressed(f'{walked_m / 1609.344:.2f}')}\u00a0mi"  # the mile is exact by definition
    if walked_m >= 2_000:
        return f"{dressed(f'{walked_m / 1000:.1f}')}\u00a0km"
    metres = round(walked_m / 10) * 10 if walked_m >= 100 else round(walked_m)
    return f"{dressed(str(metres))}\u00a0m"


def off_every_round(season: Season, group: Group | None = None) -> Any:
    """A queryset of the trees given to a group this season that stand on no round; spout_in: one is in it now."""
    given = Assignment.objects.filter(tree=OuterRef("pk"), season=season).exclude(state=AssignmentState.ENDED)
    if group is not None:
        given = given.filter(group=group)
    on_round = RoundStop.objects.filter(tree=OuterRef("pk"), season=season, off_at=None)
    spout = Tap.objects.filter(tree=OuterRef("pk"), state__in=IN)
    return Tree.objects.filter(Exists(given), ~Exists(on_round)).annotate(spout_in=Exists(spout))
