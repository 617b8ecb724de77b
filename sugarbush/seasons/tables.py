"""The seasons as a table to take away."""

from __future__ import annotations

from django.utils.translation import gettext as _

from sugarbush.parts.sheets.columns import Column


def seasons() -> list[Column]:
    return [
        (_("year"), "year"),
        (_("state"), "get_state_display"),
        (_("tapping from"), "tapping_from"),
        (_("taps out by"), "tapping_to"),
        (_("tap guideline"), "guideline_name"),
        (_("closed at"), "closed_at"),
    ]
