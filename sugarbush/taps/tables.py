"""Spouts that are in, and taps to settle, as tables to take away."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from sugarbush.parts.csvfile import Cell
from sugarbush.parts.sheets.columns import Column, found
from sugarbush.taps.trunk import side_words

INCH_MM = Decimal("25.4")


def _height(path: str, units: str) -> Column:
    def read(row: object) -> Cell:
        mm = Decimal(found(row, path))
        return round(mm / INCH_MM, 1) if units == "us" else mm / 10

    return _("height above ground (%(unit)s)") % {"unit": "in" if units == "us" else "cm"}, read


def still_in(units: str) -> list[Column]:
    """Of taps.views.lists.Line."""
    return [
        (_("tree"), "tap.tree.code"),
        (_("address"), "tap.tree.address"),
        (_("group"), "tap.tree.group.name"),
        (_("hole"), "tap.position"),
        (_("side"), "side"),
        _height("tap.height_mm", units),
        (_("drilled at"), "tap.placed_at"),
        (_("by"), "tap.by.display_name"),
        (_("state"), "tap.get_state_display"),
        (_("tree’s state"), "tap.tree.get_shown_state_display"),
        (_("permission until"), "ends"),
        (_("days over"), "days_over"),
        (_("permission taken back"), "taken_back"),
    ]


def to_settle(units: str) -> list[Column]:
    """Of taps."""
    return [
        (_("tree"), "tree.code"),
        (_("address"), "tree.address"),
        (_("group"), "tree.group.name"),
        (_("side"), lambda tap: side_words(tap.aspect_deg)),
        _height("height_mm", units),
        (_("drilled at"), "placed_at"),
        (_("by"), "by.display_name"),
        (_("why it waits"), lambda tap: " ".join(str(one) for one in tap.settle_reasons)),
        (_("note"), "note"),
    ]
