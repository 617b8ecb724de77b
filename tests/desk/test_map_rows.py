"""The map's rows against a plain scan of all trees: none missing, none extra, on both databases."""

from __future__ import annotations

import random

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sugarbush.desk.map import arrays, rows
from sugarbush.desk.map.boxes import Box, column_and_row, span_of_tile
from sugarbush.desk.map.rows import Wanted
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.tiles import ZOOM, interleave, t17, tile_of
from tests import make

pytestmark = pytest.mark.django_db
WEST, SOUTH = -87.36, 47.04
GLOBE = Box(west=-180, south=-90, east=180, north=90)
KINDS = (("Acer saccharum", "sugar maple", True), ("Fraxinus americana", "white ash", False))


def _degrees_of_tile_corner(column: int, row: int) -> tuple[float, float]:
    """North-west corner of a zoom-17 tile, by bisection on tile_of alone: no formula is shared with the code."""
    west, east, south, north = -180.0, 180.0, -85.0, 85.0
    for _ in range(80):
        middle_lon, middle_lat = (west + east) / 2, (south + north) / 2
        found_column, found_row = tile_of(longitude_deg=middle_lon, latitude_deg=middle_lat)
        west, east = (middle_lon, east) if found_column < column else (west, middle_lon)
        south, north = (south, middle_lat) if found_row < row else (middle_lat, north)
    return east, south


@pytest.fixture
def town() -> list[Tree]:
    """1,500 trees: strewn, on tile corners, in the same spot; of two groups and none; in every state."""
    rng = random.Random(2026)
    kinds = [make.species(*kind) for kind in KINDS]
    groups = [make.group("North Bank"), make.group("Mill Race"), None]
    left, top = tile_of(longitude_deg=WEST, latitude_deg=SOUTH + 0.02)
    spots = [(WEST + rng.random() * 0.02, SOUTH + rng.random() * 0.02) for _ in range(1_380)]
    corners = [_degrees_of_tile_corner(left + c, top + r) for c in range(5) for r in range(5)]
    spots += [*corners, *corners[:20]] + [spots[0]] * 75
    trees = [
        Tree(
            code=f"QH-{n + 1:04d}",
            longitude=lon,
            latitude=lat,
            t17=t17(longitude_deg=lon, latitude_deg=lat),
            species=rng.choice([*kinds, None]),
            diameter_um=rng.choice([None, 200_000, 304_800, 500_000]),
            land=rng.choice(["private", "public"]),
            group=rng.choice(groups),
            shown_state=rng.choice(list(Shown)),
            needs_look=rng.random() < 0.1,
        )
        for n, (lon, lat) in enumerate(spots)
    ]
    Tree.objects.bulk_create(trees)
    kept = Tree.objects.order_by("pk").first()
    Tree.objects.filter(pk__in=list(Tree.objects.order_by("pk").values_list("pk", flat=True)[7:12])).update(
        merged_into=kept
    )
    return list(Tree.objects.order_by("pk"))


def _is_drawn(tree: Tree, groups: set[int] | None) -> bool:
    walls = groups is None or tree.group_id is None or tree.group_id in groups
    return walls and tree.merged_into_id is None and tree.shown_state != Shown.FELLED


def _inside(tree: Tree, box: Box) -> bool:
    return box.west <= tree.longitude <= box.east and box.south <= tree.latitude <= box.north


def _boxes(town: list[Tree]) -> list[Box]:
    """Random boxes, boxes whose edges run through trees and tile corners, points, and the whole globe."""
    rng = random.Random(7)
    boxes = [GLOBE]
    for _ in range(40):
        west, south = WEST + rng.random() * 0.02, SOUTH + rng.random() * 0.02
        boxes.append(Box(west=west, south=south, east=west + rng.random() * 0.01, north=south + rng.random() * 0.01))
    for _ in range(40):
        one, other = rng.choice(town), rng.choice(town)
        boxes.append(
            Box(
                west=min(one.longitude, other.longitude),
                east=max(one.longitude, other.longitude),
                south=min(one.latitude, other.latitude),
                north=max(one.latitude, other.latitude),
            )
        )
    boxes += [Box(west=t.longitude, east=t.longitude, south=t.latitude, north=t.latitude) for t in town[1_380:1_405]]
    return boxes


def test_no_tree_of_a_box_is_missing_and_none_is_extra(town: list[Tree]) -> None:
    people = [(make.alice(), None), (make.lena(), {make.group("North Bank").pk})]
    some = 0
    for person, groups in people:
        for box in _boxes(town):
            found = arrays.rows_in_box(person, Wanted(), box)
            plain = [tree for tree in town if _is_drawn(tree, groups) and _inside(tree, box)]
            assert sorted(found) == sorted(
                (
                    tree.pk,
                    tree.longitude,
                    tree.latitude,
                    tree.species_id,
                    tree.diameter_um,
                    tree.shown_state,
                    int(tree.needs_look),
                )
                for tree in plain
            )
            listed = rows.in_box(rows.seen_by(person), box).values_list("pk", flat=True)
            assert sorted(listed) == [tree.pk for tree in plain]
            some += len(found)
    assert some > 5_000


def test_tiles_share_the_trees_out_without_loss_or_double(town: list[Tree]) -> None:
    alice = make.alice()
    drawn = sorted(tree.pk for tree in town if _is_drawn(tree, None))
    for zoom in (12, 15, 16, 17):
        shift = ZOOM - zoom
        tiles = {
            tuple(v >> shift for v in tile_of(longitude_deg=tree.longitude, latitude_deg=tree.latitude))
            for tree in town
        }
        found: list[int] = []
        for column, row in tiles:
            answer = arrays.tile_answer(alice, Wanted(), zoom=zoom, column=column, row=row)
            found += [each[0] for each in answer["trees"]]
        assert sorted(found) == drawn


