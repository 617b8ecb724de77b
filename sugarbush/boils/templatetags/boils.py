"""How a boiling day's hours, fuel and pan are said on a page."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import template
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sugarbush.boils import plan
from sugarbush.boils.plan import FuelNeed, Rate
from sugarbush.parts.shown import number_and_unit

register = template.Library()


@register.filter
def time_words(hours: float) -> str:
    """Hours to five minutes: "12 h 15 min"."""
    return plan.time_words(hours)


@register.simple_tag(takes_context=True)
def fuel(context: template.Context, need: FuelNeed) -> SafeString:
    """An amount of fuel in the reader's unit."""
    amount, _space, unit = plan.fuel_words(need, str(context.get("units"))).partition("\u00a0")
    return format_html('<span class="qty">{}<span class="unit">{}</span></span>', amount, unit)


@register.simple_tag(takes_context=True)
def pan_area(context: template.Context, area_cm2: int) -> str:
    return plan.area_words(area_cm2, str(context.get("units")))


@register.simple_tag(takes_context=True)
def pan_rate(context: template.Context, rate: Rate) -> str:
    return plan.rate_words(rate.l_h_m2, str(context.get("units")))


@register.simple_tag(takes_context=True)
def distance(context: template.Context, clear_mm: int) -> str:
    """A distance on the ground in metres or feet."""
    if context.get("units") == "us":
        return f"{clear_mm / 304.8:.0f}\u00a0ft"
    return f"{clear_mm / 1000:.1f}".removesuffix(".0") + "\u00a0m"


@register.simple_tag(takes_context=True)
def dial(context: template.Context, kind: str, value: Any) -> SafeString:
    """A number to be read through steam, with its unit smaller beside it."""
    text, unit = number_and_unit(kind, value if isinstance(value, int) else Decimal(str(value)), context.get("units"))
    return format_html('<span class="qty">{}</span><span class="unit"> {}</span>', text, unit)


@register.simple_tag(takes_context=True)
def degrees(context: template.Context, value: float) -> SafeString:
    """A computed temperature, whole before it is rounded in the reader's unit."""
    text, unit = number_and_unit("temperature", Decimal(str(round(value, 3))), context.get("units"))
    return format_html('<span class="qty">{}<span class="unit">{}</span></span>', text, unit)


@register.filter
def day_words(iso: str) -> str:
    """A day kept as text, as people say it."""
    return date_format(dt.date.fromisoformat(iso), "l j F")
