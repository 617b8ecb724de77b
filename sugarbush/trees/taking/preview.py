"""What would come of a file, before anything is taken in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Species, Tree
from sugarbush.trees.reading.errors import CannotRead
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.place import Box, draw_box
from sugarbush.trees.reading.refusals import Refused
from sugarbush.trees.reading.streets import StreetFile, StreetRefused, StreetRow
from sugarbush.trees.reading.verdicts import TreeRow, compile_reader
from sugarbush.trees.taking.rows import listed_numbers
from sugarbush.trees.taking.work import box_of, known_species, mapping_of
from sugarbush.trees.tiles import metres_between

ROWS_SHOWN = 20
ROWS_COUNTED = 5_000
ROWS_COMPARED = 200
# A tree of the same number this far off is another tree, so another list.
_OTHER_PLACE_M = 200.0


@dataclass(frozen=True)
class Shown:
    """One of the first rows: what would be taken, or the sentence why not."""

    row: int
    number: str
    species: str = ""
    diameter_um: int | None = None
    as_given: str = ""
    place: str = ""
    remarks: tuple[str, ...] = ()
    refused: str = ""


@dataclass
class Preview:
    """The first rows and the counts of the first few thousand."""

    shown: list[Shown] = field(default_factory=list)
    read: int = 0
    whole: bool = False
    """Whether that was the whole file."""
    taken: int = 0
    listed: int = 0
    """Of the rows that can be taken: how many stand in this list here already."""
    elsewhere: bool = False
    """Most numbers stand here already, but far from where this file has them."""
    reasons: Counter[str] = field(default_factory=Counter)
    remarks: Counter[str] = field(default_factory=Counter)
    problems: list[str] = field(default_factory=list)
    """Why the file cannot be read this way."""

    @property
    def refused(self) -> int:
        return sum(self.reasons.values())

    @property
    def new(self) -> int:
        return self.taken - self.listed

    @property
    def ready(self) -> bool:
        """Whether there is anything to take in."""
        return not self.problems and self.taken > 0


def preview_of(run: ImportRun) -> Preview:
    """What would come of the run as it is set up now."""
    found = Preview()
    try:
        if run.kind == ImportRun.Kind.STREETS:
            _look_at_streets(run, found)
        else:
            _look_at_trees(run, found)
    except CannotRead as why:
        sentence = _("The file is no longer on this machine. Bring it again.") if why.code == "missing" else str(why)
        found.problems.append(sentence)
    return found


def _look_at_trees(run: ImportRun, found: Preview) -> None:
    table = open_table(run.path)
    mapping = mapping_of(run)
    found.problems = mapping.problems(table.columns)
    if found.problems:
        return
    commons = dict(Species.objects.values_list("botanical", "common"))
    known = known_species()
    read = compile_reader(mapping=mapping, columns=table.columns, known=known, box=box_of(run))
    taken: list[TreeRow] = []
    for row in _counted(map(read, table.rows()), found):
        if isinstance(row, Refused):
            found.reasons[row.reason_code] += 1
        else:
            taken.append(row)
            found.remarks.update(code for code, _values in row.remarks)
        if len(found.shown) < ROWS_SHOWN:
            found.shown.append(_shown(row, commons))
    found.taken = len(taken)
    if run.source:
        listed = listed_numbers(run.source, [row.number for row in taken])
        found.listed = len(listed)
        found.elsewhere = bool(listed) and _are_elsewhere(run.source, taken)


def _counted(rows: Iterator[Any], found: Preview) -> Iterator[Any]:
    """The first rows, counted; a file that breaks among them says so and keeps what came before."""
    try:
        for row in islice(rows, ROWS_COUNTED):
            found.read += 1
            yield row
        found.whole = next(rows, None) is None
    except CannotRead as why:
        if not found.read:
            raise
        found.problems.append(str(why))


def _shown(row: TreeRow | Refused, commons: dict[str, str]) -> Shown:
    if isinstance(row, Refused):
        return Shown(row=row.row, number=row.number, refused=row.sentence)
    return Shown(
        row=row.row,
        number=row.number,
        species=commons.get(row.species_key, row.species_key),
        diameter_um=row.diameter_um,
        as_given=row.size_as_given,
        place=row.address or f"{row.latitude_deg:.5f}, {row.longitude_deg:.5f}",
        remarks=tuple(row.remark_sentences),
    )


def _look_at_streets(run: ImportRun, found: Preview) -> None:
    for row in _counted(StreetFile(run.path).rows(box=box_of(run)), found):
        if isinstance(row, StreetRefused):
            found.reasons[row.reason_code] += 1
            shown = Shown(row=row.row, number="", refused=row.sentence)
        else:
            found.taken += 1
            points = _("%(count)d points") % {"count": len(row.points)}
            shown = Shown(row=row.row, number="", species=row.name or _("no name"), place=f"{row.kind}, {points}")
        if len(found.shown) < ROWS_SHOWN:
            found.shown.append(shown)


def drawn_box(run: ImportRun) -> list[float] | None:
    """The box the first few thousand places lie in; None when there are none to draw it from."""
    try:
        box = draw_box(_street_places(run) if run.kind == ImportRun.Kind.STREETS else _tree_places(run))
    except (CannotRead, ValueError):
        return None
    # Four decimals are some 10 m: as fine as an edge needs to be, and short enough to type.
    return [round(x, 4) for x in (box.west_deg, box.south_deg, box.east_deg, box.north_deg)] if box else None


def _tree_places(run: ImportRun) -> list[tuple[float, float]]:
    return [(row.longitude_deg, row.latitude_deg) for row in _first_trees(run, ROWS_COUNTED, box=None)]


def _first_trees(run: ImportRun, most: int, *, box: Box | None) -> list[TreeRow]:
    table = open_table(run.path)
    read = compile_reader(mapping=mapping_of(run), columns=table.columns, known=known_species(), box=box)
    found: list[TreeRow] = []
    with suppress(CannotRead):  # the rows before a break are enough to draw from
        found.extend(row for row in map(read, islice(table.rows(), most)) if isinstance(row, TreeRow))
    return found


def _street_places(run: ImportRun) -> list[tuple[float, float]]:
    places: list[tuple[float, float]] = []
    with suppress(CannotRead):
        for row in islice(StreetFile(run.path).rows(), ROWS_COUNTED):
            if isinstance(row, StreetRow):
                places += row.points[:50]
    return places


def likely_source(run: ImportRun) -> str:
    """The list this file is likely a newer state of: most of its first numbers stand there, at the same places."""
    sources = Tree.objects.exclude(inventory_source="").order_by().values_list("inventory_source", flat=True).distinct()
    rows = _first_trees_or_none(run)
    for source in sources if rows else ():
        near = _near(source, rows)
        if len(near) * 2 > len(rows) and sum(near) * 2 > len(near):
            return source
    return ""


def _first_trees_or_none(run: ImportRun) -> list[TreeRow]:
    try:
        return _first_trees(run, ROWS_COMPARED, box=box_of(run))
    except ValueError:
        return []


def _are_elsewhere(source: str, rows: list[TreeRow]) -> bool:
    near = _near(source, rows[:ROWS_COMPARED])
    return len(near) > 10 and sum(near) * 2 < len(near)


def _near(source: str, rows: list[TreeRow]) -> list[bool]:
    """For each row whose number the list has: whether that tree stands where the row says."""
    by_number = {row.number: row for row in rows}
    trees = Tree.objects.filter(inventory_source=source, inventory_number__in=list(by_number))
    return [
        metres_between(
            lon1=longitude, lat1=latitude, lon2=by_number[number].longitude_deg, lat2=by_number[number].latitude_deg
        )
        < _OTHER_PLACE_M
        for number, longitude, latitude in trees.values_list("inventory_number", "longitude", "latitude")
    ]
