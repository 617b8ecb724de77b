"""Trees as the map and its list ask for them: what is seen, what is wanted, in which box and in which order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    ExpressionWrapper,
    F,
    Max,
    Min,
    Q,
    QuerySet,
    Value,
    When,
)

from sugarbush.desk.map.boxes import Box, column_and_row, span_of_tile
from sugarbush.seasons.models import Programme, Season
from sugarbush.trees.models import Shown, Species, Tree
from sugarbush.trees.tiles import ZOOM, ranges_of_box, tiles_of_box
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

MANY = 5_000
"""More trees than this in view are shown as counts."""
CELLS_FINER = 2
"""Counts stand in cells two zooms finer than the tile: 16 to a tile."""
MOST_TILES = 1_000
"""A box of more zoom-17 tiles than this is asked for in spans of coarser ones."""
SHOWN_ON_MAP = tuple(state for state in Shown if state != Shown.FELLED)

Cell = tuple[int, int, int, int]


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Which trees are wanted. Nothing said means all that are drawn."""

    states: frozenset[int] = frozenset(SHOWN_ON_MAP)
    flagged: bool = True
    tappable_only: bool = False
    at_least_um: int = 0
    group_id: int | None = None
    without_group: bool = False
    land: str = ""


def _read_along(name: str) -> Any:
    """A column that is compared but must not choose the index: without table statistics SQLite takes an index on
    an equal match before a span of tiles, and then reads the whole town to draw one street."""
    return ExpressionWrapper(F(name) + 0, output_field=BigIntegerField())


def seen_by(person: Person) -> QuerySet[Tree]:
    """Trees this person may see and that are drawn at all: merged and felled ones are not."""
    reach = access.scope(person, "trees.see")
    trees = Tree.objects.alias(
        the_state=_read_along("shown_state"), the_group=_read_along("group_id"), merged=_read_along("merged_into_id")
    )
    return trees.filter(reach.filter("the_group"), merged=None).exclude(the_state=Shown.FELLED)


def tappable_species_ids() -> list[int]:
    """Kinds on the season's list once its rules are frozen, else those that may be tapped here by default."""
    season = Season.current()
    if season is not None and season.frozen_at:
        return list(Species.objects.filter(botanical__in=season.species_keys).values_list("pk", flat=True))
    return list(Species.objects.filter(tappable=True).values_list("pk", flat=True))


def big_enough_um() -> int:
    """The least trunk that carries a tap this season."""
    season = Season.current()
    return season.first_tap_um if season is not None else Season._meta.get_field("first_tap_um").default


def those(trees: QuerySet[Tree], wanted: Wanted, *, all_states: bool = False) -> QuerySet[Tree]:
    """The wanted ones among them."""
    if not all_states and not (wanted.flagged and wanted.states >= set(SHOWN_ON_MAP)):
        in_state = Q(the_state__in=sorted(wanted.states))
        trees = trees.filter(in_state | Q(needs_look=True) if wanted.flagged else in_state)
    if wanted.tappable_only:
        trees = trees.alias(kind=_read_along("species_id")).filter(kind__in=tappable_species_ids())
    if wanted.at_least_um:
        trees = trees.filter(diameter_um__gte=wanted.at_least_um)
    if wanted.without_group:
        trees = trees.filter(Q(("the_group", None)))
    elif wanted.group_id is not None:
        trees = trees.filter(Q(("the_group", wanted.group_id)))
    if wanted.land:
        trees = trees.filter(land=wanted.land)
    return trees


def in_box(trees: QuerySet[Tree], box: Box) -> QuerySet[Tree]:
    """Those inside the box, its edges included."""
    inside = Q(longitude__gte=box.west, longitude__lte=box.east, latitude__gte=box.south, latitude__lte=box.north)
    spans = ranges_of_box(**box.sides(), most=64)
    if sum(last - first + 1 for first, last in spans) <= MOST_TILES:
        return trees.filter(inside, t17__in=tiles_of_box(**box.sides()))
    either = Q()
    for span in spans:
        either |= Q(t17__range=span)
    return trees.filter(inside & either)


def in_tile(trees: QuerySet[Tree], *, zoom: int, column: int, row: int) -> QuerySet[Tree]:
    """Those inside a tile of zoom 17 or coarser: one span of the index."""
    return trees.filter(t17__range=span_of_tile(zoom=zoom, column=column, row=row))


def cell_counts(trees: QuerySet[Tree], *, zoom: int) -> list[Cell]:
    """How many trees stand in each tile of this zoom, and how many of them are tapped: column, row, count, tapped."""
    counted = (
        trees.order_by()
        .annotate(cell=F("t17").bitrightshift(2 * (ZOOM - zoom)))
        .values("cell")
        .annotate(count=Count("pk"), tapped=Count("pk", filter=Q(shown_state=Shown.TAPPED)))
        .values_list("cell", "count", "tapped")
    )
    return [(*column_and_row(cell), count, tapped) for cell, count, tapped in counted]


def counts_by_state(trees: QuerySet[Tree]) -> dict[str, int]:
    """For the key of the map: trees in each state, and those that need a look."""
    counted = (
        trees.order_by()
        .values_list("shown_state")
        .annotate(count=Count("pk"), flags=Count("pk", filter=Q(needs_look=True)))
    )
    found = {state.mark: 0 for state in SHOWN_ON_MAP}
    found["attention"] = 0
    for state, count, flags in counted:
        found[Shown(state).mark] = count
        found["attention"] += flags
    return found


URGENCY = (
    Shown.PULL,
    Shown.TAPPED,
    Shown.READY,
    Shown.ALLOWED,
    Shown.ASKED,
    Shown.CONSIDERED,
    Shown.RESTING,
    Shown.NOT,
    Shown.LISTED,
)


def in_list_order(trees: QuerySet[Tree], *, many: bool) -> QuerySet[Tree, int]:
    """Their numbers in the list's order: what needs a look, then by state, then along the street.

    Very many stay in the order they came in within a state: their streets would be read from the table one by one.
    """
    rank = Case(*(When(shown_state=state, then=Value(n)) for n, state in enumerate(URGENCY)), default=Value(99))
    along = ("pk",) if many else ("address", "nth", "pk")
    return trees.order_by("-needs_look", rank, *along).values_list("pk", flat=True)


def in_full(numbers: Sequence[int]) -> list[Tree]:
    """These trees with their kind and group, in the order given."""
    found = Tree.objects.select_related("species", "group").in_bulk(list(numbers))
    return [found[number] for number in numbers if number in found]


def whole_town() -> Box | None:
    """The programme's box, else the box of its trees; None while there are none."""
    programme = Programme.current()
    if programme is not None and programme.box is not None:
        west, south, east, north = programme.box
        return Box(west=west, south=south, east=east, north=north)
    found = Tree.objects.aggregate(
        west=Min("longitude"), south=Min("latitude"), east=Max("longitude"), north=Max("latitude")
    )
    return Box(**found).with_room() if found["west"] is not None else None


def codes_of(trees: QuerySet[Tree], ids: Iterable[int]) -> list[tuple[int, str]]:
    """Tags of trees chosen on the map, which knows them by number only."""
    return list(trees.filter(pk__in=list(ids)).order_by("pk").values_list("pk", "code"))
