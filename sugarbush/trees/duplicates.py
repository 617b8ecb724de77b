"""Entries that may be one and the same tree.

Same kind (or kind unknown on either side) within 3 m, anything within 1.5 m, or the same number in the town's list.
The distances are common practice, no source: a good hand-held position is off by about as much.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from django.core.cache import cache
from django.db.models import Count, Max, Sum
from django.utils.translation import gettext as _

from sugarbush.trees.models import Life, SaidApart, Shown, Tree, TreeObservation
from sugarbush.trees.queries import may_see, trees_for
from sugarbush.trees.tiles import metres_between, tiles_of_box
from sugarbush.volunteers.models import Person

ALIKE_M = 3.0
ANY_M = 1.5
MOST_PAIRS = 100
KEPT_S = 600
_TILES_IN_ONE_QUESTION = 2_000
_METRES_A_DEGREE = 111_195.0  # of latitude: earth radius 6,371,009 m (IUGG mean) times pi / 180


def box_round(longitude_deg: float, latitude_deg: float, metres: float) -> tuple[float, float, float, float]:
    """West, south, east, north of a square that holds everything within that many metres."""
    up = metres / _METRES_A_DEGREE
    across = up / max(0.01, math.cos(math.radians(latitude_deg)))
    return longitude_deg - across, latitude_deg - up, longitude_deg + across, latitude_deg + up


def alike(metres: float, one: int | None, other: int | None) -> bool:
    """Whether two entries so far apart, of these species, may be one tree.

    >>> alike(2.0, 1, 1), alike(2.0, 1, 2), alike(1.0, 1, 2), alike(2.0, None, 2), alike(3.1, 1, 1)
    (True, False, True, True, False)
    """
    return metres <= ANY_M or (metres <= ALIKE_M and (one is None or other is None or one == other))


@dataclass(frozen=True, kw_only=True)
class Double:
    """A tree that is there already. Of another group's tree only tag, place and species are shown."""

    tree: Tree
    metres: float
    same_number: bool
    open_to_you: bool
    photo: TreeObservation | None = None

    @property
    def why(self) -> str:
        if self.same_number:
            return _("has the same number in the town’s list")
        return _("stands %(metres)s m away") % {"metres": f"{self.metres:.1f}"}


def likely_doubles(
    *,
    person: Person,
    longitude_deg: float,
    latitude_deg: float,
    species_id: int | None = None,
    inventory_number: str = "",
    apart_from: Iterable[int] = (),
) -> list[Double]:
    """Trees of every group that a new entry here may be, nearest first."""
    west, south, east, north = box_round(longitude_deg, latitude_deg, ALIKE_M)
    standing = Tree.objects.standing_alone().exclude(life=Life.FELLED).select_related("species", "group")
    standing = standing.exclude(pk__in=list(apart_from))
    near = standing.filter(
        t17__in=tiles_of_box(west=west, south=south, east=east, north=north),
        longitude__range=(west, east),
        latitude__range=(south, north),
    )
    found: dict[int, Double] = {}
    photos: dict[int, TreeObservation] = {}
    numbered = standing.filter(inventory_number=inventory_number)[:5] if inventory_number else []
    candidates = [*numbered, *near]
    for look in TreeObservation.objects.filter(tree__in=candidates).exclude(photo="").order_by("date", "pk"):
        photos[look.tree_id] = look
    for tree in candidates:
        metres = metres_between(lon1=longitude_deg, lat1=latitude_deg, lon2=tree.longitude, lat2=tree.latitude)
        same_number = bool(inventory_number) and tree.inventory_number == inventory_number
        if same_number or alike(metres, species_id, tree.species_id):
            is_open = may_see(person, tree)
            found[tree.pk] = Double(
                tree=tree,
                metres=metres,
                same_number=same_number,
                open_to_you=is_open,
                photo=photos.get(tree.pk) if is_open else None,
            )
    return sorted(found.values(), key=lambda double: double.metres)


# Among the trees there are ------------------------------------------------------------


class _Spot(NamedTuple):
    pk: int
    longitude: float
    latitude: float
    species_id: int | None


class Pair(NamedTuple):
    """Two entries that may be one tree; `first` is in the programme's sights."""

    first: Tree
    second: Tree
    metres: float
    both_open: bool


def _row(latitude_deg: float) -> int:
    """The row of a net whose squares are as wide as the distance that matters."""
    return math.floor(latitude_deg * _METRES_A_DEGREE / ALIKE_M)


