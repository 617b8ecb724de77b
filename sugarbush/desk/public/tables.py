"""The rows of each public part: one list, for the page, the table to take along and the JSON alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.desk.public.counting import Body

Row = Sequence[Any]


@dataclass(frozen=True, kw_only=True)
class Table:
    """names: of the columns, the same in every language.  rows: plain numbers, millilitres and degrees."""

    names: tuple[str, ...]
    rows: list[Row]

    def records(self) -> list[dict[str, Any]]:
        """The rows by name."""
        return [dict(zip(self.names, row, strict=True)) for row in self.rows]


AREA_NAMES = ("south_deg", "west_deg", "north_deg", "east_deg", "trees_from", "trees_to")


def table(part: str, body: Body) -> Table:
    """The rows of "totals", "weeks" or "areas"."""
    names: tuple[str, ...]
    if part == "totals":
        names = ("trees", "taps", "sap_ml", "syrup_ml", "people")
        found = body.get("totals")
        return Table(names=names, rows=[[found[name] for name in names]] if found else [])
    if part == "weeks":
        names = ("first", "last", "sap_ml")
        return Table(names=names, rows=[[row[name] for name in names] for row in body.get("weeks", ())])
    keys = ("south", "west", "north", "east", "trees_from", "trees_to")
    return Table(names=AREA_NAMES, rows=[[row[key] for key in keys] for row in body.get("areas", ())])


def band_words(row: dict[str, Any]) -> str:
    """The trees of an area in words."""
    if row["trees_to"] is None:
        return _("more than %(n)d") % {"n": row["trees_from"] - 1}
    return _("%(low)d to %(high)d") % {"low": row["trees_from"], "high": row["trees_to"]}
