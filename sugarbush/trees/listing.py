"""The list of trees, a page at a time, and the same list as a table to take away."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext as _

from sugarbush.core.units import from_um
from sugarbush.parts.csvfile import Cell
from sugarbush.parts.paging import asked_number
from sugarbush.trees.models import Tree

PER_PAGE = 50
COUNTED = 10_000


class CappedPaginator(Paginator[Tree]):
    """Counts no further than ten thousand: on 700,000 trees the rest of the count would cost more than the page."""

    @cached_property
    def counted(self) -> int:
        rows: Any = self.object_list
        return int(rows.order_by()[: COUNTED + 1].count())

    @cached_property
    def count(self) -> int:
        return min(self.counted, COUNTED)

    @property
    def has_more(self) -> bool:
        """Whether there are trees past the last page; narrowing the list brings them up."""
        return self.counted > COUNTED


def page_of_trees(trees: QuerySet[Tree], request: HttpRequest, *, sort: str) -> Page[Tree]:
    """One page of the list in the order asked for."""
    order = ("address", "pk") if sort == "address" else ("code",)
    paginator = CappedPaginator(trees.select_related("species", "group").order_by(*order), PER_PAGE)
    return paginator.page(min(max(1, asked_number(request)), paginator.num_pages))


def csv_header(unit: str) -> list[str]:
    return [
        _("tag"),
        _("state"),
        _("needs a look"),
        _("address"),
        _("side"),
        _("which tree"),
        _("longitude (°)"),
        _("latitude (°)"),
        _("species"),
        _("botanical name"),
        _("how sure"),
        _("town’s list says"),
        _("trunk across (%(unit)s)") % {"unit": unit},
        _("as given"),
        _("stems"),
        _("whose land"),
        _("group"),
        _("number in the town’s list"),
    ]


def csv_rows(trees: QuerySet[Tree], unit: str) -> Iterator[list[Cell]]:
    """One row a tree, read in pieces so that memory stays flat."""
    rows = trees.select_related("species", "inventory_species", "group").order_by("code")
    for tree in rows.iterator(chunk_size=1000):
        yield [
            tree.code,
            tree.shown.label,
            tree.needs_look,
            tree.address,
            tree.side,
            tree.nth,
            tree.longitude,
            tree.latitude,
            tree.species.common if tree.species else "",
            tree.species.botanical if tree.species else "",
            tree.get_species_sure_display(),
            tree.inventory_species.botanical if tree.inventory_species else "",
            None if tree.diameter_um is None else round(from_um(tree.diameter_um, unit), 2),
            tree.size_as_given,
            tree.stems,
            tree.get_land_display(),
            tree.group.name if tree.group else "",
            tree.inventory_number,
        ]
