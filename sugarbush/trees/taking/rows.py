"""Rows of a town's file as rows of the database, many at a time and in plain SQL: a town may list 700,000 trees."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Sequence
from hashlib import blake2b
from itertools import islice
from typing import Any, TypeVar

from django.db import connection, models
from django.utils import timezone

from sugarbush.trees.files import ImportProblem
from sugarbush.trees.models import Life, Shown, SpeciesSure, Tree
from sugarbush.trees.reading.verdicts import TreeRow
from sugarbush.trees.tiles import t17

Item = TypeVar("Item")
# SQLite before 3.32 takes 999 placeholders in one question.
IN_ONE_QUESTION = 900

# Every column of a new tree, in the order of `new_tree`.
NEW_TREE = (
    "code", "longitude", "latitude", "t17", "address", "side", "species_id", "stems", "diameter_um", "size_as_given",
    "land", "inventory_source", "inventory_number", "inventory_species_id", "inventory_diameter_um", "inventory_note",
    "inventory_surveyed", "inventory_digest", "added_at",
    "uuid", "nth", "species_sure", "access_note", "group_id", "life", "life_reason", "shown_state", "shown_until",
    "needs_look", "merged_into_id", "edition",
)  # fmt: skip
# What is the same for every tree that is only listed.
_ALIKE = (None, None, SpeciesSure.UNCONFIRMED.value, "", None, Life.LISTED.value, "", Shown.LISTED.value, None, False,
          None, 1)  # fmt: skip
# What the town may change on a tree nobody has touched, in the order of `changed_tree`.
CHANGED_TREE = (
    "longitude", "latitude", "t17", "address", "side", "species_id", "stems", "diameter_um", "size_as_given", "land",
    "inventory_species_id", "inventory_diameter_um", "inventory_note", "inventory_surveyed", "inventory_digest",
)  # fmt: skip
_PROBLEM = ("run_id", "row_number", "line", "number", "reason", "values")


def pieces(rows: Iterable[Item], size: int = IN_ONE_QUESTION) -> Iterator[list[Item]]:
    """The rows in lists of at most so many."""
    left = iter(rows)
    while part := list(islice(left, size)):
        yield part


def note_of(row: TreeRow) -> str:
    """The town's note; a tree it calls dead or dying says so first."""
    if not row.remarks:
        return row.note
    said = [values["text"] for code, values in row.remarks if code == "dead"]
    return "; ".join([*said, row.note] if row.note else said)


def digest_of(row: TreeRow) -> int:
    """What the row says, as one number that fits a database's large integer."""
    said = repr(
        (row.longitude_deg, row.latitude_deg, row.species_key, row.diameter_um, row.size_as_given, row.stems,
         row.address, row.side, row.land, row.note, row.surveyed, row.remarks and note_of(row))
    )  # fmt: skip
    return int.from_bytes(blake2b(said.encode("utf-8", "replace"), digest_size=8).digest(), "big", signed=True)


def insert_trees(rows: Sequence[TreeRow], codes: Sequence[str], *, source: str, species_ids: dict[str, int]) -> None:
    """Add trees the town lists. Their codes were allotted in the same transaction."""
    added_at = connection.ops.adapt_datetimefield_value(timezone.now())
    adapt_day = connection.ops.adapt_datefield_value

    def new_trees() -> Iterator[tuple[Any, ...]]:
        for row, code in zip(rows, codes, strict=True):
            longitude, latitude = row.longitude_deg, row.latitude_deg
            species_id, diameter_um = species_ids[row.species_key], row.diameter_um
            yield (
                code, longitude, latitude, t17(longitude_deg=longitude, latitude_deg=latitude), row.address, row.side,
                species_id, row.stems or 1, diameter_um, row.size_as_given, row.land, source, row.number, species_id,
                diameter_um, note_of(row), row.surveyed and adapt_day(row.surveyed), digest_of(row), added_at, *_ALIKE,
            )  # fmt: skip

    _insert(Tree, NEW_TREE, new_trees())


def change_trees(pairs: Iterable[tuple[int, TreeRow]], species_ids: dict[str, int]) -> None:
    """Write the file's word over trees that nobody but the town has described."""
    adapt_day = connection.ops.adapt_datefield_value
    quote = connection.ops.quote_name
    sets = ", ".join(f"{quote(name)} = %s" for name in CHANGED_TREE)
    changes = [
        (
            row.longitude_deg, row.latitude_deg, t17(longitude_deg=row.longitude_deg, latitude_deg=row.latitude_deg),
            row.address, row.side, species_ids[row.species_key], row.stems or 1, row.diameter_um, row.size_as_given,
            row.land, species_ids[row.species_key], row.diameter_um, note_of(row),
            row.surveyed and adapt_day(row.surveyed), digest_of(row), tree_id,
        )
        for tree_id, row in pairs
    ]  # fmt: skip
    if changes:
        with connection.cursor() as cursor:
            # The edition moves on, so that whoever has the tree's form open is told.
            cursor.executemany(
                f"UPDATE {quote(Tree._meta.db_table)} SET {sets}, edition = edition + 1 WHERE id = %s",  # noqa: S608
                changes,
            )


def insert_problems(run_id: Any, found: Iterable[tuple[int, int, str, str, dict[str, Any]]]) -> None:
    """Keep what is to be said about rows: (row, line, number, reason, what its sentence names)."""
    field = ImportProblem._meta.get_field("run")
    key = field.get_db_prep_save(run_id, connection)
    _insert(
        ImportProblem,
        _PROBLEM,
        ((key, row, line, number, reason, json.dumps(values)) for row, line, number, reason, values in found),
    )


def listed_numbers(source: str, numbers: Sequence[str]) -> dict[str, tuple[int, int | None]]:
    """Which of these numbers of a list stand here already: number -> (tree, what its row said)."""
    found: dict[str, tuple[int, int | None]] = {}
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        for part in pieces(numbers):
            marks = ", ".join(["%s"] * len(part))
            # The last clause stands word for word in the index, so that SQLite sees it may use it.
            cursor.execute(
                f"SELECT inventory_number, id, inventory_digest FROM {quote(Tree._meta.db_table)} "  # noqa: S608
                f"WHERE inventory_source = %s AND inventory_number IN ({marks}) AND NOT (inventory_number = '')",
                [source, *part],
            )
            found.update((number, (tree_id, digest)) for number, tree_id, digest in cursor.fetchall())
    return found


def _insert(model: type[models.Model], columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
    held = list(rows)
    if not held:
        return
    quote = connection.ops.quote_name
    names = ", ".join(quote(name) for name in columns)
    marks = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks})", held)  # noqa: S608


def day_text(day: dt.date | None) -> str:
    """A day as it is kept in what a sentence names."""
    return day.isoformat() if day else ""
