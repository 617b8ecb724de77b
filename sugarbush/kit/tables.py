"""Pails, drums and depots as tables to take away."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column, volume


def containers(units: str, *, sees_people: bool) -> list[Column]:
    columns: list[Column] = [
        (_("code"), "code"),
        *volume(_("holds"), "capacity_ml", units),
        (_("made of"), "material"),
        (_("for food?"), "get_food_safe_display"),
    ]
    return [*columns, (_("who has it"), "held_by.display_name")] if sees_people else columns


def depots() -> list[Column]:
    return [
        (_("depot"), "name"),
        (_("place"), "place"),
        (_("open"), "hours"),
        (_("who has the key"), "keyholder"),
        (_("groups"), lambda depot: ", ".join(group.name for group in depot.groups.all())),
    ]
