"""Words for the pails that are full first."""

from __future__ import annotations

from django import template

from sugarbush.gathering.filling import Filling, origin_words

register = template.Library()


@register.filter
def run_from(row: Filling) -> str:
    """Whose figure the hours rest on."""
    return origin_words(row)
