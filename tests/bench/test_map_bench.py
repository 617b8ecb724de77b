"""The map view against the database's own speed: the same rows, by the same index, in one run."""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection

from sugarbush.demo.bigtown import iter_inventory
from sugarbush.desk.map.arrays import rows_in_box
from sugarbush.desk.map.boxes import Box
from sugarbush.desk.map.rows import Wanted
from sugarbush.trees.models import Shown, Tree
from sugarbush.trees.tiles import t17, tiles_of_box
from sugarbush.volunteers.models import Person
from tests import make

TREES = 200_000
AT_MOST = 2.0
ROUNDS = 15
WIDE_PX, HIGH_PX = 1280, 800


CHANGING = (
    "code",
    "longitude",
    "latitude",
    "t17",
    "address",
    "species_id",
    "diameter_um",
    "shown_state",
    "needs_look",
    "group_id",
)


def _rows() -> Iterator[tuple[Any, ...]]:
    rng = random.Random(5)
    kinds = [make.species(f"Genus {n}", f"kind {n}").pk for n in range(30)]
    states, group = list(Shown), make.group().pk
    for n, row in enumerate(iter_inventory(TREES)):
        lon, lat = float(row["LON"]), float(row["LAT"])
        yield (
            f"QH-{n + 1:06d}",
            lon,
            lat,
            t17(longitude_deg=lon, latitude_deg=lat),
            row["ADDRESS"],
            rng.choice(kinds),
            int(row["TRUNK_IN"]) * 25_400,
            int(rng.choice(states)) if n % 20 == 0 else int(Shown.LISTED),
            n % 500 == 0,
            group if n % 3 == 0 else None,
        )


@pytest.fixture
def big_town(db: Any) -> list[Person]:
    """200,000 trees, put in by the database itself as copies of one tree with their own place, size and state."""
    sample = make.tree()
    fields = [str(field.column) for field in Tree._meta.concrete_fields if not field.primary_key]
    copied = [name for name in fields if name not in CHANGING]
    marks = ", ".join(["%s"] * len(CHANGING))
    sql = (
        f"INSERT INTO trees_tree ({', '.join([*CHANGING, *copied])}) "
        f"SELECT {marks}, {', '.join(copied)} FROM trees_tree WHERE id = {sample.pk}"
    )
    with connection.cursor() as cursor:
        cursor.executemany(sql, list(_rows()))
    Tree.objects.filter(pk=sample.pk).delete()
    assert Tree.objects.count() == TREES
    return [make.alice(), make.lena()]


def _views(count: int) -> list[Box]:
    """Screens of zoom 17 over the built-up town."""
    rng = random.Random(11)
    wide = WIDE_PX / (256 * 2**17) * 360
    high = wide * HIGH_PX / WIDE_PX * 0.68  # degrees of latitude are shorter on the sheet, by the cosine of 47 degrees
    sample = list(Tree.objects.filter(pk__in=rng.sample(range(1, TREES), count)).values_list("longitude", "latitude"))
    return [Box(west=x - wide / 2, east=x + wide / 2, south=y - high / 2, north=y + high / 2) for x, y in sample]


def _best(act: Callable[[], Any]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return min(times)


def test_a_view_of_the_map_costs_at_most_twice_a_plain_fetch(
    big_town: list[Person], capsys: pytest.CaptureFixture[str]
) -> None:
    connection.ensure_connection()
    plain: sqlite3.Connection = connection.connection
    for person in big_town:
        ours = bare = seen = 0.0
        for box in _views(8):
            tiles = tiles_of_box(**box.sides())
            marks = ",".join("?" * len(tiles))
            sql = (
                "SELECT id, longitude, latitude, species_id, diameter_um, shown_state, needs_look FROM trees_tree "
                f"INDEXED BY tree_map WHERE t17 IN ({marks}) "
                "AND longitude BETWEEN ? AND ? AND latitude BETWEEN ? AND ? "
                "AND shown_state <> 9 AND merged_into_id IS NULL"
            )
            values: list[Any] = [*tiles, box.west, box.east, box.south, box.north]
            if person.display_name == "Lena":
                sql += " AND (group_id IN (?) OR group_id IS NULL)"
                values.append(make.group().pk)

            def fetch(sql: str = sql, values: list[Any] = values) -> list[Any]:
                return sqlite3.Cursor(plain).execute(sql, values).fetchall()

            def view(person: Person = person, box: Box = box) -> list[Any]:
                return rows_in_box(person, Wanted(), box)

            assert sorted(view()) == sorted(fetch())
            seen += len(view())
            ours += _best(view)
            bare += _best(fetch)
        with capsys.disabled():
            print(f"\n{person}: {seen / 8:.0f} trees a view, {ours / 8 * 1e3:.2f} ms against {bare / 8 * 1e3:.2f} ms, "
                  f"{ours / bare:.2f}x")  # fmt: skip
        assert ours <= AT_MOST * bare
