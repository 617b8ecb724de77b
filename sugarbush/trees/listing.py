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
from sugarbush.parts.places import Spot
from sugarbush.trees.models import Land, Shown, SpeciesSure, Tree

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


_COLUMNS = (
    "code",
    "shown_state",
    "needs_look",
    "address",
    "side",
    "nth",
    "longitude",
    "latitude",
    "species__common",
    "species__botanical",
    "species_sure",
    "inventory_species__botanical",
    "diameter_um",
    "size_as_given",
    "stems",
    "land",
    "group__name",
    "inventory_number",
)


def csv_rows(trees: QuerySet[Tree], unit: str) -> Iterator[list[Cell]]:
    """One row a tree, read in pieces so that memory stays flat. Plain values: models would take seven times as long."""
    words = [
        (_COLUMNS.index(name), {value: str(label) for value, label in choices})
        for name, choices in (
            ("shown_state", Shown.choices),
            ("species_sure", SpeciesSure.choices),
            ("land", Land.choices),
        )
    ]
    size = _COLUMNS.index("diameter_um")
    for values in trees.order_by("code").values_list(*_COLUMNS).iterator(chunk_size=2000):
        row: list[Cell] = list(values)
        for column, labels in words:
            row[column] = labels[values[column]]
        if values[size] is not None:
            row[size] = round(from_um(values[size], unit), 2)
        yield row


_ON_A_MAP = (
    "code",
    "longitude",
    "latitude",
    "address",
    "shown_state",
    "species__common",
    "species__botanical",
    "diameter_um",
    "group__name",
    "inventory_number",
)


def spots(trees: QuerySet[Tree]) -> Iterator[Spot]:
    """The same trees as places on a map, read in pieces. Numbers carry their unit in their name."""
    states = {value: str(label) for value, label in Shown.choices}
    rows = trees.order_by("code").values_list(*_ON_A_MAP).iterator(chunk_size=2000)
    for code, longitude, latitude, address, state, common, botanical, size, group, number in rows:
        words = [words for words in (address, common, states[state]) if words]
        yield Spot(
            key=code,
            longitude_deg=longitude,
            latitude_deg=latitude,
            name=code,
            words=", ".join(words),
            more={
                "address": address,
                "state": states[state],
                "species": common,
                "botanical": botanical,
                "trunk_across_cm": None if size is None else round(from_um(size, "cm"), 2),
                "group": group,
                "number_in_town_list": number,
            },
        )