def test_many_trees_come_as_counts_that_add_up(town: list[Tree], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rows, "MANY", 50)
    drawn = [tree for tree in town if _is_drawn(tree, None)]
    column, row = (v >> 5 for v in tile_of(longitude_deg=WEST + 0.01, latitude_deg=SOUTH + 0.01))
    answer = arrays.tile_answer(make.alice(), Wanted(), zoom=12, column=column, row=row)
    plain: dict[tuple[int, int], list[int]] = {}
    for tree in drawn:
        c, r = tile_of(longitude_deg=tree.longitude, latitude_deg=tree.latitude)
        if (c >> 5, r >> 5) == (column, row):
            cell = plain.setdefault((c >> ZOOM - answer["zoom"], r >> ZOOM - answer["zoom"]), [0, 0])
            cell[0] += 1
            cell[1] += tree.shown_state == Shown.TAPPED
    assert len(plain) > 1
    assert sorted(answer["cells"]) == sorted((c, r, *counts) for (c, r), counts in plain.items())


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(states=frozenset({Shown.READY, Shown.TAPPED}), flagged=False),
        Wanted(states=frozenset({Shown.READY}), flagged=True),
        Wanted(states=frozenset(), flagged=True),
        Wanted(states=frozenset(), flagged=False),
        Wanted(tappable_only=True),
        Wanted(at_least_um=304_800),
        Wanted(without_group=True),
        Wanted(land="public", at_least_um=304_800, tappable_only=True),
    ],
)
def test_each_filter_keeps_just_what_it_names(town: list[Tree], wanted: Wanted) -> None:
    tappable = make.species(*KINDS[0]).pk
    kept = {
        tree.pk
        for tree in town
        if _is_drawn(tree, None)
        and (tree.shown_state in wanted.states or (wanted.flagged and tree.needs_look))
        and (not wanted.tappable_only or tree.species_id == tappable)
        and (tree.diameter_um or 0) >= wanted.at_least_um
        and (not wanted.without_group or tree.group_id is None)
        and (not wanted.land or tree.land == wanted.land)
    }
    found = rows.those(rows.seen_by(make.alice()), wanted)
    assert set(found.values_list("pk", flat=True)) == kept
    assert {row[0] for row in arrays.rows_in_box(make.alice(), wanted, GLOBE)} == kept


def test_the_key_counts_every_state_and_the_flags(town: list[Tree]) -> None:
    counts = rows.counts_by_state(rows.seen_by(make.alice()))
    drawn = [tree for tree in town if _is_drawn(tree, None)]
    for state in rows.SHOWN_ON_MAP:
        assert counts[state.mark] == sum(tree.shown_state == state for tree in drawn)
    assert counts["attention"] == sum(tree.needs_look for tree in drawn)


def test_big_enough_is_the_seasons_own_threshold() -> None:
    assert rows.big_enough_um() == 304_800  # 12 in, the conservative guideline (trade facts, item 1)
    make.season(first_tap_um=400_000, second_tap_um=500_000)
    assert rows.big_enough_um() == 400_000


def test_an_interleaved_number_comes_apart_again() -> None:
    rng = random.Random(3)
    for _ in range(300):
        column, row = rng.randrange(1 << ZOOM), rng.randrange(1 << ZOOM)
        assert column_and_row(interleave(column, row)) == (column, row)
        for zoom in (8, 14, 17):
            shift = ZOOM - zoom
            first, last = span_of_tile(zoom=zoom, column=column >> shift, row=row >> shift)
            assert first <= interleave(column, row) <= last
            assert last - first + 1 == 4**shift


def test_squares_of_the_sheet_are_named_as_people_say_them() -> None:
    box = Box(west=0, south=0, east=4, north=4)
    assert [box.square(longitude_deg=x, latitude_deg=y) for x, y in ((0, 4), (4, 0), (3.9, 3.9), (1.0, 2.1))] == [
        "A1",
        "D4",
        "D1",
        "B2",
    ]


@pytest.mark.sqlite_only
@pytest.mark.parametrize("wanted", [Wanted(), Wanted(states=frozenset({Shown.READY}), at_least_um=300_000, group_id=1)])
def test_a_view_is_read_from_the_index_alone_without_statistics(wanted: Wanted) -> None:
    lena = make.lena()
    column, row = tile_of(longitude_deg=WEST, latitude_deg=SOUTH)
    with CaptureQueriesContext(connection) as asked:
        arrays.rows_in_box(lena, wanted, Box(west=WEST, south=SOUTH, east=WEST + 0.01, north=SOUTH + 0.01))
        arrays.tile_answer(lena, wanted, zoom=16, column=column >> 1, row=row >> 1)
    statements = [query["sql"] for query in asked if "FROM trees_tree" in query["sql"]]
    assert len(statements) == 2
    for statement in statements:
        with connection.cursor() as cursor:
            cursor.execute("EXPLAIN QUERY PLAN " + statement.replace("%", "%%"))
            plan = [each[3] for each in cursor.fetchall()]
        assert len(plan) == 1
        assert "USING COVERING INDEX tree_map" in plan[0]
    listed = rows.in_tile(rows.those(rows.seen_by(lena), wanted), zoom=16, column=column >> 1, row=row >> 1)
    assert "USING COVERING INDEX tree_map" in listed.order_by().values_list("pk").explain()
