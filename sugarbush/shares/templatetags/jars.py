"""Jars as pages show them: {% jars share.by_size %} says "2 jars of 500 mL and 1 jar of 250 mL"."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from sugarbush.parts.shown import dressed
from sugarbush.shares.terms import jars_words, size_words

register = template.Library()


def _units(context: template.Context) -> str:
    return str(context.get("units") or "metric")


@register.simple_tag(takes_context=True)
def jars(context: template.Context, by_size: Mapping[int | str, int]) -> str:
    """Jars by size in words."""
    return jars_words({int(size): count for size, count in by_size.items()}, _units(context))


@register.simple_tag(takes_context=True)
def jar_size(context: template.Context, size_ml: int) -> str:
    """One size in words."""
    return size_words(size_ml, _units(context))


@register.filter
def number(text: str) -> str:
    """An exact number, kept as text, in the reader's language: "177.4500" is 177.45."""
    plain = format(Decimal(text), "f")
    return dressed(plain.rstrip("0").rstrip(".") if "." in plain else plain)


@register.filter
def in_ml(volume_ml: int) -> SafeString:
    """Whole millilitres, as jars are labelled, for every reader."""
    return format_html('<span class="qty">{}<span class="unit">mL</span></span>', dressed(str(volume_ml)))


@register.filter
def signed_ml(difference_ml: int) -> SafeString:
    """Millilitres over or under, with their sign."""
    sign = "+" if difference_ml > 0 else ""
    return format_html("{}{}\u00a0mL", sign, dressed(str(difference_ml)))


@register.filter
def litres(volume_ml: int) -> str:
    """Litres as a plain exact number, for sums by hand: 3600 is 3.6."""
    return number(str(Decimal(volume_ml).scaleb(-3)))
