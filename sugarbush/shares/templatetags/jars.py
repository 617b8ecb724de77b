"""Jars as pages show them: {% jars share.by_size %} says "2 jars of 500 mL and 1 jar of 250 mL"."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django import template

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
def at(mapping: Mapping[object, object], key: object) -> object:
    """What stands under a key; nothing where there is none."""
    return mapping.get(key, "")


@register.filter
def number(text: str) -> str:
    """An exact number, kept as text, in the reader's language: "177.4500" is 177.45."""
    plain = format(Decimal(text), "f")
    return dressed(plain.rstrip("0").rstrip(".") if "." in plain else plain)


@register.filter
def hundredths(value: int) -> Decimal:
    """A reading kept in hundredths."""
    return Decimal(value).scaleb(-2)
