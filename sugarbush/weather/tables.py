"""The days of weather as a table to take away."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from sugarbush.core.weather import CROSSES_ZERO
from sugarbush.parts.sheets.columns import Column
from sugarbush.weather.models import WeatherDay


def days(units: str) -> list[Column]:
    def read(name: str) -> Column:
        head = {"low_c": _("coldest"), "high_c": _("warmest")}[name]
        if units == "us":
            return f"{head} (°F)", lambda day: round(Decimal(getattr(day, name)) * 9 / 5 + 32, 1)
        return f"{head} (°C)", name

    def passes(day: WeatherDay) -> bool:
        return CROSSES_ZERO.counts(low_c=float(day.low_c), high_c=float(day.high_c))

    return [
        (_("day"), "day"),
        read("low_c"),
        read("high_c"),
        (_("passes freezing"), passes),
        (_("from"), "get_source_display"),
        (_("written by"), "entered_by.display_name"),
        (_("note"), "note"),
    ]
