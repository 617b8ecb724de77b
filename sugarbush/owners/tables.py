"""Owners as tables to take away. None tells how to reach anybody."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column


def owners() -> list[Column]:
    return [
        (_("owner"), "name"),
        (_("kind"), "get_kind_display"),
        (_("group"), "group.name"),
        (_("trees"), "tree_count"),
        (_("note"), "note"),
    ]


def owned() -> list[Column]:
    """Of one owner's trees."""
    return [
        (_("tree"), "tree.code"),
        (_("address"), "tree.address"),
        (_("state"), "tree.get_shown_state_display"),
        (_("how we know"), "evidence"),
        (_("written by"), "recorded_by.display_name"),
        (_("written at"), "recorded_at"),
    ]


def on_slip() -> list[Column]:
    """Of the trees on one slip."""
    return [
        (_("tree"), "code"),
        (_("address"), "address"),
        (_("species"), "species.common"),
        (_("group"), "group.name"),
        (_("state"), "get_shown_state_display"),
    ]
