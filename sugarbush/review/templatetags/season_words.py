"""Millilitres as the accounts show them, whole and with their unit."""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sugarbush.parts.shown import dressed
from sugarbush.review.sugar import mass_words
from sugarbush.shares.terms import size_words

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


@register.filter
def jar_size(size_ml: int, units: str) -> str:
    """A jar's size as it stands on the shelf."""
    return size_words(size_ml, units)
