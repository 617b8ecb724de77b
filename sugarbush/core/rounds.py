"""A sensible walking order for a round, and what is carried along it.

Distances are straight lines between trees, not streets: good for an order, too short for a time. The order is found by
going to the nearest tree, then taking crossings out (2-opt) and moving short stretches (or-opt) until nothing helps,
with a few nudges to get out of a corner. The same trees always give the same order.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import asin, cos, radians, sin, sqrt
from random import Random

from sugarbush.core.errors import check_range

EARTH_M = 6_371_008.8  # mean radius of WGS 84
MOST_STOPS = 200
_NUDGES = 40

Matrix = list[list[float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A point on the map.  longitude_deg: -180 to 180.  latitude_deg: -90 to 90.  Raises OutOfRange."""

    longitude_deg: float
    latitude_deg: float

    def __post_init__(self) -> None:
        check_range(self.longitude_deg, low=-180, high=180, quantity="longitude", unit="°")
        check_range(self.latitude_deg, low=-90, high=90, quantity="latitude", unit="°")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stop on the way.

    index: the tree's place in the list given.  leg_m: from the stop before.  walked_m: since the start.
    carried_g: with this tree's sap in hand.  over_limit: whether that passes the person's limit.
    """

    index: int
    leg_m: float
    walked_m: float
    carried_g: int
    over_limit: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """A stretch of the round that ends at the depot: the trees in order and what comes back with it."""

    indexes: tuple[int, ...]
    carried_g: int
    over_limit: bool


def distance_m(one: Place, other: Place) -> float:
    """Straight distance over the ground.

    Source: haversine on a sphere of 6,371.0088 km, within 0.6 % of the true figure of the Earth.

    >>> round(distance_m(Place(longitude_deg=-72, latitude_deg=44), Place(longitude_deg=-72, latitude_deg=44.001)), 1)
    111.2
    """
    latitude, other_latitude = radians(one.latitude_deg), radians(other.latitude_deg)
    half_up = (other_latitude - latitude) / 2
    half_over = radians(other.longitude_deg - one.longitude_deg) / 2
    return 2 * EARTH_M * asin(sqrt(sin(half_up) ** 2 + cos(latitude) * cos(other_latitude) * sin(half_over) ** 2))


def walking_order(trees: Sequence[Place], *, start: Place, end: Place | None = None) -> list[int]:
    """An order to visit every tree once, from start to end (None = back to start).

    trees: at most 200.  Gives their places in the list. Not always the shortest way; checked to be within 15 % of it.
    Raises OutOfRange.  Source: nearest neighbour, 2-opt and or-opt, textbook methods [M].

    >>> street = [Place(longitude_deg=-72 + n / 1000, latitude_deg=44) for n in (3, 1, 2)]
    >>> walking_order(street, start=Place(longitude_deg=-72, latitude_deg=44))
    [0, 2, 1]
    """
    check_range(len(trees), low=0, high=MOST_STOPS, quantity="stops", unit="trees")
    # Stop 0 is the start, the last one the end; both stay where they are.
    points = [start, *trees, end or start]
    between = [[distance_m(one, other) for other in points] for one in points]
    route = _improved(_nearest_first(between), between)
    best, best_m = route, _length_m(route, between)
    chance = Random(len(points))  # noqa: S311 - a fixed seed: the same trees, the same order
    for _ in range(_NUDGES if 5 <= len(trees) <= 40 else 0):
        route = _improved(_nudged(best, chance), between)
        length_m = _length_m(route, between)
        if length_m < best_m - 1e-9:
            best, best_m = route, length_m
    if end is None and between[0][best[1]] < between[0][best[-2]]:
        # A round that comes back is as long either way: walk the long leg with empty hands, the short one laden.
        best = [best[0], *best[-2:0:-1], best[-1]]
    return [stop - 1 for stop in best[1:-1]]


def _nearest_first(between: Matrix) -> list[int]:
    last = len(between) - 1
    left = set(range(1, last))
    route = [0]
    while left:
        here = between[route[-1]]
        nearest = min(left, key=lambda stop: (here[stop], stop))
        left.remove(nearest)
        route.append(nearest)
    return [*route, last]


def _length_m(route: Sequence[int], between: Matrix) -> float:
    return sum(between[one][other] for one, other in pairwise(route))


def _improved(route: list[int], between: Matrix) -> list[int]:
    """Take turns at both moves until neither shortens the way."""
    while _uncross(route, between) or _move_stretch(route, between):
        pass
    return route


def _uncross(route: list[int], between: Matrix) -> bool:
    """2-opt: turn a stretch round where that shortens the way. Changes the route; tells whether it did."""
    changed = False
    for first in range(1, len(route) - 2):
        for last in range(first + 1, len(route) - 1):
            before, after = route[first - 1], route[last + 1]
            now_m = between[before][route[first]] + between[route[last]][after]
            then_m = between[before][route[last]] + between[route[first]][after]
            if then_m < now_m - 1e-9:
                route[first : last + 1] = route[last : first - 1 : -1]
                changed = True
    return changed


def _move_stretch(route: list[int], between: Matrix) -> bool:
    """Or-opt: move one to three stops in a row to a better place. Changes the route; tells whether it did."""
    changed = False
    for size in (1, 2, 3):
        for first in range(1, len(route) - size):
            stretch = route[first : first + size]
            before, after = route[first - 1], route[first + size]
            gain_m = between[before][stretch[0]] + between[stretch[-1]][after] - between[before][after]
            if gain_m <= 1e-9:
                continue
            rest = route[:first] + route[first + size :]
            cost_m, at, turned = min(_costs_of_place(stretch, rest, between))
            if cost_m < gain_m - 1e-9:
                route[:] = [*rest[:at], *(stretch[::-1] if turned else stretch), *rest[at:]]
                changed = True
    return changed


def _costs_of_place(stretch: list[int], rest: list[int], between: Matrix) -> Iterator[tuple[float, int, bool]]:
    """What each place costs for a stretch: metres added, where, and whether it is walked backwards there."""
    to_head, to_tail = between[stretch[0]], between[stretch[-1]]
    for at, (one, other) in enumerate(pairwise(rest), start=1):
        apart_m = between[one][other]
        yield to_head[one] + to_tail[other] - apart_m, at, False
        yield to_tail[one] + to_head[other] - apart_m, at, True


def _nudged(route: Sequence[int], chance: Random) -> list[int]:
    """Cut the middle in three and swap two parts (the double bridge), so that 2-opt cannot simply undo it."""
    one, two, three = sorted(chance.sample(range(1, len(route)), 3))
    return [*route[:one], *route[two:three], *route[one:two], *route[three:]]


def walk(
    order: Sequence[int],
    trees: Sequence[Place],
    masses_g: Sequence[int],
    *,
    start: Place,
    carry_limit_g: int | None = None,
    carried_at_start_g: int = 0,
) -> list[Step]:
    """Follow an order and add up the way and the weight in hand.

    order: places in trees.  masses_g: sap and pail at each tree, 0 or more.  carry_limit_g: the person's own limit,
    above 0; None = none set. A load exactly at the limit is within it.  Raises OutOfRange.

    >>> depot, *trees = [Place(longitude_deg=-72, latitude_deg=44 + n / 1000) for n in range(3)]
    >>> steps = walk([0, 1], trees, [8_000, 8_000], start=depot, carry_limit_g=15_000)
    >>> [(round(step.walked_m), step.carried_g, step.over_limit) for step in steps]
    [(111, 8000, False), (222, 16000, True)]
    """
    _check_masses(masses_g, carry_limit_g)
    steps = []
    here, walked_m, carried_g = start, 0.0, carried_at_start_g
    for index in order:
        leg_m = distance_m(here, trees[index])
        here, walked_m, carried_g = trees[index], walked_m + leg_m, carried_g + masses_g[index]
        over = carry_limit_g is not None and carried_g > carry_limit_g
        steps.append(Step(index=index, leg_m=leg_m, walked_m=walked_m, carried_g=carried_g, over_limit=over))
    return steps


def trips(order: Sequence[int], masses_g: Sequence[int], *, carry_limit_g: int) -> list[Trip]:
    """Cut a round into trips, each back to the depot before the next pail would pass the person's limit.

    masses_g: 0 or more each.  carry_limit_g: above 0. A single tree heavier than the limit is a trip by itself, marked
    over_limit: two people, or two walks.  Raises OutOfRange.

    >>> [trip.indexes for trip in trips([0, 1, 2], [8_000, 8_000, 3_000], carry_limit_g=15_000)]
    [(0,), (1, 2)]
    """
    _check_masses(masses_g, carry_limit_g)
    found: list[Trip] = []
    indexes: list[int] = []
    carried_g = 0
    for index in order:
        if indexes and carried_g + masses_g[index] > carry_limit_g:
            found.append(Trip(indexes=tuple(indexes), carried_g=carried_g, over_limit=carried_g > carry_limit_g))
            indexes, carried_g = [], 0
        indexes.append(index)
        carried_g += masses_g[index]
    if indexes:
        found.append(Trip(indexes=tuple(indexes), carried_g=carried_g, over_limit=carried_g > carry_limit_g))
    return found


def _check_masses(masses_g: Sequence[int], carry_limit_g: int | None) -> None:
    for mass_g in masses_g:
        check_range(mass_g, low=0, high=1_000_000, quantity="mass", unit="g")
    if carry_limit_g is not None:
        check_range(carry_limit_g, low=1, high=1_000_000, quantity="mass", unit="g")
