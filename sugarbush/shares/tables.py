"""The hand-out list, the litres behind a share and a trial as tables to take away."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column, volume


def by_size(counts: dict[Any, int]) -> str:
    sizes = sorted(((int(size), n) for size, n in counts.items()), reverse=True)
    return ", ".join(f"{n} × {size} mL" for size, n in sizes if n)


def hand_out(units: str) -> list[Column]:
    """Of shares with something to give."""
    return [
        (_("name"), "name"),
        (_("kind"), "get_party_display"),
        (_("jars"), lambda share: by_size(share.jars)),
        (_("number of jars"), lambda share: sum(share.jars.values())),
        *volume(_("syrup"), "given_ml", units),
        (_("state"), "get_taken_display"),
        (_("when"), "taken_at"),
        (_("by"), "taken_by.display_name"),
        (_("note"), "taken_note"),
    ]


def litres(units: str) -> list[Column]:
    """Of the collections behind a share, as they were frozen with it."""
    return [
        (_("tree"), "entry.tree.code"),
        (_("when"), "entry.happened_at"),
        *volume(_("counts"), "ml", units),
        (_("sugar (°Brix)"), "brix"),
        (_("sugar from"), "source"),
        (_("litres × °Brix"), "weight"),
    ]


def trial(units: str) -> list[Column]:
    """Of what each party would get."""
    return [
        (_("name"), "name"),
        (_("kind"), "party"),
        *volume(_("share"), "entitled_ml", units),
        (_("jars"), lambda one: by_size(one.jars)),
        *volume(_("in jars"), "given_ml", units),
    ]
