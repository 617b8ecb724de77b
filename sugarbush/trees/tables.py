"""The files brought in as a table to take away. The list of trees itself is in trees.listing."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column


def files() -> list[Column]:
    return [
        (_("file"), "file_name"),
        (_("kind"), "get_kind_display"),
        (_("name of the list"), "source"),
        (_("state"), "get_state_display"),
        (_("rows taken"), "taken"),
        (_("rows changed"), "changed"),
        (_("rows the same"), "same"),
        (_("rows not taken"), "refused"),
        (_("brought by"), "started_by.display_name"),
        (_("brought at"), "added_at"),
        (_("SHA-256"), "sha256"),
    ]
