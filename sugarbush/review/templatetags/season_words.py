"""Millilitres as the accounts show them, whole and with their unit."""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sugarbush.parts.shown import dressed
from sugarbush.review.sugar import mass_words

register = template.Library()


@register.filter
def ml(volume_ml: int) -> SafeString:
    """3412650 as "3,412,650 mL"."""
    return format_html('<span class="qty">{}<span class="unit">mL</span></span>', dressed(str(volume_ml)))


@register.filter
def places(number: float, count: int = 1) -> str:
    """A plain number with so many decimals, in the reader's language."""
    return dressed(f"{number:.{count}f}")


@register.filter
def sugar_mass(kg: float, units: str) -> SafeString:
    """A mass of sugar with its unit."""
    number, _space, unit = mass_words(kg, units).rpartition(" ")
    return format_html('<span class="qty">{}<span class="unit">{}</span></span>', number, unit)
