"""Whose rows a reader may open: litres by tree within their groups, names within their care, their own always."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from sugarbush.review.counting import Cell, Sums, TreeFacts
from sugarbush.review.totals import Row
from sugarbush.volunteers import access
from sugarbush.volunteers.access import Scope
from sugarbush.volunteers.models import Person


@dataclass(frozen=True, slots=True)
class Reach:
    """What one reader may open."""

    viewer_id: int
    litres: Scope
    names: Scope

    @property
    def all_trees(self) -> bool:
        return self.litres.everything

    @property
    def all_people(self) -> bool:
        return self.litres.everything and self.names.everything

    @property
    def only_own(self) -> bool:
        """Whether the reader sees no name but their own."""
        return not self.names.everything and not self.names.group_ids

    def opens_tree(self, cell: Cell) -> bool:
        return self.litres.covers(cell.group_id)

    def opens_person(self, cell: Cell) -> bool:
        own = cell.person_id == self.viewer_id
        return own or (self.litres.covers(cell.group_id) and self.names.covers(cell.group_id))

    def entries(self) -> Q:
        """The same as `opens_person`, for rows of entries."""
        if self.all_people:
            return Q()  # an empty condition beside "or" would drop out, not let everything through
        return Q(person=self.viewer_id) | (self.litres.filter("group") & self.names.filter("group"))


def of(viewer: Person) -> Reach:
    """The reach of this reader."""
    return Reach(viewer.pk, access.scope(viewer, "collection.see"), access.scope(viewer, "people.see"))


def tree_rows(cells: Iterable[Cell], trees: dict[int, TreeFacts], reach: Reach) -> list[Row]:
    """One row for each tree the reader may open, the fullest first; a tree with a hole and no sap has one too."""
    sums: dict[int, Sums] = defaultdict(Sums)
    for cell in cells:
        if cell.tree_id is not None and reach.opens_tree(cell):
            sums[cell.tree_id].add(cell.sums)
    if reach.all_trees:
        for pk in trees:
            sums.setdefault(pk, Sums())
    rows = [
        Row(name=tree.code, key=pk, note=tree.address, taps=tree.taps, sums=found)
        for pk, found in sums.items()
        if (tree := trees.get(pk)) is not None and (tree.taps or found != Sums())
    ]
    return sorted(rows, key=lambda row: (-row.sums.out_ml, row.name))


def person_rows(cells: Iterable[Cell], reach: Reach) -> list[Row]:
    """One row for each person whose name the reader may see, the fullest first; one more query for the names."""
    sums: dict[int, Sums] = defaultdict(Sums)
    for cell in cells:
        if cell.person_id is not None and reach.opens_person(cell):
            sums[cell.person_id].add(cell.sums)
    names = dict(Person.objects.filter(pk__in=sums).values_list("pk", "display_name"))
    rows = [Row(name=names.get(pk, ""), key=pk, sums=found) for pk, found in sums.items() if found != Sums()]
    return sorted(rows, key=lambda row: (-row.sums.out_ml, row.name))


def together(rows: Iterable[Row]) -> Sums:
    """The rows added up, as the table's last line shows them."""
    whole = Sums()
    for row in rows:
        whole.add(row.sums)
    return whole
