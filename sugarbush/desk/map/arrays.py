"""Trees as short rows, for the canvas: one statement, one index, nothing built that is not sent.

The statement is written by hand. Measured on a view of 1,600 trees: building it by the query layer and turning rows
into tuples took four times as long as the database took to read them. The filters are those of rows.py, and a test
holds the two against each other and against a plain scan.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db import connection

from sugarbush.desk.map import rows
from sugarbush.desk.map.boxes import Box, span_of_tile
from sugarbush.desk.map.rows import CELLS_FINER, MOST_TILES, SHOWN_ON_MAP, Wanted, cell_counts, in_tile, seen_by, those
from sugarbush.trees.models import Shown
from sugarbush.trees.tiles import ZOOM, ranges_of_box, tiles_of_box
from sugarbush.volunteers import access
from sugarbush.volunteers.models import Person

Row = tuple[int, float, float, int | None, int | None, int, int]
"""id, longitude, latitude, species id, trunk in micrometres, state, flag (0 or 1)."""

COLUMNS = "id, longitude, latitude, species_id, diameter_um, shown_state, CAST(needs_look AS integer)"


@dataclass
class _Where:
    """Conditions that all hold, with their values. "+ 0" keeps a column from choosing the index (see rows.py)."""

    parts: list[str] = field(default_factory=list)
    values: list[Any] = field(default_factory=list)

    def add(self, condition: str, *values: Any) -> None:
        self.parts.append(condition)
        self.values += values

    def rows(self, most: int | None = None) -> list[Row]:
        # Every part is a text of this file; what comes from outside is in the values.
        sql = f"SELECT {COLUMNS} FROM trees_tree WHERE {' AND '.join(self.parts)}"  # noqa: S608
        if most is not None:
            sql += f" LIMIT {most:d}"
        with connection.cursor() as cursor:
            cursor.execute(sql, self.values)
            found: list[Row] = cursor.fetchall()
            return found


def _marks(values: list[int]) -> str:
    return ", ".join(["%s"] * len(values))


def _where(person: Person, wanted: Wanted) -> _Where | None:
    """What this person may see and wants to see; None when that can only be nothing."""
    where = _Where()
    where.add("merged_into_id + 0 IS NULL AND shown_state + 0 <> %s", int(Shown.FELLED))
    reach = access.scope(person, "trees.see")
    if not reach.everything:
        groups = sorted(reach.group_ids)
        if not groups:
            return None
        where.add(f"(group_id + 0 IN ({_marks(groups)}) OR group_id + 0 IS NULL)", *groups)
    if not (wanted.flagged and wanted.states >= set(SHOWN_ON_MAP)):
        states = sorted(wanted.states) or [-1]
        flagged = " OR needs_look" if wanted.flagged else ""
        where.add(f"(shown_state + 0 IN ({_marks(states)}){flagged})", *states)
    if wanted.tappable_only:
        kinds = rows.tappable_species_ids() or [-1]
        where.add(f"species_id + 0 IN ({_marks(kinds)})", *kinds)
    if wanted.at_least_um:
        where.add("diameter_um >= %s", wanted.at_least_um)
    if wanted.without_group:
        where.add("group_id + 0 IS NULL")
    elif wanted.group_id is not None:
        where.add("group_id + 0 = %s", wanted.group_id)
    if wanted.land:
        where.add("land = %s", wanted.land)
    return where


def rows_in_box(person: Person, wanted: Wanted, box: Box) -> list[Row]:
    """The rows of a box, its edges included."""
    where = _where(person, wanted)
    if where is None:
        return []
    spans = ranges_of_box(**box.sides(), most=64)
    if sum(last - first + 1 for first, last in spans) <= MOST_TILES:
        tiles = tiles_of_box(**box.sides())
        where.add(f"t17 IN ({_marks(tiles)})", *tiles)
    else:
        either = " OR ".join(["t17 BETWEEN %s AND %s"] * len(spans))
        where.add(f"({either})", *(side for span in spans for side in span))
    where.add("longitude BETWEEN %s AND %s AND latitude BETWEEN %s AND %s", box.west, box.east, box.south, box.north)
    return where.rows()


def tile_answer(person: Person, wanted: Wanted, *, zoom: int, column: int, row: int) -> dict[str, Any]:
    """What the map gets for one tile of zoom 17 or coarser: its trees, or counts in cells when they are many."""
    where = _where(person, wanted)
    if where is None:
        return {"trees": []}
    where.add("t17 BETWEEN %s AND %s", *span_of_tile(zoom=zoom, column=column, row=row))
    found = where.rows(most=rows.MANY + 1)
    if len(found) <= rows.MANY:
        return {"trees": found}
    finer = min(ZOOM, zoom + CELLS_FINER)
    here = in_tile(those(seen_by(person), wanted), zoom=zoom, column=column, row=row)
    return {"cells": cell_counts(here, zoom=finer), "zoom": finer}
