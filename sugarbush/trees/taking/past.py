"""A spreadsheet of past years, a line for each tree and year, on its way in."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any, NamedTuple

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from sugarbush.core.units import ML_PER
from sugarbush.seasons.models import Season
from sugarbush.trees.files import ImportRun
from sugarbush.trees.models import Tree
from sugarbush.trees.past import PastYield
from sugarbush.trees.reading.errors import WrongKind
from sugarbush.trees.reading.files import open_table
from sugarbush.trees.reading.rows import RawRow
from sugarbush.trees.taking.rows import insert_problems, pieces
from sugarbush.trees.taking.work import Tally

COLUMNS = ("year", "tree", "address", "nth", "taps", "volume", "brix", "note")
UNITS = ("L", "mL", "gal")
FIRST_YEAR, MOST_TAPS, MOST_ML, MOST_BRIX = 1900, 20, 2_000_000, Decimal(15)
# In a tie the earlier column wins; a column is given once.
_WORDS = {
    "year": r"year|season|jahr|ann[ée]e",
    "brix": r"brix|sugar",
    "taps": r"taps?\b|holes?\b|spouts?\b",
    "volume": r"litres?|liters?|\bl\b|gallons?|\bgal\b|\bml\b|volume|sap|yield",
    "nth": r"\bnth\b|which tree|tree there",
    "address": r"address|\bplace\b",
    "note": r"note|remark|comment",
    "tree": r"tree|code|number|tag|\bid\b|\bno\b",
}
_NUMBER = re.compile(r"(\d{1,9}(?:[.,]\d{1,2})?)\s*(l|litres?|liters?|ml|gal|gallons?)?\.?\Z", re.IGNORECASE)


class Line(NamedTuple):
    """What a row says, before its tree is looked for."""

    row: int
    line: int
    name: str
    tree: str
    address: str
    nth: int | None
    year: int
    taps: int
    volume_ml: int
    brix: Decimal | None
    note: str


class Not(NamedTuple):
    """A row that is not taken, and why."""

    row: int
    line: int
    name: str
    code: str
    values: dict[str, Any]


class Found(NamedTuple):
    """A row with its tree."""

    line: Line
    tree: Tree


def open_past(path: str | Path) -> Any:
    """The table. Raises CannotRead when it is none: positions on a map hold no litres."""
    table = open_table(Path(path))
    if table.kind != "csv":
        raise WrongKind("not_a_table")
    return table


def guess(columns: Sequence[str]) -> dict[str, str]:
    """Which column says what, by its heading; the unit by the heading of the litres."""
    chosen: dict[str, str] = {}
    for name, words in _WORDS.items():
        left = [column for column in columns if column not in chosen.values()]
        plain = ((column, column.replace("_", " ")) for column in left)
        chosen[name] = next((column for column, text in plain if re.search(words, text, re.IGNORECASE)), "")
    heading = chosen["volume"].replace("_", " ")
    chosen["unit"] = "L"
    if re.search(r"\bgal", heading, re.IGNORECASE):
        chosen["unit"] = "gal"
    elif re.search(r"\bml\b", heading, re.IGNORECASE):
        chosen["unit"] = "mL"
    return chosen


def problems(chosen: Mapping[str, str], columns: Sequence[str]) -> list[str]:
    """What is missing before these columns can be read, in sentences."""
    given = [chosen.get(name, "") for name in COLUMNS if chosen.get(name)]
    said = []
    if any(column not in columns for column in given):
        said.append(_("A column chosen is not in this file."))
    if len(set(given)) < len(given):
        said.append(_("One column is chosen for two things."))
    for name, words in (("year", _("the year")), ("taps", _("the taps")), ("volume", _("the sap"))):
        if not chosen.get(name):
            said.append(_("Choose the column that says %(what)s.") % {"what": words})
    if not chosen.get("tree") and not chosen.get("address"):
        said.append(_("Choose the column that names the tree, or the one with its address."))
    return said


class Reader:
    """Reads rows by the columns chosen. Raises ValueError when these do not fit the file."""

    def __init__(self, columns: Sequence[str], chosen: Mapping[str, str]) -> None:
        if problems(chosen, columns):
            raise ValueError(chosen)
        self._at = {name: columns.index(chosen[name]) for name in COLUMNS if chosen.get(name)}
        self._unit = chosen.get("unit", "L")
        self._this_year = timezone.localdate().year

    def read(self, raw: RawRow) -> Line | Not:
        cell = {name: raw.values[at].strip() for name, at in self._at.items()}
        tree, address = cell.get("tree", ""), " ".join(cell.get("address", "").split())
        name = (tree or address)[:64]

        def refused(code: str, text: str = "") -> Not:
            return Not(raw.number, raw.line, name, code, {"text": text[:60]})

        if raw.trouble is not None:
            return Not(raw.number, raw.line, name, raw.trouble.code, raw.trouble.values)
        if not name:
            return refused("past_no_name")
        if not re.fullmatch(r"[0-9]{4}", cell["year"]) or int(cell["year"]) < FIRST_YEAR:
            return refused("past_year", cell["year"])
        if int(cell["year"]) >= self._this_year:
            return refused("past_not_past", cell["year"])
        if not re.fullmatch(r"[0-9]{1,4}", cell["taps"]) or not 1 <= int(cell["taps"]) <= MOST_TAPS:
            return refused("past_taps", cell["taps"])
        volume_ml = _volume_ml(cell["volume"], self._unit)
        if volume_ml is None:
            return refused("past_volume", cell["volume"])
        if volume_ml > MOST_ML:
            return refused("past_too_much", cell["volume"])
        brix = None
        if said := cell.get("brix", "").removesuffix("Brix").strip(" °%"):
            if not re.fullmatch(r"\d{1,2}([.,]\d{1,2})?", said):
                return refused("past_brix", said)
            brix = Decimal(said.replace(",", "."))
            if not 0 < brix <= MOST_BRIX:
                return refused("past_brix", said)
        nth = cell.get("nth", "")
        if nth and not re.fullmatch(r"[0-9]{1,4}", nth):
            return refused("past_nth", nth)
        year, taps, note = int(cell["year"]), int(cell["taps"]), cell.get("note", "").replace("\x00", "")[:200]
        order = int(nth) if nth else None
        return Line(raw.number, raw.line, name, tree, address, order, year, taps, volume_ml, brix, note)


def _volume_ml(text: str, unit: str) -> int | None:
    """Millilitres; a unit in the cell comes before the one of the column. A mark for thousands is not guessed at."""
    match = _NUMBER.match(text)
    if match is None:
        return None
    if said := (match[2] or "").lower():
        unit = "gal" if said.startswith("g") else "mL" if said == "ml" else "L"
    return int((Decimal(match[1].replace(",", ".")) * ML_PER[unit]).quantize(Decimal(1), ROUND_HALF_UP))


def find_trees(lines: Sequence[Line]) -> list[Found | Not]:
    """The tree of each line: by our code or the town's number, else by address and which tree there.

    A few queries however many lines. An entry merged into another stands for the one that stayed.
    """
    by_name: dict[str, set[int]] = defaultdict(set)
    by_address: dict[str, list[Tree]] = defaultdict(list)
    trees: dict[int, Tree] = {}
    names = {line.tree for line in lines if line.tree}
    for part in pieces(names | {name.upper() for name in names}, 400):
        rows = Tree.objects.filter(Q(code__in=part) | (Q(inventory_number__in=part) & ~Q(inventory_number="")))
        for tree in rows.select_related("merged_into"):
            stayed = tree.merged_into or tree
            trees[stayed.pk] = stayed
            for name in (tree.code, tree.inventory_number):
                if name:
                    by_name[name].add(stayed.pk)
    for part in pieces({line.address for line in lines if not line.tree}, 400):
        for tree in Tree.objects.filter(address__in=part, merged_into=None):
            by_address[tree.address].append(tree)
    found: list[Found | Not] = []
    for line in lines:
        if line.tree:
            fits = [trees[pk] for pk in sorted(by_name[line.tree] | by_name[line.tree.upper()])]
        else:
            there = by_address[line.address]
            fits = [tree for tree in there if line.nth is None or tree.nth == line.nth]
        if len(fits) == 1:
            found.append(Found(line, fits[0]))
            continue
        values = {"text": line.name, "codes": ", ".join(tree.code for tree in fits[:5])}
        found.append(Not(line.row, line.line, line.name, "past_two_trees" if fits else "past_no_tree", values))
    return found


class Judged(NamedTuple):
    """What came of some rows."""

    new: list[PastYield]
    same: int
    refused: list[Not]


def judge(run: ImportRun, items: Sequence[Line | Not]) -> Judged:
    """Which rows add something, which stand here already as they are, and which are not taken. Stores nothing."""
    ours = set(Season.objects.values_list("year", flat=True))
    refused = [item for item in items if isinstance(item, Not)]
    lines = []
    for item in items:
        if isinstance(item, Line) and item.year in ours:
            refused.append(Not(item.row, item.line, item.name, "past_own_season", {"text": str(item.year)}))
        elif isinstance(item, Line):
            lines.append(item)
    pairs = find_trees(lines)
    refused += [pair for pair in pairs if isinstance(pair, Not)]
    found = [pair for pair in pairs if isinstance(pair, Found)]
    here: dict[tuple[int, int], PastYield] = {}
    for part in pieces({pair.tree.pk for pair in found}):
        here.update(((one.tree_id, one.year), one) for one in PastYield.objects.filter(tree__in=part))
    new: list[PastYield] = []
    seen: dict[tuple[int, int], int] = {}
    same = 0
    for line, tree in found:
        key, before = (tree.pk, line.year), here.get((tree.pk, line.year))
        one = PastYield(
            tree=tree, year=line.year, taps=line.taps, volume_ml=line.volume_ml, sugar_brix=line.brix,
            note=line.note, run=run, row_number=line.row,
        )  # fmt: skip
        values: dict[str, Any] = {"text": tree.code, "year": str(line.year)}
        first = seen.get(key) or (before.row_number if before and before.run_id == run.pk else None)
        if first:
            refused.append(Not(line.row, line.line, line.name, "past_twice", {**values, "row": first}))
        elif before is None:
            new.append(one)
        elif before.says() == one.says():
            same += 1
        else:
            figures = {
                "theirs": [line.taps, line.volume_ml, str(line.brix or "")],
                "ours": [before.taps, before.volume_ml, str(before.sugar_brix or "")],
            }
            refused.append(Not(line.row, line.line, line.name, "past_conflict", {**values, **figures}))
        seen.setdefault(key, line.row)
    return Judged(new, same, sorted(refused))


class PastWork:
    """A spreadsheet of past years. Raises CannotRead, or ValueError when the columns chosen do not fit it."""

    def __init__(self, run: ImportRun) -> None:
        self._table = open_past(run.path)
        self._reader = Reader(self._table.columns, run.mapping)
        self.look_up = True

    @property
    def read_bytes(self) -> int:
        return int(self._table.read_bytes)

    def items(self) -> Iterator[Line | Not]:
        return map(self._reader.read, self._table.rows())

    def keep(self, run: ImportRun, items: Sequence[Line | Not]) -> Tally:
        new, same, refused = judge(run, items)
        PastYield.objects.bulk_create(new, batch_size=90)
        insert_problems(run.pk, refused)
        reasons = Counter(one.code for one in refused)
        return Tally(taken=len(new), same=same, refused=len(refused), reasons=reasons)

    def finish(self, run: ImportRun) -> None:
        """Years the file does not name stay as they are."""