def _column(longitude_deg: float, row: int) -> int:
    """The column in that row. One width for the whole row, so that neighbours in a row agree about the columns."""
    middle_deg = row * ALIKE_M / _METRES_A_DEGREE
    width_deg = ALIKE_M / (_METRES_A_DEGREE * max(0.01, math.cos(math.radians(middle_deg))))
    return math.floor(longitude_deg / width_deg)


class _Net:
    """The programme's trees by small square, to ask which of them lie near a spot."""

    def __init__(self, spots: Iterable[_Spot]) -> None:
        self.squares: dict[tuple[int, int], list[_Spot]] = {}
        self.tiles: set[int] = set()
        for spot in spots:
            row = _row(spot.latitude)
            self.squares.setdefault((row, _column(spot.longitude, row)), []).append(spot)
            west, south, east, north = box_round(spot.longitude, spot.latitude, ALIKE_M)
            self.tiles.update(tiles_of_box(west=west, south=south, east=east, north=north))

    def near(self, spot: _Spot) -> Iterator[_Spot]:
        middle = _row(spot.latitude)
        for row in (middle - 1, middle, middle + 1):
            column = _column(spot.longitude, row)
            for beside in (column - 1, column, column + 1):
                yield from self.squares.get((row, beside), ())


def _pairs(person: Person) -> Iterator[tuple[int, int, float]]:
    """(programme tree, other tree, metres), each pair once. Two questions, however many trees the town lists."""
    columns = ("pk", "longitude", "latitude", "species_id")
    mine = trees_for(person).filter(shown_state__gt=Shown.LISTED).exclude(life=Life.FELLED)
    net = _Net(_Spot(*row) for row in mine.values_list(*columns))
    tiles = sorted(net.tiles)
    seen: set[tuple[int, int]] = set()
    for start in range(0, len(tiles), _TILES_IN_ONE_QUESTION):
        others = Tree.objects.standing_alone().exclude(life=Life.FELLED)
        others = others.filter(t17__in=tiles[start : start + _TILES_IN_ONE_QUESTION])
        for other in (_Spot(*row) for row in others.values_list(*columns).iterator(chunk_size=2000)):
            for spot in net.near(other):
                key = (min(spot.pk, other.pk), max(spot.pk, other.pk))
                if spot.pk == other.pk or key in seen:
                    continue
                metres = metres_between(
                    lon1=spot.longitude, lat1=spot.latitude, lon2=other.longitude, lat2=other.latitude
                )
                if alike(metres, spot.species_id, other.species_id):
                    seen.add(key)
                    yield spot.pk, other.pk, metres


def pairs_to_look_at(person: Person, most: int = MOST_PAIRS) -> tuple[list[Pair], bool]:
    """Likely doubles among the trees of the programme's sights, nearest first, and whether there are more."""
    apart = set(SaidApart.objects.values_list("first_id", "second_id"))
    found = [row for row in _pairs(person) if (min(row[:2]), max(row[:2])) not in apart]
    found.sort(key=lambda row: row[2])
    more = len(found) > most
    found = found[:most]
    ids = {pk for row in found for pk in row[:2]}
    trees = Tree.objects.select_related("species", "group").in_bulk(ids)
    pairs = [Pair(trees[one], trees[other], metres, may_see(person, trees[other])) for one, other, metres in found]
    return pairs, more


def count_of_pairs(person: Person) -> int:
    """How many likely doubles wait for this person.

    The search reads every tree near one of the programme's, so its answer is kept a while; it is asked anew as soon as
    a tree was added, changed or merged, or a pair was said to be two trees.
    """
    mine = trees_for(person).filter(shown_state__gt=Shown.LISTED).exclude(life=Life.FELLED)
    trees = mine.aggregate(n=Count("pk"), last=Max("pk"), sum=Sum("pk"), editions=Sum("edition"))
    apart = SaidApart.objects.aggregate(n=Count("pk"), last=Max("pk"))
    key = "-".join(str(part) for part in ("doubles", person.pk, *trees.values(), *apart.values()))
    kept = cache.get(key)
    if kept is None:
        said = set(SaidApart.objects.values_list("first_id", "second_id"))
        kept = sum(1 for one, other, _metres in _pairs(person) if (min(one, other), max(one, other)) not in said)
        cache.set(key, kept, KEPT_S)
    return int(kept)


def say_apart(*, by: Person, one: int, others: Iterable[int]) -> None:
    """Keep that these entries are different trees, so that nobody is asked again."""
    rows = [SaidApart(first_id=min(one, other), second_id=max(one, other), by=by) for other in others if other != one]
    SaidApart.objects.bulk_create(rows, ignore_conflicts=True)
