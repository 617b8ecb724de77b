"""Lots, jars given and recalls as tables to take away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.utils.translation import gettext as _

from sugarbush.lots import jars
from sugarbush.lots.models import Lot
from sugarbush.parts.sheets.columns import Column, volume
from sugarbush.volunteers.models import Person


def lots(units: str) -> list[Column]:
    """Of rows made by `lot_rows`."""
    return [
        (_("lot"), "lot.code"),
        (_("state"), "word"),
        (_("packed at"), "lot.packed_at"),
        (_("packed by"), "lot.packed_by.display_name"),
        (_("released at"), "lot.released_at"),
        (_("released by"), "lot.released_by.display_name"),
        *volume(_("syrup packed"), "lot.drawn_ml", units),
        (_("density (°Brix)"), "lot.syrup_brix"),
        (_("filled at (°C)"), "lot.fill_temperature_c"),
        (_("colour"), "lot.get_colour_display"),
        (_("jars here"), lambda row: sum(row["here"].values())),
        (_("jars here, by size"), lambda row: _by_size(row["here"])),
        *volume(_("syrup here"), lambda row: sum(size * n for size, n in row["here"].items()), units),
        (_("jars out"), "out"),
    ]


def _by_size(counts: dict[int, int]) -> str:
    return ", ".join(f"{n} × {size} mL" for size, n in sorted(counts.items(), reverse=True) if n)


def lot_rows(some: Sequence[Lot], word: Any) -> Iterator[dict[str, Any]]:
    """Lots with their jars; two queries for all of these."""
    stand, gone = jars.whole(some), jars.went_out(some)
    for lot in some:
        yield {"lot": lot, "here": stand[lot.pk], "out": gone.get(lot.pk, 0), "word": word(lot)}


def issues(reader: Person) -> list[Column]:
    """Of jars given of one lot; who has them in the words this reader may have."""
    from sugarbush.lots.tracing import holder_words

    return [
        (_("who"), lambda issue: holder_words(issue, reader)),
        (_("jars"), "count"),
        (_("jar size (mL)"), "size_ml"),
        (_("as what"), "purpose"),
        (_("when"), "happened_at"),
        (_("came back"), lambda issue: issue.came_back or 0),
    ]


def recalls() -> list[Column]:
    return [
        (_("recall"), str),
        (_("why"), "reason"),
        (_("lots"), "n_lots"),
        (_("called at"), "opened_at"),
        (_("called by"), "opened_by.display_name"),
        (_("ended at"), "closed_at"),
        (_("how it ended"), "outcome"),
    ]


def holders(reader: Person) -> list[Column]:
    """Of those to ring. Not how to reach them: that is looked up one by one, and each look is written down."""
    from sugarbush.lots.tracing import holder_words

    return [
        (_("who"), lambda one: holder_words(one.issue, reader)),
        (_("lot"), "issue.lot.code"),
        (_("jars out"), "out"),
        (_("jar size (mL)"), "issue.size_ml"),
        (_("since"), "issue.happened_at"),
        (_("told"), "is_reached"),
        (_("tries"), lambda one: len(one.calls)),
        (_("last said"), lambda one: one.calls[-1].note if one.calls else ""),
    ]


def sums() -> list[Column]:
    """Of the trees, deliveries, tanks or batches within a lot."""
    return [
        (_("what"), "label"),
        (_("more"), "detail"),
        (_("mL of the lot"), lambda row: round(row.ml, 3)),
        (_("share of the lot"), lambda row: round(row.share, 9)),
        (_("entries"), "count"),
    ]
