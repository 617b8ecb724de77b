"""Many trees into rounds that people can walk, and places to empty the pails on the way."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, radians

from sugarbush.core.errors import OutOfRange, check_range
from sugarbush.core.rounds import MOST_STOPS, Place, distance_m, walking_order

USUAL_STOPS = 40  # a morning's round; common practice [M]
MOST_TREES = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundDraft:
    """One round: its trees' places in the list given, in walking order, and the way from start to start in metres."""

    indexes: tuple[int, ...]
    walked_m: float


def split_into_rounds(trees: Sequence[Place], *, start: Place, most_stops: int = USUAL_STOPS) -> list[RoundDraft]:
    """Cut the trees of a group into rounds of near neighbours, each walked from the start and back.

    trees: 0 to 20,000.  start: the depot.  most_stops: 1 to 200.  As few rounds as that allows, as even as they can be.
    The map is cut in two, crosswise to its longer side, again and again; then each round gets its walking order. The
    same trees always give the same rounds.  Raises OutOfRange.
    Error: against pyvrp's rounds of the same size 2 to 13 % longer on trees strewn at random [C].
    Source: recursive bisection, common practice [M]; orders as walking_order.

    >>> street = [Place(longitude_deg=-72 + n / 1000, latitude_deg=44) for n in range(6)]
    >>> drafts = split_into_rounds(street, start=Place(longitude_deg=-72.001, latitude_deg=44), most_stops=3)
    >>> [sorted(draft.indexes) for draft in drafts]
    [[0, 1, 2], [3, 4, 5]]
    """
    check_range(len(trees), low=0, high=MOST_TREES, quantity="stops", unit="trees")
    check_range(most_stops, low=1, high=MOST_STOPS, quantity="stops", unit="trees")
    if not trees:
        return []
    # East and north in the same measure: a degree of longitude shrinks towards the poles.
    narrow = cos(radians(sum(tree.latitude_deg for tree in trees) / len(trees)))
    flat = [(tree.longitude_deg * narrow, tree.latitude_deg) for tree in trees]
    clusters = _halved(list(range(len(trees))), flat, ceil(len(trees) / most_stops))
    return [_draft(cluster, trees, start) for cluster in clusters]


def _halved(indexes: list[int], flat: Sequence[tuple[float, float]], rounds: int) -> list[list[int]]:
    """Cut into so many clusters of sizes that differ by one at most."""
    if rounds == 1:
        return [indexes]
    sides = [[flat[index][axis] for index in indexes] for axis in (0, 1)]
    axis = max((0, 1), key=lambda one: max(sides[one]) - min(sides[one]))
    ordered = sorted(indexes, key=lambda index: (flat[index][axis], flat[index][1 - axis], index))
    first = rounds // 2
    # Whole rounds on either side: the even size, and one more for as many as the division leaves over.
    size, over = divmod(len(indexes), rounds)
    cut = first * size + min(first, over)
    return _halved(ordered[:cut], flat, first) + _halved(ordered[cut:], flat, rounds - first)


def _draft(cluster: Sequence[int], trees: Sequence[Place], start: Place) -> RoundDraft:
    order = [cluster[stop] for stop in walking_order([trees[index] for index in cluster], start=start)]
    stops = [start, *(trees[index] for index in order), start]
    walked_m = sum(distance_m(one, other) for one, other in pairwise(stops))
    return RoundDraft(indexes=tuple(order), walked_m=walked_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop of a round with drop-offs.

    tree: its place in the list of trees, None at a drop-off.  drop_off: its place in the list of drop-offs, None at a
    tree.  leg_m, walked_m: from the stop before, and since the start.  carried_g: in hand on leaving.
    over_limit: whether that passes the person's limit: a tree too heavy by itself, for two people or two walks.
    """

    tree: int | None
    drop_off: int | None
    leg_m: float
    walked_m: float
    carried_g: int
    over_limit: bool


def with_drop_offs(
    order: Sequence[int],
    trees: Sequence[Place],
    masses_g: Sequence[int],
    *,
    start: Place,
    drop_offs: Sequence[Place],
    carry_limit_g: int,
) -> list[Stop]:
    """Walk a round and empty the pails at a drop-off before the next tree would be too heavy, and at the end.

    order: places in trees, each once.  masses_g: sap and pail at each tree, 0 to 1,000,000.  drop_offs: one or more.
    carry_limit_g: 1 to 1,000,000; a load exactly at it is within it.  Of the drop-offs the one that makes the way to
    the next tree shortest is taken; at the end the nearest.  Raises OutOfRange.
    Source: common practice [M]; distances as distance_m.

    >>> start, *trees = [Place(longitude_deg=-72, latitude_deg=44 + n / 1000) for n in range(4)]
    >>> stops = with_drop_offs([0, 1, 2], trees, [8_000] * 3, start=start, drop_offs=[start], carry_limit_g=16_000)
    >>> [(stop.tree, stop.drop_off, stop.carried_g) for stop in stops]
    [(0, None, 8000), (1, None, 16000), (None, 0, 0), (2, None, 8000), (None, 0, 0)]
    """
    if not drop_offs:
        raise OutOfRange(quantity="stops", value=0, low=1, high="any", unit="")
    check_range(carry_limit_g, low=1, high=1_000_000, quantity="mass", unit="g")
    for mass_g in masses_g:
        check_range(mass_g, low=0, high=1_000_000, quantity="mass", unit="g")
    stops: list[Stop] = []
    here, walked_m, carried_g = start, 0.0, 0

    def go(place: Place, *, tree: int | None = None, drop_off: int | None = None) -> None:
        nonlocal here, walked_m, carried_g
        leg_m = distance_m(here, place)
        here, walked_m = place, walked_m + leg_m
        carried_g = 0 if tree is None else carried_g + masses_g[tree]
        stops.append(
            Stop(
                tree=tree, drop_off=drop_off, leg_m=leg_m, walked_m=walked_m, carried_g=carried_g,
                over_limit=carried_g > carry_limit_g,
            )
        )  # fmt: skip

    for index in order:
        if carried_g and carried_g + masses_g[index] > carry_limit_g:
            chosen = _best_drop_off(drop_offs, here, trees[index])
            go(drop_offs[chosen], drop_off=chosen)
        go(trees[index], tree=index)
    if carried_g:
        chosen = _best_drop_off(drop_offs, here, here)
        go(drop_offs[chosen], drop_off=chosen)
    return stops


def _best_drop_off(drop_offs: Sequence[Place], here: Place, next_place: Place) -> int:
    def detour_m(place: int) -> float:
        return distance_m(here, drop_offs[place]) + distance_m(drop_offs[place], next_place)

    return min(range(len(drop_offs)), key=lambda place: (detour_m(place), place))
