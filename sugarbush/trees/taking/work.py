"""What a reading does with each piece of a file: trees here, streets in streets.py."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from sugarbush.trees.codes import next_codes
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Life, Species, Tree
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.mapping import Mapping
from sugarbush.trees.reading.place import Box
from sugarbush.trees.reading.refusals import Refused
from sugarbush.trees.reading.species import Species as KnownSpecies
from sugarbush.trees.reading.species import SpeciesIndex, built_in_index, built_in_species
from sugarbush.trees.reading.verdicts import TreeRow, compile_reader
from sugarbush.trees.taking.changes import take_changes
from sugarbush.trees.taking.rows import digest_of, insert_problems, insert_trees, listed_numbers
from sugarbush.trees.taking.words import CHANGED, GONE


@dataclass
class Tally:
    """What came of one piece."""

    taken: int = 0
    changed: int = 0
    same: int = 0
    refused: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    changes: Counter[str] = field(default_factory=Counter)
    remarks: dict[str, list[int]] = field(default_factory=dict)


class Work(Protocol):
    """A file opened for taking in."""

    look_up: bool
    """Whether rows may be listed here already."""

    @property
    def read_bytes(self) -> int: ...

    def items(self) -> Iterator[Any]:
        """What stands in the file, from the start. May raise CannotRead on the way."""

    def keep(self, run: ImportRun, items: Sequence[Any]) -> Tally:
        """Store one piece, inside the caller's transaction."""

    def finish(self, run: ImportRun) -> None:
        """What can be said at the end only, inside the caller's transaction."""


def mapping_of(run: ImportRun) -> Mapping:
    """The columns chosen. Raises ValueError when what is kept is no mapping."""
    return Mapping.with_changes(Mapping(), **{**run.mapping, "unsure": tuple(run.mapping.get("unsure", ()))})


def box_of(run: ImportRun) -> Box | None:
    """The box the rows have to lie in."""
    corners = run.report.get("box")
    return Box(*corners) if corners else None


def known_species() -> SpeciesIndex:
    """The built-in kinds and those the programme has added."""
    built_in = built_in_index()
    own = [
        KnownSpecies(one.botanical, one.common, symbol=one.code, tappable=one.tappable)
        for one in Species.objects.exclude(botanical__in=built_in.by_botanical)
    ]
    return SpeciesIndex([*built_in_species(), *own]) if own else built_in


def species_ids() -> dict[str, int]:
    """Botanical name -> row, adding built-in kinds the table lacks."""
    ids = dict(Species.objects.values_list("botanical", "pk"))
    missing = [one for one in built_in_species() if one.botanical not in ids]
    if missing:
        Species.objects.bulk_create(
            [
                Species(botanical=one.botanical, common=one.common, code=one.symbol, tappable=one.tappable)
                for one in missing
            ],
            ignore_conflicts=True,
        )
        ids = dict(Species.objects.values_list("botanical", "pk"))
    return ids


class TreeWork:
    """A town's tree file. Raises CannotRead, or ValueError when the columns chosen do not fit it."""

    def __init__(self, run: ImportRun) -> None:
        self._table = open_table(Path(run.path))
        self._read = compile_reader(
            mapping=mapping_of(run), columns=self._table.columns, known=known_species(), box=box_of(run)
        )
        self._species_ids = species_ids()
        self._names = dict(Species.objects.values_list("pk", "common"))
        self.look_up = bool(run.report.get("listed_before"))
        # The programme's own trees of this list; those the file has are struck off as they come.
        self._awaited = set(_in_programme(run.source)) if self.look_up else set()

    @property
    def read_bytes(self) -> int:
        return self._table.read_bytes

    def items(self) -> Iterator[TreeRow | Refused]:
        if not self._awaited:
            yield from map(self._read, self._table.rows())
            return
        strike_off = self._awaited.discard
        for found in map(self._read, self._table.rows()):
            if type(found) is TreeRow:
                strike_off(found.number)
            yield found

    def keep(self, run: ImportRun, items: Sequence[TreeRow | Refused]) -> Tally:
        rows = [found for found in items if type(found) is TreeRow]
        refused = [found for found in items if type(found) is Refused]
        tally = Tally(refused=len(refused), reasons=Counter(found.reason_code for found in refused))
        insert_problems(run.pk, ((it.row, it.line, it.number, it.reason_code, it.values) for it in refused))
        new = rows
        if self.look_up:
            listed = listed_numbers(run.source, [row.number for row in rows])
            new = [row for row in rows if row.number not in listed]
            self._compare(run, [(listed[row.number], row) for row in rows if row.number in listed], tally)
        if new:
            insert_trees(new, next_codes(len(new)), source=run.source, species_ids=self._species_ids)
        tally.taken = len(new)
        for row in rows:
            for code, _values in row.remarks:
                tally.remarks.setdefault(code, [0, row.row])[0] += 1
        return tally

    def _compare(self, run: ImportRun, pairs: list[tuple[tuple[int, int | None], TreeRow]], tally: Tally) -> None:
        other = [(tree_id, row) for (tree_id, digest), row in pairs if digest != digest_of(row)]
        found = take_changes(other, species_ids=self._species_ids, names=self._names, by=run.started_by)
        tally.changed, tally.same = len(found), len(pairs) - len(found)
        tally.changes = Counter(change[0] for one in found for change in one.changes)
        insert_problems(
            run.pk,
            (
                (it.row.row, it.row.line, it.row.number, CHANGED, {"code": it.code, "changes": it.changes})
                for it in found
            ),
        )

    def finish(self, run: ImportRun) -> None:
        if not run.report.get("listed_before"):
            return
        here = Tree.objects.filter(inventory_source=run.source).exclude(inventory_number="").count()
        run.report["gone"] = max(0, here - run.taken - run.changed - run.same)
        codes = _in_programme(run.source)
        gone = sorted((codes[number], number) for number in self._awaited if number in codes)
        insert_problems(run.pk, ((0, 0, number, GONE, {"code": code}) for code, number in gone))


def _in_programme(source: str) -> dict[str, str]:
    """Trees of a list that are more than listed: number -> code."""
    trees = Tree.objects.filter(inventory_source=source, merged_into=None).exclude(inventory_number="")
    return dict(trees.exclude(life__in=(Life.LISTED, Life.FELLED)).values_list("inventory_number", "code"))
